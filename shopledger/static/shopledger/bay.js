// The job page where the browser runs scripts: what the server says of the job takes the place of what the page showed,
// and nothing that is being typed is lost by it. The page works without it.

import { fillIn, keepAnew } from "./anew.js";
import { goOn, nameAnother, ready } from "./flow.js";
import { load, person, stored, waiting } from "./phone.js";
import { plain, typed } from "./typed.js";
import "./reading.js";
import "./timers.js";

const bay = () => document.getElementById("bay");

// -- steps open when they are led to -----------------------------------------------------------------------

/** Opens the step that an address leads to, and what that step stands in. */
function open(id) {
  const target = id && document.getElementById(id);
  for (let it = target; it; it = it.parentElement) if (it.matches("details")) it.open = true;
  return target;
}

function follow() {
  const target = open(decodeURIComponent(location.hash.slice(1)));
  target?.scrollIntoView();
  if (target?.matches("input, select")) target.focus({ preventScroll: true });
}

document.addEventListener("click", (event) => {
  const link = event.target.closest("a[href^='#']");
  if (link) open(decodeURIComponent(link.hash.slice(1)));
});
window.addEventListener("hashchange", follow);
if (location.hash) follow();
else if (bay()) ready(document.getElementById(bay().dataset.now));

document.addEventListener("outbox:handed", ({ detail: { form, path, fields } }) => {
  goOn(form, path, fields);
  fillIn(path, fields, form);
});
document.addEventListener("input", (event) => event.target.form?.removeAttribute("data-sent"));

/** Another container is named: the field says whose reading it asks for. */
document.addEventListener("change", ({ target }) => {
  if (target.matches(".weigh [name=pick], .weigh details [name=container]")) nameAnother(target.form);
});

/** A usual reason by one tap; it stands in its field, to be changed. */
function offerReasons() {
  for (const button of document.querySelectorAll("button.fill")) button.hidden = false;
}

document.addEventListener("click", (event) => {
  const button = event.target.closest("button.fill");
  const field = button && document.getElementById(button.dataset.fill);
  if (field) field.value = button.textContent.trim();
});
document.addEventListener("bay:shown", offerReasons);
offerReasons();

// -- what the server says ---------------------------------------------------------------------------------------

/** Put the job as the server has it in the place of what is shown. What is typed and not yet sent stays typed, steps that
 *  were opened stay open, and a field that is being typed into is not touched: a phone would take its keys away. */
function show(html) {
  const fresh = new DOMParser().parseFromString(html, "text/html").getElementById("bay");
  const old = bay();
  if (!fresh || !old) return;
  keepAnew(html);
  const kept = unsent(old);
  const opened = [...old.querySelectorAll("details[open][id]:not(.is-now)")].map((one) => one.id);
  const folds = foldsOf(old).filter((one) => one.open && !one.querySelector("form[data-sent]")).map(called);
  const typing = document.activeElement?.closest?.("#bay form.weigh");
  const same = typing && counterpart(typing, fresh);
  const wasAtWeights = Boolean(typing);
  const caret = caretOf(old);
  const was = old.dataset.now;
  const handed = old.contains(document.activeElement) && document.activeElement.form?.hasAttribute("data-sent");
  if (same) around(old, fresh, typing, same);
  else old.replaceWith(document.adoptNode(fresh));
  window.htmx?.process(bay());
  for (const [id, value] of kept) putBack(id, value);
  opened.forEach(open);
  for (const one of foldsOf(bay())) one.open ||= folds.includes(called(one));
  if (!same) caret?.();
  const faulty = bay().querySelector(".errors[tabindex], [aria-invalid=true]");
  if (faulty) {
    open(faulty.id || faulty.closest("details")?.id);
    bay().scrollIntoView({ block: "start" });
    faulty.focus({ preventScroll: true });
  } else if ((wasAtWeights && !same) || (handed && bay().dataset.now !== was)) ready(document.getElementById(bay().dataset.now));
  document.dispatchEvent(new CustomEvent("bay:shown"));
}

const foldsOf = (part) => [...part.querySelectorAll("details:not([id])")];

