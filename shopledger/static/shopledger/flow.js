// The job page goes on at once when something is entered, whether the network answers soon, late or not at all: the next
// thing to be done comes on top, the next weight is asked, and the reading to stop at is worked out as the server does.
// What the server says takes its place when it comes (bay.js).

import { readNumber } from "./numbers.js";
import { restart } from "./timers.js";

const bay = () => document.getElementById("bay");
const value = (fields, name) => fields.findLast(([field]) => field === name)?.[1];

/** What the page shows once a form was handed over. fields: as it was sent. */
export function goOn(form, path, fields) {
  form.dataset.sent = "yes";
  settle(form, fields);
  const step = form.closest("details.step");
  if (form.querySelector("[name=quick]")) return weighed(form, step, fields);
  const { then } = form.dataset;
  if (then === "next") return done(step);
  if (then) return face(step, then, value(fields, "unit"));
  if (/\/(entry|photos)\/$/.test(path)) offerNew(form);
}

/** A reading that was asked about: what was tapped takes the place of what was typed, in what follows too. */
function settle(form, fields) {
  const [name, ...said] = (value(fields, "settle") ?? "").split(" ");
  const field = name && form.querySelector(`[name="${CSS.escape(name)}"]`);
  if (!field) return;
  field.value = said.join(" ");
  fields.push([name, field.value]); // the last one counts
}

// -- from step to step --------------------------------------------------------------------------------

/** A step is done: it is folded to its line, and the next one comes on top. One that was opened besides is only folded. */
export function done(step) {
  if (!step) return;
  step.open = false;
  const all = bay();
  if (all.dataset.now !== step.id) return;
  const [next, ...after] = all.dataset.after.split(" ").filter(Boolean);
  const there = next && document.getElementById(next);
  if (!there) return;
  step.classList.replace("is-now", "is-done");
  there.classList.remove("is-later");
  there.classList.add("is-now");
  all.append(step);
  document.getElementById("label").after(there);
  there.open = true;
  all.dataset.now = next;
  all.dataset.after = after.join(" ");
  ready(there);
}

/** A step is what is to be done now, as one whose container stands on the scale is wherever its turn was. */
export function putOnTop(step) {
  const all = bay();
  const was = document.getElementById(all.dataset.now);
  step.open = true;
  if (was === step) return;
  was.open = false;
  was.classList.replace("is-now", "is-later");
  step.classList.remove("is-later", "is-done", "is-passed");
  step.classList.add("is-now");
  document.getElementById("label").after(step);
  const names = all.dataset.after.split(" ");
  all.dataset.now = step.id;
  all.dataset.after = names.slice(names.indexOf(step.id) + 1).join(" ");
}

/** The next face of a step: another reading of the same gauge, another button. */
function face(step, name, unit) {
  for (const one of step.querySelectorAll("[data-face]:not(form)")) one.hidden = one.dataset.face !== name;
  const shown = step.querySelector(`[data-face="${name}"]:not(form)`);
  if (!shown) return done(step);
  const beside = unit && shown.querySelector("[name=unit]");
  if (beside) beside.value = unit;
  restart(shown);
  ready(shown);
}

/** What is asked now is in sight, and its field under the thumb. */
export function ready(part) {
  const field = [...part.querySelectorAll(".weigh .field input:not([type=hidden])")].find((one) => one.checkVisibility());
  field?.focus({ preventScroll: true });
  bay().scrollIntoView({ block: "start" });
}

// -- weights ------------------------------------------------------------------------------------------

/** After a weight before comes the one after; after that the next container, as the plan has it. */
function weighed(form, step, fields) {
  const asked = value(fields, "quick");
  if (asked === "before") {
    ask(form, "before", "after");
    if (step.id === "charge") stopAt(value(fields, "before"), value(fields, "before-unit"), meant(fields));
    return ready(step);
  }
  if (step.id !== "charge") return done(step);
  const plan = planned();
  const given = asked === "after" ? milligrams(value(fields, "before"), unit(fields, "before"), plan) - milligrams(value(fields, "after"), unit(fields, "after"), plan) : milligrams(value(fields, "quantity"), unit(fields, "quantity"), plan);
  if (!plan || !Number.isFinite(given)) return hide(form);
  plan.aim -= given;
  const code = meant(fields);
  plan.cans = plan.cans.filter((one) => one.code !== code);
  document.getElementById("figures").dataset.plan = JSON.stringify(plan);
  if (plan.aim <= 0) return done(step);
  if (!plan.cans.length) return hide(form);
  nextContainer(form, plan.cans[0], asked);
  ready(step);
}

/** The container that an entry names: a code that is typed comes before the one picked, as on the server. */
const meant = (fields) => value(fields, "container") || value(fields, "pick");

const unit = (fields, name) => value(fields, `${name}-unit`) ?? value(fields, "before-unit");

function hide(form) {
  form.hidden = true;
}

function planned() {
  const said = document.getElementById("figures")?.dataset.plan;
  return said ? JSON.parse(said) : null;
}

/** The same form asks for another of its fields. */
function ask(form, from, to) {
  swap(form, from, to);
  document.dispatchEvent(new CustomEvent("bay:shown"));
  nameContainer(form, named(form));
}

function swap(form, from, to) {
  const old = form.querySelector(`[name="${from}"]`);
  const input = form.querySelector(`[name="${to}"]`);
  const label = form.querySelector(`label[for="${old.id}"]`);
  const box = old.closest(".field");
  form.querySelector("[name=quick]").value = to;
  for (const fault of form.querySelectorAll(".doubt, .errorlist, .errors")) fault.remove();
  box.classList.remove("faulty");
  label.textContent = wording(label.textContent, to, named(form));
  label.htmlFor = input.id;
  for (const name of ["inputmode", "autocomplete", "class", "data-unit", "data-weight"]) if (old.hasAttribute(name)) input.setAttribute(name, old.getAttribute(name));
  if (to === "quantity") input.removeAttribute("data-weight");
  else input.dataset.weight = to;
  input.type = "text";
  old.type = "hidden";
  old.after(input);
  box.after(old);
  keepUnit(form, box, from, to);
  box.querySelector(".from-scale")?.remove(); // the scale speaks below the field that is asked now
}

