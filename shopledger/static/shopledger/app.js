// What every page does where the browser runs scripts. Each page works without it.

const said = document.getElementById("said");

/** Puts a sentence where it is seen and read out. */
function say(sentence, level) {
  if (!said) return;
  const box = document.createElement("p");
  box.className = `notice ${level}`;
  box.textContent = sentence;
  said.replaceChildren(box);
  box.scrollIntoView({ block: "nearest" });
}

// A second tap on a form that is on its way does nothing. The server also takes each form once;
// this spares the person the wait.
const RELEASE_MS = 15000; // an answer that is a download leaves the page where it is

function hold(form, held) {
  form.dataset.sending = held ? "yes" : "";
  for (const button of form.querySelectorAll("button:not([type=button]), input[type=submit]")) {
    if (held) button.setAttribute("aria-disabled", "true");
    else button.removeAttribute("aria-disabled");
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || event.defaultPrevented || form.matches("[data-own]")) return;
  if (form.dataset.sending === "yes") {
    event.preventDefault();
    return;
  }
  hold(form, true);
  setTimeout(() => hold(form, false), RELEASE_MS);
});

// A page taken back out of the browser's memory may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sending=yes]")) hold(form, false);
});

// An open menu closes on Escape, or when something else is pressed.
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  const menu = document.querySelector("details.menu[open]");
  if (!menu) return;
  menu.open = false;
  menu.querySelector("summary").focus();
});
document.addEventListener("click", (event) => {
  for (const menu of document.querySelectorAll("details.menu[open]")) {
    if (!menu.contains(event.target)) menu.open = false;
  }
});

// A figure in kg, or rounded, shows all its digits in the unit that was chosen: one by a tap, all of them by the button
// at the foot of the page. What is copied is read again by every field.
const figures = () => document.querySelectorAll("data.q");

function turn(figure, exact) {
  if (figure.matches("[data-exact]") === exact) return;
  const other = figure.title;
  figure.title = figure.textContent;
  figure.textContent = other;
  figure.toggleAttribute("data-exact", exact);
}

function offerExact() {
  const foot = document.querySelector(".foot");
  if (!foot || foot.querySelector(".exact") || !figures().length) return;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "exact quiet";
  button.textContent = "All digits of all figures";
  button.setAttribute("aria-pressed", "false");
  foot.append(button);
  button.addEventListener("click", () => {
    const exact = button.getAttribute("aria-pressed") !== "true";
    button.setAttribute("aria-pressed", String(exact));
    for (const one of figures()) turn(one, exact);
  });
}

document.addEventListener("click", ({ target }) => {
  const figure = target.closest("data.q");
  if (figure && !target.closest("a, button, label, summary")) turn(figure, !figure.matches("[data-exact]"));
});
document.addEventListener("htmx:afterSettle", offerExact);
offerExact();

// A form that came back with faults is read from its summary.
document.querySelector(".errors[tabindex]")?.focus();

// A part of the page that asks the server by itself says so when no answer comes.
for (const name of ["htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(name, () =>
    say("The network did not answer, so this was not sent. What you typed is still here; try again.", "error"),
  );
}
document.addEventListener("htmx:beforeRequest", () => said?.replaceChildren());
