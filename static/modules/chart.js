// One stop for the Tab key in the chart; arrow keys go from mark to mark in arch order, Home and End to the ends,
// up and down between the jaws. Without it every mark is a link of its own.

export function start(element) {
  const marks = [...element.querySelectorAll("a.mark")];
  if (!marks.length) return;
  for (const mark of marks) mark.setAttribute("tabindex", "-1");
  let here = Math.max(0, marks.findIndex((mark) => mark.matches(".chosen, .lit")));
  marks[here].setAttribute("tabindex", "0");

  element.addEventListener("focusin", (event) => {
    const index = marks.indexOf(event.target.closest("a.mark"));
    if (index >= 0) become(index);
  });
  element.addEventListener("keydown", (event) => {
    const focused = marks.indexOf(document.activeElement);
    if (focused >= 0) become(focused);
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    let next = null;
    if (step) next = (here + step + marks.length) % marks.length;
    else if (event.key === "Home") next = 0;
    else if (event.key === "End") next = marks.length - 1;
    else if (event.key === "ArrowUp" || event.key === "ArrowDown") next = across(event.key === "ArrowDown");
    if (next === null) return;
    event.preventDefault();
    marks[next].focus();
  });

  function become(index) {
    marks[here].setAttribute("tabindex", "-1");
    here = index;
    marks[here].setAttribute("tabindex", "0");
  }

  // The nearest mark above or below on the drawing.
  function across(down) {
    const x = Number(marks[here].dataset.x);
    const y = Number(marks[here].dataset.y);
    let best = null;
    let least = Infinity;
    marks.forEach((mark, index) => {
      const dy = Number(mark.dataset.y) - y;
      const dx = Math.abs(Number(mark.dataset.x) - x);
      if ((down ? dy : -dy) < 12) return;
      const far = Math.abs(dy) + 3 * dx;
      if (far < least) [best, least] = [index, far];
    });
    return best;
  }
}
