// Starts the behaviours of a page: <div data-module="name"> gets start(element) of ./name.js.
// Several names are parted by spaces. A module that fails leaves the page as the server sent it.

export function startWithin(root) {
  const begun = [];
  for (const element of root.querySelectorAll("[data-module]")) {
    for (const name of element.dataset.module.split(/\s+/)) begun.push(begin(name, element));
  }
  return Promise.all(begun);
}

async function begin(name, element) {
  if (!/^[a-z_-]+$/.test(name)) return;
  const key = `started-${name}`;
  if (element.hasAttribute(`data-${key}`)) return;
  element.setAttribute(`data-${key}`, "");
  try {
    const module = await import(`./${name}.js`);
    module.start(element);
  } catch (error) {
    console.error(`module ${name}`, error);
  }
}

// Not awaited at the top: modules that import this file wait for it to be through.
startWithin(document).then(() => document.documentElement.setAttribute("data-ready", ""));