/** The label of a field, as the server words it (quick.py); its unit stays. */
function wording(label, name, code) {
  const unit = label.split(", ").at(-1);
  return name === "quantity" ? `What ${code} says it ${label.includes("took") ? "took" : "gave"}, ${unit}` : `Weight of ${code} ${name}, ${unit}`;
}

/** Another container is named, to be picked or typed: a machine says what it gave, any other is weighed. What was typed
 *  was of the one before. */
export function nameAnother(form) {
  const now = form.querySelector("[name=quick]").value;
  const code = named(form) || "the container";
  const label = form.querySelector(".field label");
  if (!["before", "quantity"].includes(now) || form.querySelector("[name=action]").value !== "charge") {
    label.textContent = label.textContent.replace(/(Weight of|What|added from) .*?(?= before,| after,| says it|, )/, `$1 ${code}`);
    return;
  }
  const to = JSON.parse(bay().dataset.machines || "[]").includes(code) ? "quantity" : "before";
  if (to === now) label.textContent = wording(label.textContent, now, code);
  else {
    form.querySelector(`[name="${now}"]`).value = "";
    swap(form, now, to);
    document.dispatchEvent(new CustomEvent("bay:shown"));
  }
}

const named = (form) => form.querySelector("[name=container]")?.value || form.querySelector("[name=pick]")?.value || "";

/** The container stands on the scale: it is no other any more. */
function nameContainer(form, code) {
  form.querySelector("details")?.remove();
  for (const field of form.querySelectorAll("[name=container], [name=pick]")) field.remove();
  form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "container", value: code }));
}

/** The unit stays as it was chosen, for the weight that was read and for the next. */
function keepUnit(form, box, from, to) {
  const select = box.querySelector("select");
  if (!select) return;
  let kept = form.querySelector(`input[name="${from}-unit"]`);
  if (!kept) form.append((kept = Object.assign(document.createElement("input"), { type: "hidden", name: `${from}-unit` })));
  kept.value = select.value;
  form.querySelector(`input[name="${to}-unit"]`)?.remove();
  select.name = `${to}-unit`;
}

/** The form of a container that was weighed asks for the next one, as an entry of its own. */
function nextContainer(form, next, from) {
  ask(form, from, "before");
  for (const name of ["before", "after", "quantity", "shown", "note", "before_raw", "after_raw"]) {
    const field = form.querySelector(`[name="${name}"]`);
    if (field) field.value = "";
  }
  nameContainer(form, next.code);
  form.querySelector("[name=key]").value = newKey();
  const label = form.querySelector(".field label");
  label.textContent = wording(label.textContent, "before", next.code);
  const plan = planned();
  figure(`Next: ${next.code}. Weigh it first; take`, Math.min(next.content, plan.aim), null, plan);
}

/** The reading to stop at, from the weight before that was just read. Of a container that the plan does not know, all
 *  that is missing is taken. */
function stopAt(typed, beside, code) {
  const plan = planned();
  const before = plan && milligrams(typed, beside, plan);
  if (!plan || !Number.isFinite(before)) return;
  const can = plan.cans.find((one) => one.code === code);
  const content = !can ? Infinity : can.tare === null ? can.content : Math.max(0, before - can.tare);
  figure(`Charging from ${code}. Stop when the scale shows`, Math.max(0, before - Math.min(content, plan.aim)), beside, plan);
}

function figure(words, mg, beside, plan) {
  const shown = document.querySelector("#figures .figure");
  if (!shown) return;
  const chosen = beside ?? document.querySelector("#figures .weigh select")?.value ?? "g";
  shown.querySelector(".figure-label").textContent = words;
  shown.querySelector(".q").textContent = inUnit(mg, chosen, plan);
  document.querySelector("#figures .then")?.replaceChildren();
}

/** As show_in of inventory/measures/quantity.py: beside a field, in the unit of that field. */
function inUnit(mg, name, plan) {
  const [size, places] = plan.units[name] ?? plan.units.g;
  const [whole, decimals] = String(Number((mg / size).toFixed(places))).split(".");
  return `${whole.replace(/\B(?=(\d{3})+$)/g, "\u202f")}${decimals ? `.${decimals}` : ""} ${plan.units[name] ? name : "g"}`;
}

/** What was typed in mg, by the unit in it or the one beside it; NaN for what cannot be told here. */
function milligrams(typed, beside, plan) {
  if (!plan) return NaN;
  const said = String(typed ?? "").trim();
  const name = Object.keys(plan.units).find((one) => said.toLowerCase().endsWith(one) && /[\d\s]/.test(said.at(-one.length - 1) ?? "")) ?? beside ?? "g";
  const written = readNumber(said.toLowerCase().endsWith(name) ? said.slice(0, -name.length).trim() : said);
  const size = plan.units[name]?.[0];
  return written && size ? Number(written) * size : NaN;
}

// -- entries that were made besides ---------------------------------------------------------------------

/** The form of a new entry is ready for another one, under a key of its own. */
function offerNew(form) {
  const key = form.querySelector("[name=key]");
  if (form.querySelector("[name=shown]")?.value || !key) return;
  key.value = newKey();
  form.reset();
}

export function newKey() {
  return crypto.randomUUID?.() ?? "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (c) => (+c ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (+c / 4)))).toString(16));
}
