// Loads files, each in a request of its own with its progress and its message. Files come from the chooser, from a
// drop anywhere on the mount or the form, or from a tap on an empty slot. Without it the form sends them together.
//
//   form[data-module="upload"]   with input[type=file][name=files], select[name=slot], .load-files
//   [data-slot] links            open the chooser for that slot

import { say } from "./announce.js";
import { token, refusal } from "./asking.js";
import { refresh } from "./chairside.js";

const AT_ONCE = 2;

export function start(form) {
  const workspace = form.closest("#workspace");
  const chooser = form.querySelector("input[type=file]");
  const select = form.querySelector("select[name=slot]");
  form.classList.add("load-lively");
  let list = form.querySelector(".load-files");

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (chooser.files.length) take([...chooser.files], select.value);
    else chooser.click();
  });
  chooser.addEventListener("change", () => take([...chooser.files], select.value));

  // The workspace outlives this form: its listeners are put there once, and find the form of the moment.
  if (workspace.dataset.takesFiles === undefined) {
    workspace.dataset.takesFiles = "";
    workspace.addEventListener("click", (event) => {
      const link = event.target.closest("a[data-slot]");
      const now = workspace.querySelector("form[data-module~='upload']");
      if (!link || !now) return;
      event.preventDefault();
      const files = now.querySelector("input[type=file]");
      now.querySelector("select[name=slot]").value = link.dataset.slot;
      files.multiple = false;
      files.click();
      files.multiple = true;
    });
    for (const kind of ["dragover", "dragleave", "drop"]) {
      workspace.addEventListener(kind, (event) => {
        if (![...(event.dataTransfer?.types ?? [])].includes("Files")) return;
        event.preventDefault();
        const now = workspace.querySelector("form[data-module~='upload']");
        const over = event.target.closest("[data-slot]");
        now?.classList.toggle("load-over", kind === "dragover");
        if (kind !== "drop" || !now) return;
        const slot = event.dataTransfer.files.length === 1 && over ? over.dataset.slot : "";
        now.dispatchEvent(new CustomEvent("files", { detail: { files: [...event.dataTransfer.files], slot } }));
      });
    }
  }
  form.addEventListener("files", (event) => take(event.detail.files, event.detail.slot));

  async function take(files, slot) {
    chooser.value = "";
    list = form.querySelector(".load-files");
    const lines = files.map((file) => line(file));
    let loose = 0;
    let done = 0;
    const queue = files.map((file, index) => [file, lines[index]]);
    const hand = async () => {
      for (let next = queue.shift(); next; next = queue.shift()) {
        const result = await sent(form, next[0], next[1], slot, false);
        if (result === "taken") done += 1;
        if (result === "taken" && !slot) loose += 1;
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, hand));
    say(`${done} of ${files.length} files taken.`);
    await settle(loose);
  }

  async function settle(loose) {
    const asking = list.querySelector(".file-elsewhere, .file-refused, .file-already");
    if (loose && !asking) location.assign(`${form.dataset.series}/assign`);
    else await refresh(workspace);
  }

  function line(file) {
    const item = document.createElement("li");
    const name = document.createElement("b");
    name.textContent = file.name;
    const bar = document.createElement("progress");
    bar.max = 100;
    bar.value = 0;
    bar.setAttribute("aria-label", `Sending ${file.name}`);
    const words = document.createElement("span");
    words.textContent = "waits";
    item.append(name, " ", bar, " ", words);
    list.append(item);
    return item;
  }

  function sent(form, file, item, slot, sure) {
    const body = new FormData();
    body.set("files", file);
    if (slot) body.set("slot", slot);
    if (sure) body.set("sure", "yes");
    for (const name of ["receptor", "tube_kv", "tube_ma", "exposure_seconds"]) {
      const field = form.elements.namedItem(name);
      if (field?.value) body.set(name, field.value);
    }
    const request = new XMLHttpRequest();
    request.open("POST", form.getAttribute("action"));
    request.setRequestHeader("Accept", "application/json");
    request.setRequestHeader("X-CSRF-Token", token());
    const bar = item.querySelector("progress");
    request.upload.addEventListener("progress", (event) => {
      if (event.lengthComputable && bar) bar.value = (100 * event.loaded) / event.total;
    });
    item.querySelector("span").textContent = "on its way";
    return new Promise((resolve) => {
      request.addEventListener("load", () => {
        let result;
        try {
          [result] = JSON.parse(request.responseText).results;
        } catch {
          result = { outcome: "refused", message: refusal(request.status, request.responseText).message };
        }
        show(item, file, slot, result);
        resolve(result.outcome);
      });
      request.addEventListener("error", () => {
        show(item, file, slot, { outcome: "refused", message: "The server cannot be reached. Try again." });
        resolve("refused");
      });
      request.send(body);
    });
  }

  function show(item, file, slot, result) {
    item.className = `file-${result.outcome}`;
    item.querySelector("progress")?.remove();
    item.querySelector("span").textContent = result.message;
    if (!result.asks) return;
    say(result.message);
    const yes = document.createElement("button");
    yes.type = "button";
    yes.className = "button button-danger";
    yes.textContent = "I am sure, load it here";
    yes.addEventListener("click", async () => {
      yes.remove();
      const outcome = await sent(form, file, item, slot, true);
      await settle(outcome === "taken" && !slot ? 1 : 0);
    });
    item.append(yes);
  }
}
