// Keeps the place while the server renders: links and forms of the workspace are sent in the background, and the
// part that changed is put in with focus and scroll as they were. Without it every link and form works by itself.
//
//   #workspace[data-module="chairside"][data-fragment]   the part that is exchanged
//   [data-image], [data-target], [data-points-at]        links whose answer is shown in place
//   form, [data-swap]                                    sent in the background

import { fragment, token } from "./asking.js";
import { say } from "./announce.js";
import { startWithin } from "./start.js";

export function start(workspace) {
  workspace.addEventListener("click", (event) => {
    if (event.defaultPrevented || event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const link = event.target.closest("a");
    if (!link) return;
    const address = link.href.baseVal ?? link.href;
    if (workspace.dataset.fragment && link.matches("[data-image], [data-target], [data-points-at]")) {
      event.preventDefault();
      touch(workspace, link, new URL(address, location.href));
    } else if (link.matches("[data-swap]")) {
      event.preventDefault();
      exchange(workspace, address, { method: "GET" });
    }
  });
  workspace.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.matches("[data-module~='upload'], .looking")) return;
    event.preventDefault();
    const body = new FormData(form, event.submitter);
    exchange(workspace, form.action, { method: "POST", body: new URLSearchParams(body) });
  });
}

// A touched mark or image: its answer, and what it lights up.
async function touch(workspace, link, address) {
  const again = link.matches("[aria-current]");
  const query = again ? "" : address.search;
  const focus = link.id || (link.dataset.image ? `film-${link.dataset.image}` : "");
  await refresh(workspace, query, focus);
  history.replaceState(null, "", location.pathname + query);
  const heading = document.querySelector("#answer-heading");
  const state = document.querySelector(".answer-state");
  say([heading?.textContent, state?.textContent].filter(Boolean).join(": "));
}

// The board again, as it stands now.
export async function refresh(workspace, query = location.search, focus = document.activeElement?.id) {
  const html = await fragment(workspace.dataset.fragment + query);
  put(workspace, html, focus);
}

function put(workspace, html, focus) {
  const { scrollX, scrollY } = window;
  const keep = workspace.querySelector(".load-files")?.cloneNode(true);
  const open = [...workspace.querySelectorAll("details[open] > summary")].map((each) => each.textContent);
  workspace.innerHTML = html;
  if (keep?.children.length) workspace.querySelector(".load-files")?.replaceWith(keep);
  for (const summary of workspace.querySelectorAll("details > summary")) {
    if (open.includes(summary.textContent)) summary.parentElement.open = true;
  }
  startWithin(workspace);
  workspace.dispatchEvent(new CustomEvent("exchanged", { bubbles: true }));
  window.scrollTo(scrollX, scrollY);
  if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
}

// A page without an address of its own: what went wrong, or the choice after a colleague changed the same thing.
function putWhole(workspace, page) {
  workspace.replaceChildren(...page.querySelector("main").childNodes);
  workspace.removeAttribute("aria-busy");
  document.title = page.title;
  window.scrollTo(0, 0);
  const heading = workspace.querySelector("h1");
  heading?.setAttribute("tabindex", "-1");
  heading?.focus({ preventScroll: true });
}

async function exchange(workspace, address, { method, body }) {
  workspace.setAttribute("aria-busy", "true");
  let answer;
  try {
    answer = await fetch(address, {
      method,
      body,
      headers: { Accept: "text/html", "X-CSRF-Token": token() },
      credentials: "same-origin",
    });
  } catch {
    say("The server cannot be reached. Nothing was sent; try again.");
    workspace.removeAttribute("aria-busy");
    return;
  }
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.querySelector("#workspace");
  const here = document.querySelector("#workspace");
  const alike = fresh && Boolean(fresh.dataset.fragment) === Boolean(here.dataset.fragment);
  if (!alike) {
    // Another kind of page: show it as a page. An error page has no address of its own, so it is put in whole.
    if (answer.ok) location.assign(answer.url);
    else putWhole(workspace, page);
    return;
  }
  put(workspace, fresh.innerHTML, document.activeElement?.id);
  if (fresh.dataset.fragment) workspace.dataset.fragment = fresh.dataset.fragment;
  document.title = page.title;
  workspace.removeAttribute("aria-busy");
  const next = new URL(answer.url);
  next.searchParams.delete("note");
  if (answer.ok) {
    if (next.pathname === location.pathname) history.replaceState(null, "", next.pathname + next.search);
    else history.pushState(null, "", next.pathname + next.search);
  }
  const note = page.querySelector(".notice-done p")?.textContent ?? "";
  const verdict = workspace.querySelector("#verdict")?.textContent.replace(/\s+/g, " ").trim() ?? "";
  say(`${note} ${verdict}`);
}

window.addEventListener("popstate", () => location.reload());
