// Reading a scale into a field for a weight. What the scale sends is shown, and taken into the field by one tap, never by
// itself: it is evidence, and goes with what the scale sent. The server reads each line by the form that was confirmed for
// the scale. Where there is no network the line is shown as it came, and the person types.

import { canConnect, open, visible, why } from "./port.js";

const WEIGHT = "input[data-weight]:not([type=hidden]), .weigh input[name=before]:not([type=hidden]), .weigh input[name=after]:not([type=hidden])";
const FAST_MS = 35; // between two keys: no hand types so fast
const LEAST_TYPED = 3; // characters of a weight that a scale types
const PAIR_MS = 2000; // two lines within this time are one after the other
const KEY_MS = 1200; // a line that comes alone was sent by the scale's key

const scales = () => JSON.parse(document.getElementById("scales")?.dataset.scales || "[]");

/** The scale of a field: the one chosen in its form, else the field's own, else the usual one. */
function scaleOf(field) {
  const code = field.form?.elements.namedItem("scale")?.value || field.dataset.scale;
  return scales().find((scale) => (code ? scale.code === code : scale.usual));
}

const sentOf = (field) => field.form?.elements.namedItem(`${field.name}_raw`);

// -- what the server says of a line ----------------------------------------------------------------------

async function ask(scale, sent) {
  try {
    const headers = JSON.parse(document.body.getAttribute("hx-headers") ?? "{}");
    const answer = await fetch(scale.read, { method: "POST", headers: { ...headers, "HX-Request": "true" }, body: new URLSearchParams({ sent }) });
    if (answer.ok && answer.headers.get("Content-Type")?.includes("json")) return await answer.json();
    return { why: "You were signed out. Sign in again, or type what the display shows.", last: true };
  } catch {
    return { why: `Without the network it is not read. The scale sent: ${sent.replace(/<(CR|LF|TAB)>/g, " ").trim()}. Type what its display shows.` };
  }
}

// -- the part of the page below a field ------------------------------------------------------------------

function element(name, text, className = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (className) made.className = className;
  return made;
}

/** The place below a field where its scale speaks. */
function panelOf(field) {
  const box = field.closest(".field") ?? field.parentElement;
  let panel = box.querySelector(".from-scale");
  if (!panel) {
    panel = element("div", "", "from-scale");
    const status = element("p", "");
    status.setAttribute("role", "status");
    panel.append(status);
    box.append(panel);
  }
  return panel;
}

function tell(field, sentence, kind = "") {
  const panel = panelOf(field);
  const status = panel.querySelector("[role=status]");
  panel.querySelector(".offer")?.remove();
  if (status.textContent !== sentence) status.textContent = sentence;
  status.className = kind;
}

/** What the scale says now, to be taken by a tap. */
function offer(field, scale, said) {
  const panel = panelOf(field);
  const words = `Scale ${scale.code}: ${said.figure}, ${said.said}`;
  if (panel.querySelector(".offer")?.dataset.sent === said.sent) return;
  tell(field, words);
  const button = element("button", `Take ${said.figure}`, "primary offer");
  button.type = "button";
  button.dataset.sent = said.sent;
  button.addEventListener("click", () => take(field, scale, said));
  panel.append(button);
}

function take(field, scale, said) {
  field.value = said.weight;
  const hidden = sentOf(field);
  if (hidden) hidden.value = said.sent;
  if (hidden) taken.set(field.id, { weight: said.weight, sent: said.sent });
  tell(field, `Taken from scale ${scale.code}: ${said.figure}, ${said.said}.`);
  field.dispatchEvent(new Event("input", { bubbles: true })); // so that it is kept as what is typed is
  stop();
  field.focus({ preventScroll: true });
}

// Where a part of the page is replaced before it is saved, what is typed is put back by the page, and what the scale sent
// with it here. Once its form was sent, or something else is typed, it is over.

const taken = new Map(); // by the field's id

function putBack() {
  for (const [id, { weight, sent }] of taken) {
    const field = document.getElementById(id);
    const hidden = field && sentOf(field);
    if (hidden && !hidden.value && field.value === weight) hidden.value = sent;
  }
}

document.addEventListener("bay:shown", () => setTimeout(putBack));
document.addEventListener("outbox:handed", (event) => {
  for (const field of event.detail.form.elements) taken.delete(field.id);
});

// What is typed over it was not sent by the scale; nor did another scale send it.
document.addEventListener("input", (event) => {
  if (!event.isTrusted || !event.target.matches?.(WEIGHT)) return;
  const hidden = sentOf(event.target);
  taken.delete(event.target.id);
  if (!hidden?.value) return;
  hidden.value = "";
  tell(event.target, "Typed by hand.");
});
document.addEventListener("change", (event) => {
  if (event.target.name !== "scale" || !event.target.form) return;
  for (const field of event.target.form.querySelectorAll(WEIGHT)) {
    const hidden = sentOf(field);
    if (hidden?.value) tell(field, "Another scale was chosen: read that one.");
    if (hidden) hidden.value = "";
    taken.delete(field.id);
  }
  offerAll();
});

