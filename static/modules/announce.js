// Tells a screen reader what changed, through the page's one live region.

export function say(words) {
  const region = document.getElementById("heard");
  region.textContent = "";
  // Emptied first, so that the same words are heard again.
  requestAnimationFrame(() => {
    region.textContent = words;
  });
}
