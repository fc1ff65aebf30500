// data-module="dentition" on the chart's form: the table of fields becomes a chart whose teeth are touched.
// Reads the rows of the table (data-row, data-label, data-usual), and writes back into their fields, so that what is
// sent is the same with and without this script.

import { say } from "./announce.js";
import { ClosedSpaces } from "./closed-spaces.js";

const HAS_ROOTS = ["present", "unerupted", "root_remnant"];
const MAY_CLOSE = ["missing", "unerupted", "root_remnant", "absent"];

export function start(form) {
  const drawn = form.querySelector('[data-part="drawn"]');
  const panel = form.querySelector('[data-part="panel"]');
  const table = form.querySelector('[data-part="table"]');
  const buttons = [...drawn.querySelectorAll("button[data-tooth]")];
  const spaces = new ClosedSpaces(
    [...form.querySelectorAll('input[name="space"]')],
    () => buttons.map((each) => [each.dataset.tooth, field(each.dataset.tooth).value]),
  );
  let chosen = null;

  drawn.hidden = false;
  const hint = form.querySelector('[data-part="hint"]');
  hint.hidden = false;
  table.open = false;

  const row = (tooth) => form.querySelector(`tr[data-row="${tooth}"]`);
  const field = (tooth) => form.querySelector(`#state-${tooth}`);
  const ticks = (tooth) => [...row(tooth).querySelectorAll('input[type="checkbox"]')];
  const button = (tooth) => buttons.find((each) => each.dataset.tooth === tooth);
  const name = (tooth) => row(tooth).dataset.label;
  const words = (select) => select.selectedOptions[0].textContent;

  function draw(tooth) {
    const state = field(tooth).value;
    const roots = state === "implant" ? 1 : ticks(tooth).filter((each) => each.checked).length;
    const shown = button(tooth);
    shown.dataset.state = state;
    shown.dataset.roots = String(Math.min(3, Math.max(1, roots)));
    const closed = MAY_CLOSE.includes(state) && Boolean(spaces.over(tooth));
    shown.toggleAttribute("data-closed", closed);
    shown.setAttribute("aria-label", `${name(tooth)}, ${words(field(tooth))}${closed ? ", space closed" : ""}`);
  }

  function drawAll() {
    for (const each of buttons) draw(each.dataset.tooth);
  }

  function choose(tooth) {
    chosen = chosen === tooth ? null : tooth;
    for (const each of buttons) each.setAttribute("aria-pressed", String(each.dataset.tooth === chosen));
    panel.hidden = chosen === null;
    hint.hidden = chosen !== null;
    panel.replaceChildren();
    if (chosen !== null) fill(chosen);
  }

  function fill(tooth) {
    const heading = document.createElement("h2");
    heading.textContent = name(tooth);
    const states = document.createElement("div");
    states.className = "choices";
    states.setAttribute("role", "radiogroup");
    states.setAttribute("aria-label", `State of ${name(tooth)}`);
    for (const option of field(tooth).options) {
      states.append(
        choice("radio", "panel-state", option.textContent, option.value === field(tooth).value, () => {
          field(tooth).value = option.value;
          // A tooth with contacts keeps its space open.
          if (!MAY_CLOSE.includes(option.value)) spaces.set(tooth, false);
          drawAll();
          refill(tooth, option.value);
          say(`${name(tooth)} ${option.textContent}`);
        }, option.value),
      );
    }
    const line = document.createElement("div");
    line.className = "state-line";
    line.append(heading, states);
    panel.append(line);
    if (HAS_ROOTS.includes(field(tooth).value)) panel.append(...rootChoices(tooth));
    if (MAY_CLOSE.includes(field(tooth).value)) panel.append(...spaceChoice(tooth));
  }

  function spaceChoice(tooth) {
    const pair = spaces.around(tooth);
    const closed = spaces.over(tooth);
    if (!pair && !closed) return [];
    const touching = (closed ? closed.value.split("-") : pair).map((each) => (row(each.trim()) ? name(each.trim()) : each));
    const heading = document.createElement("h3");
    heading.textContent = "Space";
    const line = document.createElement("div");
    line.className = "root-line";
    line.append(
      heading,
      choice("checkbox", "panel-space", `closed: ${touching.join(" and ")} touch`, Boolean(closed), (box) => {
        spaces.set(tooth, box.checked);
        drawAll();
        say(box.checked ? `space closed, ${touching.join(" and ")} touch` : "space open");
      }, "closed"),
    );
    return [line];
  }

  // The roots come and go with the state; the focus stays on the state just chosen.
  function refill(tooth, value) {
    panel.replaceChildren();
    fill(tooth);
    panel.querySelector(`input[name="panel-state"][value="${value}"]`).focus({ preventScroll: true });
  }

  function rootChoices(tooth) {
    const heading = document.createElement("h3");
    heading.textContent = "Roots";
    const usual = row(tooth).dataset.usual.split(" ");
    const roots = document.createElement("div");
    roots.className = "root-choices";
    for (const tick of ticks(tooth)) {
      const full = tick.getAttribute("aria-label").split(": ")[1];
      const text = usual.includes(tick.value) && tick.value !== "R" ? `${tick.value} ${full.split(" ")[0]}` : tick.value;
      const label = choice("checkbox", `panel-root-${tick.value}`, tick.value === "R" ? "R only root" : text, tick.checked, (box) => {
        settle(tooth, tick, box.checked);
        for (const other of ticks(tooth)) {
          roots.querySelector(`input[name="panel-root-${other.value}"]`).checked = other.checked;
        }
        draw(tooth);
      }, tick.value);
      label.firstChild.setAttribute("aria-label", `${name(tooth)}: ${full}`);
      label.title = full;
      roots.append(label);
    }
    const line = document.createElement("div");
    line.className = "root-line";
    line.append(heading, roots);
    return [line];
  }

  // R is the only root or none of them: ticking it clears the others, and the other way round.
  function settle(tooth, tick, on) {
    tick.checked = on;
    if (!on) return;
    for (const other of ticks(tooth)) {
      if (other !== tick && (tick.value === "R" || other.value === "R")) other.checked = false;
    }
  }

  function choice(type, group, text, on, changed, value) {
    const label = document.createElement("label");
    label.className = "choice";
    const input = document.createElement("input");
    input.type = type;
    input.name = group;
    input.value = value;
    input.checked = on;
    // Fields of the panel are not sent: those of the table are.
    input.setAttribute("form", "no-form");
    input.addEventListener("change", () => changed(input));
    const span = document.createElement("span");
    span.textContent = text;
    label.append(input, span);
    return label;
  }

  drawn.addEventListener("click", (event) => {
    const touched = event.target.closest("button[data-tooth]");
    if (touched) choose(touched.dataset.tooth);
  });

  // Arrow keys walk along the teeth; up and down change the row at the same place.
  drawn.addEventListener("keydown", (event) => {
    const at = buttons.indexOf(document.activeElement);
    if (at < 0) return;
    const line = document.activeElement.parentElement;
    const lines = [...drawn.querySelectorAll(".teeth-line")];
    const steps = { ArrowLeft: -1, ArrowRight: 1 };
    if (event.key in steps) {
      event.preventDefault();
      buttons[(at + steps[event.key] + buttons.length) % buttons.length].focus();
    } else if (event.key === "ArrowUp" || event.key === "ArrowDown") {
      const next = lines[lines.indexOf(line) + (event.key === "ArrowUp" ? -1 : 1)];
      if (!next) return;
      event.preventDefault();
      const here = [...line.children].indexOf(document.activeElement) - line.children.length / 2;
      const place = Math.round(here + next.children.length / 2);
      next.children[Math.max(0, Math.min(next.children.length - 1, place))].focus();
    }
  });

  // The table still works: what is changed there is drawn.
  table.addEventListener("change", (event) => {
    const changed = event.target.closest("tr[data-row]");
    if (!changed) return;
    const tooth = changed.dataset.row;
    if (event.target.type === "checkbox") settle(tooth, event.target, event.target.checked);
    draw(tooth);
    if (chosen === tooth) {
      panel.replaceChildren();
      fill(tooth);
    }
  });

  form.querySelector('[data-part="spaces"]').addEventListener("input", drawAll);

  drawAll();
}
