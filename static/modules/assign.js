// The proposal by hand: drag an image to a slot, or tap it and then the slot; the keyboard does the same with Enter.
// The lists below are what is sent; this only sets them and moves the pictures. An occupied slot changes places.

import { say } from "./announce.js";

export function start(form) {
  form.classList.add("assign-lively");
  form.querySelector(".assign-list").open = false;
  form.querySelector("[data-plain]").hidden = true;
  const places = [...form.querySelectorAll(".place")];
  const pieces = [...form.querySelectorAll(".piece")];
  let held = null;

  for (const piece of pieces) {
    piece.setAttribute("role", "button");
    piece.tabIndex = 0;
    piece.draggable = true;
    piece.setAttribute("aria-pressed", "false");
    piece.addEventListener("dragstart", (event) => {
      hold(piece);
      event.dataTransfer.setData("text/plain", piece.dataset.image);
      event.dataTransfer.effectAllowed = "move";
    });
    piece.addEventListener("click", (event) => {
      event.stopPropagation();
      if (held && held !== piece && piece.closest(".place").dataset.slot) put(piece.closest(".place"));
      else hold(held === piece ? null : piece);
    });
    piece.addEventListener("keydown", (event) => {
      if (event.key === "Escape") hold(null);
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      piece.click();
    });
  }
  for (const place of places) {
    place.addEventListener("dragover", (event) => {
      if (!held) return;
      event.preventDefault();
      place.classList.add("place-over");
    });
    place.addEventListener("dragleave", () => place.classList.remove("place-over"));
    place.addEventListener("drop", (event) => {
      event.preventDefault();
      place.classList.remove("place-over");
      if (held) put(place);
    });
    place.addEventListener("click", () => held && put(place));
    place.addEventListener("keydown", (event) => {
      if (event.target !== place || (event.key !== "Enter" && event.key !== " ")) return;
      event.preventDefault();
      if (held) put(place);
    });
  }
  form.addEventListener("change", (event) => {
    const name = event.target.name ?? "";
    if (!name.startsWith("slot:")) return;
    const piece = pieces.find((each) => each.dataset.image === name.slice(5));
    const place = places.find((each) => each.dataset.slot === event.target.value);
    if (piece && place) place.append(piece);
    check();
  });
  label();

  function hold(piece) {
    held?.setAttribute("aria-pressed", "false");
    held = piece;
    held?.setAttribute("aria-pressed", "true");
    form.classList.toggle("assign-holding", Boolean(held));
    for (const place of places) {
      // Slots can be reached by Tab only while an image is held.
      if (held) place.tabIndex = 0;
      else place.removeAttribute("tabindex");
      place.setAttribute("role", held ? "button" : "group");
      place.setAttribute("aria-label", held ? `Put it here: ${place.dataset.title}` : place.dataset.title);
    }
    if (held) say(`Image ${held.dataset.position} held. Choose its slot.`);
  }

  function put(place) {
    const piece = held;
    const from = piece.closest(".place");
    hold(null);
    if (from === place) return;
    const sitting = place.dataset.slot ? place.querySelector(".piece") : null;
    place.append(piece);
    choose(piece, place);
    if (sitting) {
      from.append(sitting);
      choose(sitting, from);
    }
    check();
    piece.focus();
    say(`Image ${piece.dataset.position} in ${place.dataset.title}.`);
  }

  function choose(piece, place) {
    form.querySelector(`select[name="slot:${piece.dataset.image}"]`).value = place.dataset.slot;
  }

  function label() {
    for (const piece of pieces) {
      piece.setAttribute("aria-label", `Image ${piece.dataset.position}, in ${piece.closest(".place").dataset.title}`);
    }
    hold(null);
  }

  // Says at once where an image's shape contradicts the receptor; the server says it again when it keeps.
  function check() {
    const box = form.querySelector(".assign-warnings");
    const list = box.querySelector("ul");
    list.replaceChildren();
    for (const piece of pieces) {
      const place = piece.closest(".place");
      const wanted = place.dataset.orientation;
      const wrong = place.dataset.slot && piece.dataset.lies !== "square" && piece.dataset.lies !== wanted;
      piece.classList.toggle("piece-wrong", Boolean(wrong));
      if (!wrong) continue;
      const item = document.createElement("li");
      const [lies, stands] = wanted === "portrait" ? ["lies across", "stands upright"] : ["stands upright", "lies across"];
      item.textContent = `Image ${piece.dataset.position}: This image ${lies}, but the receptor ${stands} in ${place.dataset.title}. Check the slot, or turn the image.`;
      list.append(item);
    }
    box.hidden = !list.children.length;
    label();
  }
}
