// Keys that work on every page: / finds anything, ? says which keys there are, a letter leads to each main action.
// Never while something is typed, nor with Ctrl, Alt or Meta held; a person can switch them off (WCAG 2.2, success
// criterion 2.1.4, Character Key Shortcuts). Where dialogues are not known, the links lead to pages.

const finder = document.getElementById("find-anything");
const keys = document.getElementById("keys");
const field = document.getElementById("find-q");
const TYPED_IN = "input, select, textarea, [contenteditable], dialog";

export const keysAreOn = () => Boolean(keys) && !keys.hasAttribute("data-off");

function find(typed = "") {
  if (!finder.open) finder.showModal();
  field.value = typed;
  field.focus();
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

const links = (place) => [...place.querySelectorAll(".found a")];

// Arrows go through what was found, and back to the field; Enter in the field opens the first.
function walk(event, place, typing) {
  const found = links(place);
  const at = found.indexOf(document.activeElement);
  if (event.key === "Enter" && document.activeElement === typing && place === finder) {
    event.preventDefault();
    if (typing.value.trim() === typing.dataset.shown) found[0]?.click();
    else typing.dataset.open = typing.value.trim();
    return;
  }
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step || !found.length || (at < 0 && document.activeElement !== typing)) return;
  event.preventDefault();
  const next = at + step;
  if (next < 0) typing.focus();
  else found[Math.min(next, found.length - 1)].focus();
}

for (const typing of document.querySelectorAll("input[type=search][name=q][hx-get]")) {
  const place = typing.closest("dialog, main");
  place.addEventListener("keydown", (event) => walk(event, place, typing));
  // What is shown belongs to what its request asked: Enter before the answer opens the first of that answer, and no
  // answer to fewer letters is taken for it.
  const shown = document.getElementById(`${typing.id}-found`);
  shown.addEventListener("htmx:afterSwap", (event) => {
    const asked = new URL(event.detail.xhr.responseURL).searchParams.get("q")?.trim() ?? "";
    typing.dataset.shown = asked;
    if (!asked || typing.dataset.open !== asked) return;
    delete typing.dataset.open;
    shown.querySelector("a")?.click();
  });
}

document.addEventListener("click", (event) => {
  if (!event.target.closest("[data-find]") || !finder?.showModal || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  find();
});

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.isComposing || !keysAreOn()) return;
  if (event.target.closest(TYPED_IN) || document.body.classList.contains("locked")) return;
  if (event.key === "/") find();
  else if (event.key === "?") keys.showModal();
  else if (event.key === "w") find("weigh ");
  else if (event.key === "f") document.querySelector("main form[role=search] input:not([type=hidden])")?.focus();
  else {
    const link = /^[a-z]$/.test(event.key) && keys.querySelector(`a[data-key="${event.key}"]`);
    if (!link) return;
    link.click();
  }
  event.preventDefault();
});
