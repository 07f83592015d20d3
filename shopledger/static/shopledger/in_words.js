// What an entry says that is kept on this phone, for whoever looks whether it was sent, or has to write it anew.

import { plain, typed } from "./typed.js";

const WORDS = { container: "", pick: "", before: "before", after: "after", quantity: "quantity", note: "note" };
const MOST = 300; // letters of what was typed into a step

/** path: where the form goes; fields: as they are sent. */
export function inWords(form, path, fields) {
  const clock = form.querySelector(`button[formaction="${path}"]`);
  if (clock) return clock.textContent.trim();
  if (path.includes("/remove/")) return "Remove an entry";
  const section = form.closest("details.sheet, section.sheet");
  const title = section?.querySelector("summary, h2")?.firstChild?.textContent.trim() || "Entry";
  const said = Object.fromEntries(fields);
  if (path.includes("/photos/")) return said.key ? `Photo: ${said.title}` : "Photo: changed";
  if (path.includes("/skip/")) return `${title}: skip it`;
  if (said.container) delete said.pick; // a code that is typed comes before the one picked
  if (path.includes("/vacuum/")) return `${title}: ${said.reading} ${said.unit}`;
  if (!path.includes("/entry/")) return `${title}: ${ofStep(form, said) || "fields as typed"}`;
  const parts = Object.keys(WORDS).filter((name) => said[name]).map((name) => `${WORDS[name]} ${said[name]}`.trim());
  return `${title.split(":")[0]}: ${parts.join(", ")}`;
}

/** What was typed, ticked or chosen in the form of a step, by its labels; or the button that was pressed. */
function ofStep(form, said) {
  const changed = [...form.elements].filter((field) => field.matches("input:not([type=hidden], [type=file]), select, textarea") && field.name && typed(field) !== plain(field));
  const parts = changed.map((field) => `${(field.labels?.[0]?.textContent ?? field.name).replace("(optional)", "").trim()} ${shown(field)}`.trim());
  const pressed = [...form.querySelectorAll("button[name]")].find((button) => said[button.name] === button.value);
  return (parts.join(", ") || pressed?.textContent.trim() || "").replace(/\s+/g, " ").slice(0, MOST);
}

function shown(field) {
  if (field.matches("[type=checkbox], [type=radio]")) return field.checked ? "" : "not";
  return field.matches("select") ? field.selectedOptions[0]?.textContent.trim() : field.value;
}
