// The review by touch and key. Faults and what they took are set on the form's own lists, which are what is sent;
// zoom, pan, grey window, invert, turn and mirror change how the picture is drawn, and are kept by themselves.
//
//   .review[data-before][data-after]   the whole; single keys work only while the focus is in it, and can be turned off
//   .picture, .looking, .verdict-form

import { send } from "./asking.js";
import { say } from "./announce.js";
import { startFindings } from "./review-findings.js";
import { startPicture } from "./review-picture.js";

const KEYS = "fullcount-single-keys";

export function start(review) {
  const picture = startPicture(review, keepView(review));
  const form = review.querySelector(".verdict-form");
  const fill = form ? startFaults(form) : () => {};
  startKeys(review, picture, startFindings(review, fill));
  // The person came here to review: keys work at once, unless a mistake has taken the focus.
  if (document.activeElement === document.body && !document.querySelector(".mend")) {
    review.querySelector(".lightbox").focus({ preventScroll: true });
  }
}

// Faults are chips. A tap on a target says that it is not shown, for the fault that is active or the one chosen next;
// a fault chosen with no target waiting takes all that it takes by itself.
function startFaults(form) {
  form.classList.add("verdict-lively");
  const chips = [...form.querySelectorAll("input[name=fault]")];
  const promises = [...form.querySelectorAll(".promise")];
  let active = chips.filter((chip) => chip.checked).at(-1) ?? null;

  for (const promise of promises) {
    const select = promise.querySelector("select");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "promise-button";
    const name = promise.querySelector(".only-heard").textContent;
    const text = promise.querySelector("label [aria-hidden]").textContent;
    const word = document.createElement("span");
    word.className = "promise-word";
    button.append(text, word);
    const also = promise.querySelector(".promise-also") ? "shown, also elsewhere" : "shown";
    promise.prepend(button);
    promise.show = () => {
      const code = select.value;
      const waits = promise.classList.contains("promise-why");
      promise.classList.toggle("promise-lost", Boolean(code) || waits);
      word.textContent = code ? select.selectedOptions[0].textContent : waits ? "not shown: why?" : also;
      button.setAttribute("aria-label", `${name}: ${word.textContent}`);
      button.setAttribute("aria-pressed", String(Boolean(code) || waits));
    };
    button.addEventListener("click", () => {
      if (promise.classList.contains("promise-why")) promise.classList.remove("promise-why");
      else if (select.value) select.value = "";
      else if (active) select.value = active.value;
      else promise.classList.add("promise-why");
      settle();
    });
    promise.show();
  }
  for (const chip of chips) {
    chip.addEventListener("change", () => {
      const kinds = chip.dataset.takes.split(" ");
      const asked = promises.filter((promise) => promise.classList.contains("promise-why"));
      for (const promise of promises) {
        const select = promise.querySelector("select");
        // Targets that were tapped first get the fault; where none was, all that it takes by itself.
        const meant = asked.length ? asked.includes(promise) : kinds.includes(promise.dataset.kind);
        if (chip.checked && !select.value && meant) select.value = chip.value;
        promise.classList.remove("promise-why");
        if (!chip.checked && select.value === chip.value) select.value = "";
      }
      active = chip.checked ? chip : (chips.filter((each) => each.checked).at(-1) ?? null);
      settle(chip);
    });
  }
  function settle(changed) {
    for (const promise of promises) promise.show();
    const asking = promises.some((promise) => promise.classList.contains("promise-why"));
    form.querySelector(".faults").classList.toggle("faults-wanted", asking);
    form.querySelector(".review-some").disabled = asking;
    for (const chip of chips) {
      const used = promises.some((promise) => promise.querySelector("select").value === chip.value);
      if (chip !== changed) chip.checked = used;
      chip.closest(".chip").classList.toggle("chip-active", chip === active && chip.checked);
    }
    const lost = promises.filter((promise) => promise.querySelector("select").value).length;
    form.querySelector(".review-some").classList.toggle("button-primary", lost > 0);
    form.querySelector(".review-all").classList.toggle("button-primary", lost === 0);
    if (asking) say("Not shown. Choose why.");
    else say(lost ? `${lost} not shown` : "all shown");
  }
  // Marks targets as lost to a fault: those that are shown (from ""), or lost to another (from its code).
  return (named, from, to) => {
    for (const target of named) {
      const select = form.querySelector(`select[name="code:${target}"]`);
      if (select && select.value === from) select.value = to;
    }
    active = chips.find((chip) => chip.value === to) ?? active;
    settle();
  };
}

// Keeps the view a moment after the last change; nothing waits for it.
function keepView(review) {
  const form = review.querySelector(".looking");
  let timer = 0;
  form.addEventListener("submit", (event) => event.preventDefault());
  const fields = new FormData(form);
  let kept = Object.fromEntries(
    ["window_low", "window_high", "quarter_turns", "mirrored", "inverted"].map((name) => [name, fields.get(name) ?? ""]),
  );
  return (view) => {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const now = {
        window_low: String(view.low),
        window_high: String(view.high),
        quarter_turns: String(view.turns),
        mirrored: view.mirrored ? "yes" : "",
        inverted: view.inverted ? "yes" : "",
      };
      // Only what was changed here: what a colleague set meanwhile stays.
      const changed = Object.entries(now).filter(([name, value]) => kept[name] !== value);
      const body = new URLSearchParams([["some", "yes"], ...changed]);
      kept = now;
      try {
        await send("POST", form.getAttribute("action"), body);
      } catch (refused) {
        say(refused.message);
      }
    }, 500);
  };
}

function startKeys(review, picture, findings) {
  const box = review.querySelector("#keys-on");
  box.closest("[data-keys]").hidden = false;
  box.checked = localStorage.getItem(KEYS) !== "off";
  box.addEventListener("change", () => localStorage.setItem(KEYS, box.checked ? "on" : "off"));
  const press = (selector) => review.querySelector(selector)?.click();
  const deeds = {
    a: () => press(".review-all"),
    s: () => press(".review-some"),
    n: () => review.dataset.after && press(`a[href="${review.dataset.after}"].button`),
    p: () => review.dataset.before && press(`a[href="${review.dataset.before}"].button`),
    i: () => picture.invert(),
    m: () => picture.mirror(),
    t: () => picture.turn(),
    "+": () => picture.zoom(1.25),
    "=": () => picture.zoom(1.25),
    "-": () => picture.zoom(0.8),
    0: () => picture.reset(),
    ...findings,
  };
  review.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = { ArrowLeft: [1, 0], ArrowRight: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (arrow && event.target.matches(".lightbox")) {
      event.preventDefault();
      picture.move(arrow[0] * 0.12, arrow[1] * 0.12);
      return;
    }
    if (!box.checked || event.target.matches("select, input:not([type=checkbox]), textarea")) return;
    const deed = deeds[event.key.toLowerCase()];
    if (!deed) return;
    event.preventDefault();
    deed();
  });
}