/** What tells a fold that has no id: where it stands, and how its line begins; what it counts changes. */
function called(fold) {
  return `${fold.closest("[id]").id} ${fold.querySelector("summary")?.textContent.trim().split(":")[0]}`;
}

/** The way back into the field, with an id, that has the focus; none into one whose form was handed over. */
function caretOf(part) {
  const { activeElement: field } = document;
  if (!part.contains(field) || !field.id || !field.matches("input, select, textarea") || field.form?.hasAttribute("data-sent")) return null;
  const { id, selectionStart: from, selectionEnd: to } = field;
  return () => {
    const again = document.getElementById(id);
    again?.focus({ preventScroll: true });
    if (from !== null && again?.setSelectionRange) again.setSelectionRange(from, to);
  };
}

/** What is typed and was not handed over, by the field's id. */
function unsent(part) {
  const found = new Map();
  for (const field of part.querySelectorAll("input[id]:not([type=hidden], [type=file]), select[id], textarea[id]")) {
    if (!field.form?.hasAttribute("data-sent") && typed(field) !== plain(field)) found.set(field.id, typed(field));
  }
  return found;
}

function putBack(id, value) {
  const field = document.getElementById(id);
  if (!field || field.type === "hidden" || typed(field) !== plain(field)) return;
  if (field.matches("[type=checkbox], [type=radio]")) field.checked = value;
  else field.value = value;
  open(id);
}

const asks = (form) => [form.getAttribute("action"), form.querySelector("[name=quick]")?.value, form.querySelector(".field label")?.textContent].join();

/** The form of the fresh page that asks for the very same reading, and has no fault to show. */
function counterpart(form, fresh) {
  return [...fresh.querySelectorAll("form.weigh")].find((one) => asks(one) === asks(form) && !one.querySelector(".error, .doubt"));
}

/** Replace all but one form, which only gets the hidden fields of its counterpart. */
function around(old, fresh, form, same) {
  if (old === form) {
    for (const hidden of same.querySelectorAll("input[type=hidden]")) {
      const mine = form.querySelector(`input[type=hidden][name="${hidden.name}"]`);
      if (mine && !/(-unit|_raw)$/.test(hidden.name)) mine.value = hidden.value;
    }
    return;
  }
  for (const { name, value } of fresh.attributes) old.setAttribute(name, value);
  const mine = [...old.children].find((one) => one.contains(form));
  const theirs = [...fresh.children].find((one) => one.contains(same));
  const before = [...fresh.childNodes].slice(0, [...fresh.childNodes].indexOf(theirs));
  const behind = [...fresh.childNodes].slice([...fresh.childNodes].indexOf(theirs) + 1);
  for (const node of [...old.childNodes]) if (node !== mine) node.remove();
  const next = mine.nextSibling;
  for (const node of before) old.insertBefore(node, mine); // not mine.before: a form's fields hide what is named like them
  for (const node of behind) old.insertBefore(node, next);
  around(mine, theirs, form, same);
}

document.addEventListener("outbox:answer", ({ detail }) => show(detail.html));

// -- two people on one draft -----------------------------------------------------------------------------------
// What the other one entered is fetched when this page is looked at. Where nothing is being typed it is simply shown,
// else it is offered.

const LOOK_MS = 15000;
const version = () => Number(document.querySelector("#sign [name=version]")?.value);
const versionUrl = document.getElementById("outbox")?.dataset.version;
const asScript = { headers: { "HX-Request": "true" } };

/** The job anew. scanned: the code of a container whose weight is asked next. */
async function refresh(scanned = "") {
  const answer = await fetch(`${location.pathname}${scanned && `?scanned=${encodeURIComponent(scanned)}`}`, asScript);
  if (!answer.ok || answer.headers.get("HX-Redirect")) return false;
  if (scanned) document.activeElement?.blur();
  show(await answer.text());
  document.getElementById("newer").hidden = true;
  return true;
}

/** How many entries of this job wait on this phone. Those of another job are sent, or mended, on its page. */
async function keptHere() {
  if (!waiting()) return 0;
  return (await load()).entries.filter((entry) => entry.page === location.pathname).length;
}

