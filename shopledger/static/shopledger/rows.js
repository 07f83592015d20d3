// Lines of a form that grow as they are filled in: a blank one is always there, one is repeated by a key, rows of a sheet
// are pasted into them. Without this the page's buttons do the same by the server.

import { come } from "./entry.js";

const box = document.querySelector("[data-rows]");
const template = document.querySelector("template[data-row-template]");
const form = box?.closest("form");
const most = Number(box?.dataset.most);
const total = form?.querySelector(`[name=${box.dataset.rows}-TOTAL_FORMS]`);
const OF_ITSELF = new Set(["count", "grade", "label_statement", "about"]); // what does not make a line by being there
const OWN = new Set(["code", "supplier_number", "retest_due"]); // what each container has of its own

const FIELD = "input[name]:not([type=hidden]), select[name], textarea[name]";
export const rows = () => [...box.querySelectorAll("[data-row]")];
const short = (field) => field.name.replace(/^.*?-(\d+|__prefix__)-/, "");
export const fieldsOf = (row) => [...row.querySelectorAll(FIELD)].filter((field) => !["sure", "settle"].includes(field.name));
export const field = (row, name) => fieldsOf(row).find((one) => short(one) === name);
const said = (one) => (one.type === "checkbox" ? one.checked : one.value.trim());
export const isBlank = (row) => !fieldsOf(row).some((one) => !OF_ITSELF.has(short(one)) && said(one));
export const lastFilled = () => rows().filter((row) => !isBlank(row)).at(-1);

export function addRow() {
  const number = rows().length;
  if (!template || number >= most) return null;
  const row = template.content.firstElementChild.cloneNode(true);
  const numbered = (text) => text.replaceAll("__prefix__", number).replaceAll("__number__", number + 1);
  for (const one of [row, ...row.querySelectorAll("*")]) {
    for (const { name, value } of [...one.attributes]) if (value.includes("__")) one.setAttribute(name, numbered(value));
  }
  const legend = row.querySelector("legend");
  legend.textContent = numbered(legend.textContent);
  box.append(row);
  total.value = number + 1;
  return row;
}

const blankRow = () => rows().find(isBlank) ?? addRow();

export function set(row, name, value) {
  const one = field(row, name);
  if (!one) return false;
  if (one.type === "checkbox") one.checked = Boolean(value);
  else one.value = value;
  return one.type === "checkbox" || one.value === value;
}

/** Fill in a blank line; null where there is room for none. */
export function fill(values) {
  const row = blankRow();
  if (!row) return null;
  for (const [name, value] of Object.entries(values)) set(row, name, value);
  changed();
  return row;
}

const valuesOf = (row) => Object.fromEntries(fieldsOf(row).filter((one) => !OWN.has(short(one))).map((one) => [short(one), said(one)]));

function repeat(row) {
  const made = row && !isBlank(row) && fill(valuesOf(row));
  if (made) come(field(made, "count"));
}

/** What is folded away stands on its fold. */
function sum(row) {
  const fold = row.querySelector(".line-more");
  const filled = fold ? [...fold.querySelectorAll(FIELD)].filter(said) : [];
  const words = filled.map((one) => (one.tagName === "SELECT" ? one.selectedOptions[0].text : one.type === "checkbox" ? "stated" : one.value.trim()));
  if (fold) fold.querySelector("summary").textContent = words.length ? `More: ${words.slice(0, 3).join(", ")}${words.length > 3 ? " …" : ""}` : "More";
}

/** After each change: a blank line is there, and each line shows the codes that it will get. */
export function changed() {
  const all = rows();
  if (all.length && !isBlank(all.at(-1))) addRow();
  const next = JSON.parse(box.dataset.next || "{}");
  for (const row of rows()) {
    sum(row);
    const code = field(row, "code");
    const [start, number] = next[field(row, "kind")?.value] ?? ["", 0];
    if (!code) continue;
    code.placeholder = start && !code.value ? `${start}${String(number).padStart(4, "0")}` : "";
    if (start && !code.value) next[field(row, "kind").value][1] += Number(field(row, "count").value) || 1;
  }
  form.dispatchEvent(new Event("input", { bubbles: true })); // what is typed is kept (typed.js)
}

// -- pasting ---------------------------------------------------------------------------------------

const plain = (text) => text.toLowerCase().replace(/[^\p{L}\p{N}]/gu, "");
const mainOf = (row) => [...row.querySelectorAll(".line-main " + FIELD.replaceAll(", ", ", .line-main "))];
const labelOf = (one) => plain(one.labels?.[0]?.firstChild?.textContent ?? "");

