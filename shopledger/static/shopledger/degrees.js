// Temperatures by a phone's number keys: the sign turns by a button, and the degrees chosen last stand there the next time.

const KEPT = "degrees";

function stored(act) {
  try {
    return act();
  } catch {
    return null; // no storage in this browser: each page begins with Celsius
  }
}

function prepare() {
  const usual = stored(() => localStorage.getItem(KEPT));
  for (const select of document.querySelectorAll("select.degrees")) {
    const box = select.closest(".with-unit");
    const field = box.querySelector("input");
    field.inputMode = "decimal";
    box.querySelector(".sign").hidden = false;
    // What is kept stands there in Celsius. The choice is the page's own: nobody typed it.
    if (usual === "°F" && !field.defaultValue && !field.value) for (const one of select.options) one.selected = one.defaultSelected = one.value === usual;
  }
}

document.addEventListener("change", ({ target }) => {
  if (target.matches("select.degrees")) stored(() => localStorage.setItem(KEPT, target.value));
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
