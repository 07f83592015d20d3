// Readings with their unit beside them, by a phone's number keys: the unit used last stands there again, and the sign of
// a temperature turns by a button.

import { stored } from "./phone.js"; // where a browser stores nothing each page begins anew

/** By what they can be: all temperatures, all pressures, all vacuums share what was used last. */
const kept = (select) => `used-last:${[...select.options].map((one) => one.value).filter(Boolean).join(",")}`;

function prepare() {
  for (const select of document.querySelectorAll("select.used-last")) {
    const box = select.closest(".with-unit");
    const field = box.querySelector("input");
    const usual = stored(() => localStorage.getItem(kept(select)));
    field.inputMode = "decimal";
    box.querySelector(".sign")?.removeAttribute("hidden");
    if (!usual || field.defaultValue || field.value) continue; // what is kept stands there in its own unit
    for (const one of select.options) one.selected = one.defaultSelected = one.value === usual; // chosen by the page: nobody typed it
  }
}

document.addEventListener("change", ({ target }) => {
  if (target.matches("select.used-last") && target.value) stored(() => localStorage.setItem(kept(target), target.value));
});

document.addEventListener("click", ({ target }) => {
  const button = target.closest(".with-unit .sign");
  if (!button) return;
  const field = button.closest(".with-unit").querySelector("input");
  field.value = /^\s*[-\u2212]/.test(field.value) ? field.value.replace(/^\s*[-\u2212]\s*/, "") : `-${field.value.trim()}`;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.focus({ preventScroll: true });
});

document.addEventListener("bay:shown", prepare);
prepare();