async function look() {
  if (!versionUrl || document.visibilityState !== "visible" || (await keptHere())) return;
  let said;
  try {
    const answer = await fetch(versionUrl, asScript);
    if (!answer.ok || answer.headers.get("HX-Redirect")) return;
    said = await answer.json();
  } catch {
    return;
  }
  const notice = document.getElementById("newer");
  if (!notice || said.version === version() || (await keptHere())) return;
  if (!said.draft) location.reload();
  else if (unsent(bay()).size) notice.hidden = false;
  else await refresh().catch(() => {});
}

document.addEventListener("click", (event) => {
  if (event.target.closest("#newer button")) refresh().catch(() => {});
});
document.addEventListener("visibilitychange", look);
window.addEventListener("focus", look);
setInterval(look, LOOK_MS);

/** A label was read by the camera: its container is asked for, here. Without the network, where it is in the list. */
document.addEventListener("scanned", async (event) => {
  if (!bay()) return;
  event.preventDefault();
  const { code } = event.detail;
  try {
    if (await refresh(code)) return ready(document.getElementById(bay().dataset.now));
  } catch {
    // no network: what the page knows
  }
  const option = bay().querySelector(`.weigh [name=pick] option[value="${CSS.escape(code)}"]`);
  if (!option) return say(`${code} is not in this page’s lists. Type its code under “Another container”.`);
  option.parentElement.value = code;
  option.parentElement.dispatchEvent(new Event("change", { bubbles: true }));
  open(option.closest("details.step").id);
  ready(option.closest("details.step"));
});

// -- the signature ------------------------------------------------------------------------------------------------
// It needs the network, and all that is kept on this phone to be sent before it.

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.closest("#sign") || form.dataset.sure) return;
  event.preventDefault();
  event.stopPropagation();
  const kept = await keptHere();
  if (kept && document.body.hasAttribute("data-sending")) return onceSent(form);
  if (kept) return say(`Not signed: ${kept === 1 ? "an entry is" : `${kept} entries are`} kept on this phone and not sent yet. That you are ready to sign is kept too: it is asked once nothing is left there.`, "error", true);
  try {
    if (versionUrl) await fetch(versionUrl, asScript);
  } catch {
    return say("Not signed: there is no network just now. Nothing is lost; that you are ready to sign is kept, and asked when it is back.", "error", true);
  }
  form.dataset.sure = "yes";
  form.requestSubmit(event.submitter);
}, { capture: true });

/** What is signed is seen before: the last entry is just on its way, and then it stands in the summary. */
function onceSent(form) {
  form.setAttribute("aria-busy", "true");
  document.addEventListener("bay:shown", () => say("The last entry is in the summary now. Look at it, and sign.", "success"), { once: true });
}

// Who was ready to sign without the network is asked again once all is sent: with the summary as the server has it.
const READY = `ready:${person}:${location.pathname}`;

function readiness(at) {
  return stored(() => {
    if (at === null) localStorage.removeItem(READY);
    else if (at) localStorage.setItem(READY, at);
    return localStorage.getItem(READY);
  });
}

async function askReady() {
  const at = readiness();
  if (!at || (await keptHere()) || !document.getElementById("sign")) return;
  try {
    if (!(await fetch(versionUrl, asScript)).ok) return;
  } catch {
    return;
  }
  readiness(null);
  open("sign")?.scrollIntoView();
  say(`All is sent. You were ready to sign at ${at}: look at the summary, and sign.`, "success");
}

document.addEventListener("bay:shown", askReady);
window.addEventListener("online", askReady);
askReady();

function say(sentence, level = "error", ready = false) {
  if (ready) readiness(new Date().toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false }));
  const box = document.createElement("p");
  box.className = `notice ${level}`;
  box.textContent = sentence;
  document.getElementById("said").replaceChildren(box);
  box.scrollIntoView({ block: "nearest" });
}

// A reload without the network shows this page as it was.
if (navigator.serviceWorker) navigator.serviceWorker.register("/worker.js").catch(() => {});
