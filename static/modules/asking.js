// Asks the server from a script: adds the form token, and turns every error into words.

export class Refused extends Error {
  constructor(message, status, path) {
    super(message);
    this.status = status;
    this.path = path;
  }
}

export function token() {
  return document.querySelector('meta[name="csrf-token"]').content;
}

// Reads the one shape of our errors; anything else gets a sentence of its own.
export function refusal(status, text) {
  try {
    const { error } = JSON.parse(text);
    return new Refused(error.message, status, error.path);
  } catch {
    return new Refused(`The server answered ${status}. Load the page again.`, status, "");
  }
}

async function ask(address, options) {
  let answer;
  try {
    answer = await fetch(address, { credentials: "same-origin", redirect: "follow", ...options });
  } catch {
    throw new Refused("The server cannot be reached. Check the network and try again.", 0, "");
  }
  const text = await answer.text();
  if (!answer.ok) throw refusal(answer.status, text);
  return text;
}

// body: a plain object (sent as JSON), FormData or URLSearchParams (sent as they are), or nothing.
export async function send(method, address, body) {
  const headers = { "X-CSRF-Token": token(), Accept: "application/json" };
  const plain = body !== undefined && !(body instanceof FormData) && !(body instanceof URLSearchParams);
  if (plain) headers["Content-Type"] = "application/json";
  const text = await ask(address, { method, headers, body: plain ? JSON.stringify(body) : body });
  return text ? JSON.parse(text) : null;
}

export function read(address) {
  return ask(address, { headers: { Accept: "application/json" } }).then(JSON.parse);
}

// A rendered piece of a page.
export function fragment(address) {
  return ask(address, { headers: { Accept: "text/html, application/json;q=0.5" } });
}