/** Cells of a text that was copied from a sheet; null for any other text. */
export function cellsOf(text) {
  const lines = text.replace(/\r\n?/g, "\n").replace(/\n$/, "").split("\n").map((line) => line.split("\t").map((cell) => cell.trim()));
  return lines.length > 1 || lines[0].length > 1 ? lines.filter((line) => line.some(Boolean)) : null;
}

function choose(one, text) {
  const typed = plain(text);
  const among = [...one.options].filter((option) => option.value);
  const found = among.find((option) => plain(option.value) === typed) ?? among.find((option) => plain(option.text).startsWith(typed));
  one.value = found?.value ?? "";
  return Boolean(found);
}

function put(one, text) {
  const read = !text || (one.tagName === "SELECT" ? choose(one, text) : ((one.value = text), true));
  one.toggleAttribute("data-unread", !read);
  one.title = read ? "" : `“${text}” was pasted and is not known here`;
  return read;
}

/** Rows of cells into lines, from a field on; where the first row names columns, into those. */
function paste(cells, from) {
  const start = from.closest("[data-row]");
  const names = mainOf(start);
  const heads = cells[0].map((cell) => names.findIndex((one) => labelOf(one) && labelOf(one).startsWith(plain(cell)) && plain(cell)));
  const headed = heads.filter((place) => place >= 0).length >= 2;
  const columns = headed ? heads : cells[0].map((_, place) => names.indexOf(from) + place);
  let at = rows().indexOf(start);
  let unread = 0;
  let beside = 0;
  for (const line of headed ? cells.slice(1) : cells) {
    const row = rows()[at] ?? addRow();
    if (!row) {
      beside += 1;
      continue;
    }
    const fields = mainOf(row);
    line.forEach((cell, place) => {
      const one = fields[columns[place]];
      if (!one) beside += cell ? 1 : 0;
      else if (!put(one, cell)) unread += 1;
    });
    at += 1;
  }
  changed();
  tell(unread, beside);
}

function tell(unread, beside) {
  const parts = [];
  if (unread) parts.push(`${unread} cell${unread > 1 ? "s" : ""} could not be read; they are marked.`);
  if (beside) parts.push(`${beside} had no field to go into.`);
  document.querySelector("[data-said]").textContent = parts.join(" ") || "Pasted. Look at the lines, then post.";
}

if (box && template) {
  form.addEventListener("input", (event) => {
    event.target.removeAttribute?.("data-unread");
    if (event.target !== form && event.target.closest("[data-row]")) changed();
  });
  form.addEventListener("change", (event) => event.target.matches("select") && event.target.closest("[data-row]") && changed());
  form.addEventListener("paste", (event) => {
    const cells = event.target.closest("[data-row]") && cellsOf(event.clipboardData.getData("text/plain"));
    if (!cells) return;
    event.preventDefault();
    paste(cells, event.target);
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "F2" || event.ctrlKey || event.altKey) return;
    event.preventDefault();
    const here = event.target.closest("[data-row]");
    repeat(here && !isBlank(here) ? here : lastFilled());
  });
  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-repeat], [data-more]");
    if (!button) return;
    event.preventDefault();
    if (button.matches("[data-repeat]")) repeat(button.closest("[data-row]"));
    else for (let made = 0; made < 3; made += 1) addRow();
  });
  // Lines that come filled in but for one field (data-down): Enter goes down that field, and into it from a field of the
  // head (data-from).
  const { down, from } = box.dataset;
  const toFill = (after) => rows().slice(after).map((row) => !isBlank(row) && field(row, down)).find(Boolean);
  form.addEventListener("entered", (event) => {
    const row = event.target.closest("[data-row]");
    if (!down || !(row ? short(event.target) === down : event.target.name === from)) return;
    const next = toFill(row ? rows().indexOf(row) + 1 : 0);
    if (!next) return;
    event.preventDefault();
    come(next);
  });
  // What typed.js puts back may have had more lines.
  form.addEventListener("putback", ({ detail }) => {
    const needed = Math.max(0, ...detail.map((name) => Number(/-(\d+)-/.exec(name)?.[1] ?? -1) + 1));
    while (rows().length < needed && addRow());
  });
  for (const fold of box.querySelectorAll(".line-more[open]:not(:has(.errorlist))")) fold.open = false; // it says what is in it
  changed();
}
