// Decisions on what the program found: one key or one touch each, kept at once. An accepted finding fills the review
// form with its shortfall and the targets it takes; a dismissed one takes them out again.
//
//   .finding[data-finding][data-decision]   one finding, with its form
//   g[data-finding]                         its outline on the picture

import { send } from "./asking.js";
import { say } from "./announce.js";

export function startFindings(review, fill) {
  const lines = [...review.querySelectorAll(".finding")];
  let here = lines.findIndex((line) => line.dataset.decision === "open");
  const outline = (line) => review.querySelector(`g[data-finding="${line.dataset.finding}"]`);

  for (const line of lines) {
    line.addEventListener("pointerenter", () => light(line));
    line.addEventListener("focusin", () => light(line));
    const form = line.querySelector("form");
    form?.addEventListener("submit", (event) => {
      event.preventDefault();
      event.stopPropagation();
      decide(line, event.submitter.value, form.elements.namedItem("code").value);
    });
    form?.elements.namedItem("code").addEventListener("change", (event) => {
      if (event.target.value) decide(line, "changed", event.target.value);
    });
  }
  light(lines[here]);

  function light(line) {
    for (const each of lines) {
      each.classList.toggle("finding-here", each === line);
      outline(each)?.classList.toggle("found-here", each === line);
    }
    if (line) here = lines.indexOf(line);
  }

  async function decide(line, decision, code) {
    const form = line.querySelector("form");
    if (decision === "changed" && !code) {
      form.elements.namedItem("code").focus();
      say("Choose which fault it is instead.");
      return;
    }
    let answer;
    try {
      answer = await send("POST", form.getAttribute("action"), new URLSearchParams({ decision, code }));
    } catch (refused) {
      say(refused.message);
      return;
    }
    const before = line.dataset.filled ? JSON.parse(line.dataset.filled) : null;
    if (before) fill(before.targets, before.code, "");
    if (answer.targets.length) fill(answer.targets, "", answer.code);
    line.dataset.filled = answer.targets.length ? JSON.stringify({ targets: answer.targets, code: answer.code }) : "";
    line.classList.remove(`finding-is-${line.dataset.decision}`);
    outline(line)?.classList.remove(`found-${line.dataset.decision}`);
    line.dataset.decision = answer.decision;
    line.classList.add(`finding-is-${answer.decision}`);
    outline(line)?.classList.add(`found-${answer.decision}`);
    line.querySelector(".finding-decision").textContent = answer.words;
    const name = line.querySelector("b").textContent;
    say(`${name}: ${answer.words}.`);
    light(lines.find((each) => each.dataset.decision === "open") ?? line);
  }

  const now = () => lines[here] ?? lines[0];
  return {
    y: () => now() && decide(now(), "accepted", ""),
    d: () => now() && decide(now(), "dismissed", ""),
    c: () => now()?.querySelector("select").focus(),
    f: () => {
      if (!lines.length) return;
      light(lines[(here + 1) % lines.length]);
      say(now().querySelector(".finding-head").textContent.replace(/\s+/g, " "));
    },
  };
}
