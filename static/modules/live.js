// Shows what colleagues did meanwhile: follows a stream of version numbers, or asks for the version now and then.
// Nothing that somebody is typing, or has ticked, is ever overwritten: then a notice offers to show the new state.
//
//   [data-module~="live"][data-live]   address of the stream; the part of the page that is exchanged (it has an id)
//   [data-version]                     on it or within: the version that the part shows; without one, lines are compared
//   [data-fragment]                    address of the part alone; without one it is taken from the whole page
//   [data-live-asks]                   the part is never exchanged unasked
//   [data-live-image], .live-people    an image that the part is about, and where it says who else has it before them

import { fragment, read } from "./asking.js";
import { say } from "./announce.js";
import { refresh } from "./chairside.js";
import { startWithin } from "./start.js";

const OPENS_AFTER_MS = 2000; // A page that is left at once needs no stream.
const ASKS_EVERY_MS = 6000;
const SETTLES_MS = 1500; // One's own action also changes the version; its answer comes within this time.
const MOST_FAILURES = 3;

export function start(part) {
  let source = null;
  let asking = 0;
  let timer = 0;
  let failures = 0;
  let over = false;
  let lines = null;
  let typed = false;
  let image = "";

  const imageNow = () => part.querySelector("[data-live-image]")?.dataset.liveImage ?? "";
  const imageQuery = () => (imageNow() ? `?image=${encodeURIComponent(imageNow())}` : "");

  part.addEventListener("input", (event) => {
    if (!event.target.closest(".looking, [data-keys]")) typed = true;
  });
  part.addEventListener("exchanged", () => {
    typed = false;
    hideNotice();
    if (source && imageNow() !== image) {
      // Another image is before the person now.
      close();
      open();
    }
  });

  async function people() {
    const { here } = await read(`${part.dataset.live}/version${imageQuery()}`);
    const place = part.querySelector(".live-people");
    if (!place) return;
    const words = here.length ? `${here.join(" and ")} ${here.length > 1 ? "are" : "is"} looking at this image too.` : "";
    if (place.textContent === words) return;
    place.textContent = words;
    place.hidden = !words;
    if (words) say(words);
  }

  function open() {
    if (over || source || asking || document.hidden) return;
    if (!window.EventSource) {
      ask();
      return;
    }
    image = imageNow();
    source = new EventSource(part.dataset.live + imageQuery());
    source.addEventListener("people", () => people().catch(() => {}));
    source.addEventListener("message", (event) => {
      failures = 0;
      settle(event.data);
    });
    source.addEventListener("over", () => {
      over = true;
      close();
    });
    source.addEventListener("ask", () => {
      close();
      ask();
    });
    source.addEventListener("error", () => {
      failures += 1;
      if (!source || (source.readyState !== EventSource.CLOSED && failures < MOST_FAILURES)) return;
      close();
      ask();
    });
  }

  function close() {
    source?.close();
    source = null;
    clearInterval(asking);
    asking = 0;
  }

  function ask() {
    if (asking || over) return;
    asking = setInterval(async () => {
      if (document.hidden) return;
      try {
        const news = await read(`${part.dataset.live}/version`);
        settle(news.version || String(Date.now()));
      } catch (refused) {
        if ([401, 403, 404].includes(refused.status)) {
          over = true;
          close();
        }
      }
    }, ASKS_EVERY_MS);
  }

  // A version came: once one's own actions are through, it is compared with what the page shows.
  function settle(version) {
    clearTimeout(timer);
    timer = setTimeout(() => compare(version), SETTLES_MS);
  }

  function shown() {
    return (part.closest("[data-version]") ?? part.querySelector("[data-version]"))?.dataset.version;
  }

  async function compare(version) {
    if (shown() === version) {
      hideNotice();
      return;
    }
    if (part.getAttribute("aria-busy") === "true" || part.querySelector("progress")) {
      settle(version);
      return;
    }
    try {
      if (shown() === undefined) await compareLines();
      else await tell();
    } catch {
      // The next news will do; what is shown stays.
    }
  }

  async function compareLines() {
    const html = await fragment(part.dataset.fragment);
    if (lines !== null && html !== lines) {
      put(part, html);
      say("The list has changed.");
    }
    lines = html;
  }

  async function tell() {
    const { by } = await read(`${part.dataset.live}/version`);
    const words = by ? `Changed by ${by}.` : "Changed meanwhile.";
    if (part.dataset.liveAsks !== undefined || holdsInput(part, typed)) {
      notice(part, words, show);
      return;
    }
    await show();
    say(`${words} The page shows it as it is now.`);
  }

  async function show() {
    typed = false;
    hideNotice();
    if (part.dataset.fragment) {
      await refresh(part);
      return;
    }
    const page = new DOMParser().parseFromString(await fragment(location.pathname + location.search), "text/html");
    const fresh = page.getElementById(part.id);
    if (!fresh) {
      location.reload();
      return;
    }
    for (const name of ["version"]) if (fresh.dataset[name]) part.dataset[name] = fresh.dataset[name];
    put(part, fresh.innerHTML);
    startWithin(part);
  }

  document.addEventListener("visibilitychange", () => (document.hidden ? close() : open()));
  window.addEventListener("pagehide", close);
  window.addEventListener("pageshow", (event) => event.persisted && open());
  if (part.dataset.version === undefined && !part.querySelector("[data-version]")) compareLines().catch(() => {});
  setTimeout(open, OPENS_AFTER_MS);
}

