// The form of a delivery: a line typed in one go, what came last time from that supplier, numbers that are scanned.

import { come, complete } from "./entry.js";
import { cellsOf, field, fill, isBlank, lastFilled, rows } from "./rows.js";

const form = document.querySelector("form[data-line]");
const short = form.querySelector("[data-short]");
const said = form.querySelector("[data-said]");
const supplier = form.querySelector("input[list=suppliers]");
const button = form.querySelector("[data-fill-last]");
const LOOK_MS = 250;
let last = { supplier: null, found: null };

async function ask(address, query) {
  const answer = await fetch(`${address}?${new URLSearchParams(query)}`, { headers: { Accept: "application/json" } });
  if (!answer.ok) throw new Error(answer.status);
  return answer.json();
}

// -- a line in one go ------------------------------------------------------------------------------

const without = form.querySelector('[name$="-deposit"]') ? "" : "deposit"; // an order has no field for it
const read = (text) => ask(form.dataset.line, { text, supplier: supplier?.value ?? "", without });

function show(found) {
  said.textContent = found.problem ?? `Understood: ${found.said}`;
  said.classList.toggle("errorlist", Boolean(found.problem));
}

/** Take a line in; false where something of it is open. */
async function take(text) {
  let found;
  try {
    found = await read(text);
  } catch {
    said.textContent = "The network did not answer; fill in the line below.";
    return false;
  }
  if (found.problem && number(text)) return true;
  show(found);
  if (found.problem) return false;
  if (!fill(found.fields)) said.textContent = "There is room for no more lines: post these, and enter the rest by another form.";
  return true;
}

/** A number that was scanned after its line: it goes to the last line, where one is still wanted. */
function number(text) {
  const row = /^(?=.*\d)\S{4,60}$/.test(text) && lastFilled();
  const numbers = row && field(row, "supplier_number");
  if (!numbers) return false;
  const have = numbers.value.split(/[,;\n]/).map((one) => one.trim()).filter(Boolean);
  const wanted = Number(field(row, "count").value) || 1;
  if (have.length >= wanted) return false;
  numbers.value = [...have, text].join(", ");
  said.classList.remove("errorlist");
  said.textContent = `Supplier's number ${text} is taken for line ${rows().indexOf(row) + 1}, ${have.length + 1} of ${wanted}.`;
  return true;
}

let going = Promise.resolve(); // one line after the other, also when a scanner is faster than the network

function enter(text) {
  short.value = "";
  going = going.then(async () => {
    if (await take(text)) return;
    short.value = short.value ? `${text} ${short.value}` : text;
    short.setAttribute("aria-invalid", "true");
  });
}

short.addEventListener("entered", (event) => {
  if (!short.value.trim()) return;
  event.preventDefault();
  short.removeAttribute("aria-invalid");
  enter(short.value.trim());
});
form.querySelector("[data-add]").addEventListener("click", (event) => {
  if (!short.value.trim()) return;
  event.preventDefault();
  enter(short.value.trim());
  short.focus();
});
short.addEventListener("paste", (event) => {
  const cells = cellsOf(event.clipboardData.getData("text/plain"));
  if (!cells) return;
  event.preventDefault();
  cells.forEach((line) => enter(line.join(" ")));
});

let waiting;
short.addEventListener("input", () => {
  clearTimeout(waiting);
  short.removeAttribute("aria-invalid");
  const text = short.value.trim();
  if (text.length > 3) waiting = setTimeout(() => read(text).then((found) => short.value.trim() === text && !found.problem && show(found)).catch(() => {}), LOOK_MS);
});

// -- the supplier ----------------------------------------------------------------------------------

async function fetched(name) {
  const none = { lines: [], said: "" };
  try {
    return name ? await ask(form.dataset.last, { supplier: name }) : none;
  } catch {
    last.supplier = null; // it is asked again
    return none;
  }
}

/** What the supplier sent last; asked once, however often it is looked at meanwhile. */
async function lookUp() {
  const name = supplier.value.trim();
  if (name !== last.supplier) last = { supplier: name, found: fetched(name) };
  const found = await last.found;
  button.textContent = found.said ? `Same as last time: ${found.said}` : "Same as last time";
  return found;
}

async function fillLast() {
  complete(supplier);
  const { lines } = await lookUp();
  if (!lines.length) {
    said.textContent = supplier.value.trim() ? "Nothing came from this supplier yet." : "Name the supplier first.";
    return;
  }
  const made = lines.map(fill).filter(Boolean);
  said.textContent = `${made.length} line${made.length > 1 ? "s" : ""} as last time. Put right what differs, then post.`;
  if (made.length) come(field(made[0], "count"));
}

if (supplier && button) {
  supplier.addEventListener("change", () => (complete(supplier), lookUp()));
  supplier.addEventListener("blur", lookUp);
  button.addEventListener("click", (event) => (event.preventDefault(), fillLast()));
  form.addEventListener("keydown", (event) => {
    if (event.key !== "F4" || event.altKey || event.ctrlKey) return;
    event.preventDefault();
    fillLast();
  });
  if (supplier.value) lookUp();
}

// A scanner in the field of suppliers' numbers: as many as there are containers, then on.
form.addEventListener("entered", (event) => {
  if (!event.target.name?.endsWith("-supplier_number")) return;
  const row = event.target.closest("[data-row]");
  const have = event.target.value.split(/[,;\n]/).filter((one) => one.trim()).length;
  if (isBlank(row) || !have || have >= (Number(field(row, "count").value) || 1)) return;
  event.preventDefault();
  event.target.value = `${event.target.value.replace(/[,;\s]+$/, "")}, `;
});