// -- a scale that is connected ---------------------------------------------------------------------------

const feeds = new Map(); // by the scale's code: a port that was opened stays open while the page does
let reading = null; // the field that is read into, and its scale

/** Begin to read into a field. */
async function start(field) {
  const scale = scaleOf(field);
  if (reading && reading.field !== field) tell(reading.field, "");
  const mine = { field, scale };
  reading = mine;
  if (feeds.has(scale.code)) return tell(field, `Scale ${scale.code} is connected; waiting for its weight.`);
  tell(field, `Connecting to scale ${scale.code}.`);
  try {
    feeds.set(scale.code, null); // a second tap opens it no second time
    feeds.set(scale.code, await open(scale, hear(scale), () => gone(scale)));
    if (reading === mine && panelOf(field).querySelector("[role=status]").textContent.startsWith("Connecting")) {
      tell(field, `Scale ${scale.code} is connected. Wait until its display stands still, or press its print key.`);
    }
  } catch (fault) {
    feeds.delete(scale.code);
    if (reading === mine) tell(field, why(fault), "notice warning");
  }
}

const stop = () => {
  reading = null;
};

function gone(scale) {
  feeds.delete(scale.code);
  if (reading?.scale.code === scale.code) tell(reading.field, `Scale ${scale.code} is gone: see that it is on and plugged in, and read it again.`, "notice warning");
}

/** Takes a scale's lines, and asks of the newest; of a scale that does not say whether the load stands still, of two. */
function hear(scale) {
  let before = null;
  let newest = null;
  let asking = false;
  let timer;
  const next = async () => {
    if (asking || newest === null || reading?.scale.code !== scale.code) return;
    const { field } = reading;
    const sent = newest;
    newest = null;
    asking = true;
    const said = await ask(scale, sent);
    asking = false;
    if (reading?.field === field && field.isConnected) {
      if (said.why) tell(field, said.why, "notice warning");
      else offer(field, scale, said);
    }
    next();
  };
  return (raw) => {
    const line = visible(raw);
    const now = performance.now();
    clearTimeout(timer);
    if (scale.sends_state || scale.ticket) {
      newest = line;
      return next();
    }
    const pair = before && now - before.at < PAIR_MS;
    const sent = pair ? before.line + line : line;
    before = { line, at: now };
    if (pair) {
      newest = sent;
      return next();
    }
    timer = setTimeout(() => {
      newest = sent;
      next();
    }, KEY_MS);
  };
}

// -- a scale that types like a keyboard --------------------------------------------------------------------

/** Whether a scanner typed a code that may stand in the field instead of a weight (data-codes: the list of them). */
const isCode = (field, text) => [...(document.getElementById(field.dataset.codes)?.options ?? [])].some((one) => one.value === text.trim());

let burst = { field: null, text: "", last: 0, was: "" };

document.addEventListener("keydown", (event) => {
  const field = event.target.matches?.(WEIGHT) ? event.target : null;
  const scale = field && scaleOf(field);
  if (!scale?.typed) return;
  const fast = burst.field === field && event.timeStamp - burst.last < FAST_MS;
  if (event.key.length === 1 && !event.ctrlKey && !event.altKey && !event.metaKey) {
    if (!fast) burst = { field, text: "", was: field.value };
    burst.text += event.key;
    burst.last = event.timeStamp;
  } else if (["Enter", "Tab"].includes(event.key) && fast && burst.text.length >= LEAST_TYPED && !isCode(field, burst.text)) {
    event.preventDefault(); // the weight is offered first, and then saved by a person
    event.stopImmediatePropagation();
    field.value = burst.was;
    const sent = `${visible(burst.text)}<CR>`;
    burst = { field: null, text: "", last: 0, was: "" };
    tell(field, `Scale ${scale.code} typed ${sent.replace("<CR>", "")}.`);
    ask(scale, sent).then((said) => (said.why ? tell(field, said.why, "notice warning") : offer(field, scale, said)));
  } else if (event.key !== "Shift") burst = { field: null, text: "", last: 0, was: "" };
}, { capture: true });

// -- where it is offered -----------------------------------------------------------------------------------

/** A button below each field for a weight whose scale this browser can connect to. */
function offerAll() {
  for (const field of document.querySelectorAll(WEIGHT)) {
    const able = canConnect(scaleOf(field));
    const there = (field.closest(".field") ?? field.parentElement).querySelector(".from-scale .read");
    if (able && !there) {
      const button = element("button", "Read the scale", "read");
      button.type = "button";
      button.addEventListener("click", () => start(field));
      panelOf(field).prepend(button);
    } else if (!able) there?.remove();
  }
}

offerAll();
document.addEventListener("bay:shown", offerAll);
