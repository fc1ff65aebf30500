// data-module="ordering" on the form of an exposure order: buttons that move a view up or down the list.
// Each list item holds one select; moving changes which value stands where, so what is sent needs no script.

import { say } from "./announce.js";

export function start(form) {
  const items = [...form.querySelectorAll(".order > li")];
  const selects = items.map((item) => item.querySelector("select"));

  items.forEach((item, at) => {
    if (at > 0) item.append(mover("↑", "earlier", at, at - 1));
    if (at < items.length - 1) item.append(mover("↓", "later", at, at + 1));
  });

  function mover(sign, words, from, to) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button button-quiet";
    button.textContent = sign;
    button.setAttribute("aria-label", `Move view ${from + 1} ${words}`);
    button.addEventListener("click", () => {
      const moved = selects[from].selectedOptions[0].textContent.trim();
      [selects[from].value, selects[to].value] = [selects[to].value, selects[from].value];
      // Focus goes with the view that moved, to the button of the same direction there.
      const same = [...items[to].querySelectorAll("button")].find((each) => each.textContent === sign);
      (same || items[to].querySelector("button")).focus();
      say(`${moved} is now view ${to + 1}`);
    });
    return button;
  }
}
