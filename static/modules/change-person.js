// Before the machine changes hands: <div data-module="change-person"> with a link [data-switch]. Where a form of the
// page holds something that is not kept, like a review, that is told first. The server's page is one touch further.

export function start(person) {
  const link = person.querySelector("[data-switch]");
  link.addEventListener("click", (event) => {
    const open = [...document.querySelectorAll("main form[method=post]")].filter(isTouched);
    if (!open.length || document.getElementById("not-kept")) return;
    event.preventDefault();
    const review = open.some((form) => form.matches(".verdict-form"));
    document.querySelector("main").prepend(warning(review, link.href));
    document.getElementById("not-kept").focus();
  });
}

function isTouched(form) {
  return [...form.elements].some((field) => {
    if (field.type === "hidden" || field.type === "submit" || field.type === "button") return false;
    if (field.type === "checkbox" || field.type === "radio") return field.checked !== field.defaultChecked;
    if (field.tagName === "SELECT") {
      const chosen = [...field.options].findIndex((option) => option.defaultSelected);
      return field.selectedIndex !== Math.max(chosen, 0);
    }
    return "defaultValue" in field && field.value !== field.defaultValue;
  });
}

function warning(review, address) {
  const box = document.createElement("section");
  box.id = "not-kept";
  box.className = "mend";
  box.tabIndex = -1;
  box.setAttribute("aria-labelledby", "not-kept-words");
  const words = document.createElement("h2");
  words.id = "not-kept-words";
  words.textContent = review ? "This review is not kept yet" : "What you changed here is not kept yet";
  const more = document.createElement("p");
  more.textContent = "Keep it first, or change person without it. Everything kept before stays.";
  const buttons = document.createElement("div");
  buttons.className = "buttons";
  const stay = document.createElement("button");
  stay.type = "button";
  stay.className = "button button-primary button-big";
  stay.textContent = "Stay here";
  stay.addEventListener("click", () => box.remove());
  const go = document.createElement("a");
  go.className = "button button-quiet button-big";
  go.href = address;
  go.textContent = "Change person without it";
  buttons.append(stay, go);
  box.append(words, more, buttons);
  return box;
}
