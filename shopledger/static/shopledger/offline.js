// The job page goes on where an entry found no network and is kept: the next clock, the next weight, the reading to
// stop at. The server says all of it anew when it is asked.

import { readNumber } from "./numbers.js";

const CLOCKS = [
  ["evacuation_started", "Pump starts now"],
  ["evacuation_ended", "Pump stops now"],
  ["hold_started", "Hold starts now"],
  ["hold_ended", "Hold ends now"],
];

/** What the page shows after an entry was kept. */
export function after(form, path, fields) {
  const clock = CLOCKS.findIndex(([name]) => path.endsWith(`/clock/${name}/`));
  if (clock >= 0) nextClock(form, path, clock);
  else if (form.matches(".weigh")) askAfter(form, fields);
  else if (/\/(entry|photos)\/$/.test(path)) offerNew(form);
}

/** The button shows the clock that comes next. */
function nextClock(form, path, clock) {
  const button = form.querySelector(`button[formaction="${path}"]`);
  if (!button) return;
  if (clock + 1 === CLOCKS.length) button.remove();
  else {
    const [name, words] = CLOCKS[clock + 1];
    button.setAttribute("formaction", path.replace(/clock\/\w+\//, `clock/${name}/`));
    button.textContent = words;
  }
}

/** After the weight before, the same form asks for the weight after, and says where to stop. */
function askAfter(form, fields) {
  const value = (name) => fields.find(([field]) => field === name)?.[1];
  if (value("quick") !== "before") {
    form.hidden = true;
    return;
  }
  form.querySelector("[name=quick]").value = "after";
  const before = form.querySelector("[name=before]");
  const label = form.querySelector(`label[for="${before.id}"]`);
  const input = form.querySelector("[name=after]");
  const box = before.closest(".field");
  label.textContent = label.textContent.replace("before", "after");
  label.htmlFor = input.id;
  for (const name of ["inputmode", "autocomplete", "class"]) if (before.hasAttribute(name)) input.setAttribute(name, before.getAttribute(name));
  input.type = "text";
  before.type = "hidden";
  before.after(input);
  box.after(before);
  stopAt(value("before"));
  input.focus({ preventScroll: true });
}

/** The reading to stop at, from the weight before that was just read. The server says it anew when it is asked. */
function stopAt(before) {
  const figure = document.querySelector("#figures [data-take]");
  const written = figure?.dataset.take && readNumber(bare(String(before), figure.dataset.unit));
  if (!written || !Number.isFinite(Number(figure.dataset.take))) return;
  const read = Number(written);
  const digits = (figure.dataset.take.split(".")[1] ?? "").length;
  const stop = Math.max(read - Number(figure.dataset.take), 0).toFixed(Math.max(digits, (written.split(".")[1] ?? "").length));
  figure.querySelector(".figure-label").textContent = "Without the network, by your reading: stop when the scale shows";
  figure.querySelector(".q").textContent = `${stop} ${figure.dataset.unit}`;
}

/** What was typed without the unit that stands beside the field anyway; with another unit it stays, and is not read. */
function bare(typed, unit) {
  const said = typed.trim();
  return said.toLowerCase().endsWith(unit.toLowerCase()) ? said.slice(0, -unit.length).trim() : said;
}

/** The form of a new entry is ready for another one, under a key of its own. */
function offerNew(form) {
  const key = form.querySelector("[name=key]");
  if (form.querySelector("[name=shown]")?.value || !key) return;
  key.value = crypto.randomUUID?.() ?? "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (c) => (+c ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (+c / 4)))).toString(16));
  form.reset();
}
