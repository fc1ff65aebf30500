// A button that prints the page. Hidden until scripts run; the browser's own menu prints too.
export function start(button) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
