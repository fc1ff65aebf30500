// Large keys for a PIN, for gloved hands: <form data-module="keypad"> with a field [data-pin] and a place [data-keys].
// Without this module the field is typed into as any other.

import { say } from "./announce.js";

const KEYS = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "Clear", "0", "Undo"];

export function start(form) {
  const field = form.querySelector("[data-pin]");
  const place = form.querySelector("[data-keys]");
  for (const key of KEYS) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = key;
    if (key === "Clear") button.setAttribute("aria-label", "Clear the PIN");
    if (key === "Undo") button.setAttribute("aria-label", "Undo the last digit");
    button.classList.toggle("keypad-word", key.length > 1);
    button.addEventListener("click", () => {
      if (key === "Clear") field.value = "";
      else if (key === "Undo") field.value = field.value.slice(0, -1);
      else if (field.value.length < field.maxLength) field.value += key;
      // Said without the digit: somebody may listen.
      say(`${field.value.length} typed`);
    });
    place.append(button);
  }
  place.hidden = false;
  // The keys on the page stand in for the machine's own on a screen that is touched.
  if (matchMedia("(pointer: coarse)").matches) field.inputMode = "none";
  for (const person of form.querySelectorAll("input[name=person]")) {
    person.addEventListener("change", () => {
      field.value = "";
    });
  }
}
