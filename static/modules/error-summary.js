// data-module="error-summary": the summary takes focus when the form comes back, and leads to each field.

export function start(summary) {
  summary.focus();
  summary.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    const field = link && document.getElementById(link.hash.slice(1));
    if (!field) return;
    event.preventDefault();
    // The label, not the field, is scrolled into view: otherwise it may stay above the edge.
    const label = document.querySelector(`label[for="${CSS.escape(field.id)}"]`) || field.closest("fieldset") || field;
    label.scrollIntoView({ block: "center" });
    field.focus({ preventScroll: true });
  });
}
