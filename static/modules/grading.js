// The second reading by key: a grade's own letter or number gives it, S leaves the image for later. Keys can be
// turned off; the choice is shared with the review.

const KEYS = "fullcount-single-keys";

export function start(reading) {
  const choice = reading.querySelector("[data-keys]");
  const box = choice.querySelector("input");
  choice.hidden = false;
  box.checked = localStorage.getItem(KEYS) !== "off";
  box.addEventListener("change", () => localStorage.setItem(KEYS, box.checked ? "on" : "off"));
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || !box.checked) return;
    if (event.target.matches("input, select, textarea")) return;
    const key = event.key.toLowerCase();
    const deed = [...reading.querySelectorAll("[data-key]")].find((each) => each.dataset.key === key);
    if (!deed) return;
    event.preventDefault();
    deed.click();
  });
}
