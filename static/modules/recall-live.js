// Shows who is calling whom without loading the page again: asks for the lines every few seconds while they are seen.
//
//   [data-module="recall-live"][data-fragment]   the lines; without it the page is right as it was loaded

import { fragment } from "./asking.js";
import { say } from "./announce.js";

const EVERY_MS = 6000;

export function start(list) {
  let shown = "";
  let asking = false;
  const look = async () => {
    if (document.hidden || asking) return;
    asking = true;
    try {
      const html = await fragment(list.dataset.fragment);
      if (shown && html !== shown) put(list, html);
      shown = html;
    } catch {
      // The next time will do; what is shown stays.
    } finally {
      asking = false;
    }
  };
  look();
  setInterval(look, EVERY_MS);
}

// Focus stays on the same link or button, so that a keyboard never loses its place.
function put(list, html) {
  const before = document.activeElement;
  const inside = list.contains(before);
  const id = inside ? before.id : "";
  const label = (inside && before.getAttribute("aria-label")) || "";
  list.innerHTML = html;
  if (inside) {
    const same = (id && document.getElementById(id)) || [...list.querySelectorAll("[aria-label]")].find((each) => each.getAttribute("aria-label") === label);
    (same || list.querySelector("a, button"))?.focus();
  }
  say("The list has changed.");
}
