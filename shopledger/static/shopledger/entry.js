// A form by keyboard: Enter goes to the next field and never posts, Ctrl+Enter posts (form[data-keys]). A script that
// does something else with Enter in a field listens for its event `entered`, and prevents its default.

const FIELDS = "input:not([type=hidden], [type=submit], [type=button]), select, textarea";
const seen = (field) => field.checkVisibility({ visibilityProperty: true });

/** The fields that can be come to, in their order. */
export const stops = (form) => [...form.elements].filter((field) => field.matches(FIELDS) && field.tabIndex >= 0 && !field.disabled && seen(field));

export function come(field) {
  field.focus();
  if (field.matches("input:not([type=checkbox], [type=radio], [type=date])")) field.select();
}

/** To the field behind this one; behind the last one to the button that posts. */
export function goOn(form, from) {
  const all = stops(form);
  const next = all[all.indexOf(from) + 1];
  if (next) come(next);
  else form.querySelector("[data-post]")?.focus();
}

/** A few letters of a known supplier become its name, where they fit no other. */
export function complete(supplier) {
  const names = [...supplier.list.options].map((one) => one.value);
  const typed = supplier.value.trim().toLowerCase();
  if (!typed || names.includes(supplier.value.trim())) return;
  const begun = names.filter((name) => name.toLowerCase().startsWith(typed));
  const among = begun.length ? begun : names.filter((name) => name.toLowerCase().includes(typed));
  if (among.length === 1) supplier.value = among[0];
}

for (const happens of ["entered", "change"]) {
  document.addEventListener(happens, (event) => {
    if (event.target.matches("form[data-keys] input[list=suppliers]")) complete(event.target);
  });
}

export const post = (form) => form.requestSubmit(form.querySelector("[data-post]"));

document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.isComposing || event.defaultPrevented) return;
  const ours = event.target.form ?? document.querySelector("form[data-keys]");
  if (!ours?.matches("[data-keys]")) return;
  if (event.ctrlKey || event.metaKey) {
    event.preventDefault();
    post(ours);
    return;
  }
  if (!event.target.matches(FIELDS) || event.target.matches("textarea")) return;
  event.preventDefault();
  const entered = new CustomEvent("entered", { bubbles: true, cancelable: true });
  if (event.target.dispatchEvent(entered)) goOn(ours, event.target);
});

// Whoever comes to a page with one such form begins in its first field; not where it came back with faults.
const only = document.querySelectorAll("form[data-keys='']");
if (only.length === 1 && !document.querySelector(".errors[tabindex]") && matchMedia("(min-width: 60em)").matches) {
  const first = only[0].querySelector("[data-first]") ?? stops(only[0]).find((field) => !field.value);
  first?.focus({ preventScroll: true });
}