// Whether somebody is typing in the part, or has entered something that is not kept.
function holdsInput(part, typed) {
  const focus = document.activeElement;
  if (typed || part.querySelector(".load-files button")) return true;
  if (part.contains(focus) && focus.matches("input:not([type=checkbox], [type=radio]), select, textarea")) return true;
  return [...part.querySelectorAll("input, select, textarea")].some((field) => {
    if (field.type === "hidden" || field.closest(".looking, [data-keys]")) return false;
    if (field.type === "file") return field.files.length > 0;
    if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
    if (field.tagName === "SELECT") {
      const first = [...field.options].find((option) => option.defaultSelected) ?? field.options[0];
      return first !== undefined && field.value !== first.value;
    }
    return field.value !== field.defaultValue;
  });
}

// Focus and scroll stay, so that neither keyboard nor eye loses its place.
function put(part, html) {
  const { scrollX, scrollY } = window;
  const before = document.activeElement;
  const inside = part.contains(before);
  const id = inside ? before.id : "";
  const label = (inside && before.getAttribute("aria-label")) || "";
  part.innerHTML = html;
  if (inside) {
    const same = (id && document.getElementById(id)) || (label && [...part.querySelectorAll("[aria-label]")].find((each) => each.getAttribute("aria-label") === label));
    (same || part.querySelector("a, button"))?.focus({ preventScroll: true });
  }
  window.scrollTo(scrollX, scrollY);
}

function hideNotice() {
  document.querySelector(".live-notice")?.remove();
}

function notice(part, words, show) {
  const before = document.querySelector(".live-notice p");
  if (before?.dataset.words === words) return;
  hideNotice();
  const box = document.createElement("section");
  box.className = "live-notice";
  box.setAttribute("aria-label", "Changed meanwhile");
  const text = document.createElement("p");
  text.dataset.words = words;
  text.textContent = holdsInput(part, false) ? `${words} Showing it drops what you entered here; you can also go on.` : words;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button button-primary";
  button.textContent = "Show the new state";
  button.addEventListener("click", async () => {
    button.disabled = true;
    try {
      await show();
      say("The page shows it as it is now.");
    } catch (refused) {
      button.disabled = false;
      say(refused.message);
    }
  });
  const later = document.createElement("button");
  later.type = "button";
  later.className = "button button-quiet";
  later.textContent = "Go on";
  later.addEventListener("click", () => box.remove());
  box.append(text, button, later);
  document.querySelector("main").append(box);
  say(words);
}
