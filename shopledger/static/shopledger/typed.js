// What is typed into a form of a page outlives a network that failed, a sign-in that ended and a reload: it is kept in
// this tab, sealed for the person who types, until the form was taken. Nothing of a form with a password is kept.
// The forms of a job keep what they send by themselves (outbox.js); that of a passkey is never sent as a form.

import { person, seal, unseal } from "./phone.js";

const ALL = "typed:";
const STATE = "typed-state:"; // "sent": on its way, or nobody knows; "failed": it was not taken
const MOST = 65536; // letters of one form that are kept
const SECRET = "[type=password], [autocomplete=one-time-code]";
const EDITED = "input:not([type=hidden], [type=file], [type=submit], [type=button]), select, textarea";

const came = performance.getEntriesByType("navigation")[0] ?? {};
const refused = came.responseStatus >= 400 && came.responseStatus !== 422;
const again = came.type === "reload" || came.type === "back_forward";
const answered = new WeakSet(); // forms that came back asking before they post: what they show was typed

/** What a field holds before anybody typed. */
export function plain(field) {
  if (field.matches("[type=checkbox], [type=radio]")) return field.defaultChecked;
  if (!field.matches("select")) return field.defaultValue;
  const options = [...field.options];
  return (options.find((option) => option.defaultSelected) ?? options[0])?.value;
}

export function typed(field) {
  return field.matches("[type=checkbox], [type=radio]") ? field.checked : field.value;
}

function set(field, value) {
  if (field.matches("[type=checkbox], [type=radio]")) field.checked = value;
  else field.value = value;
}

// -- what became of what was sent before ---------------------------------------------------------------

function names(beginning) {
  try {
    return Object.keys(sessionStorage).filter((name) => name.startsWith(beginning));
  } catch {
    return []; // no storage in this browser
  }
}

function forget(name) {
  sessionStorage.removeItem(name);
  sessionStorage.removeItem(STATE + name);
}

/** Drop all that this tab keeps of what was typed. */
export const forgetAll = () => names(ALL).forEach(forget);

for (const state of names(STATE)) {
  if (sessionStorage.getItem(state) !== "sent") continue;
  if (!person || refused) sessionStorage.setItem(state, "failed");
  else if (came.responseStatus === 422 || (came.type === "navigate" && came.redirectCount)) forget(state.slice(STATE.length));
}

// -- keeping and putting back ------------------------------------------------------------------------

const fieldsOf = (form) => [...form.elements].filter((field) => field.name && field.matches(EDITED));

/** The form's id too: sent again it is the same form, which is taken once. */
const idOf = (form) => form.querySelector("input[type=hidden][name=key]");

async function keep(form, name) {
  const fields = fieldsOf(form);
  const shown = answered.has(form) || came.responseStatus === 422;
  if (!shown && !fields.some((field) => typed(field) !== plain(field))) return forget(name);
  const at = Date.now();
  const text = await seal(name, at, { id: idOf(form)?.value, fields: fields.map((field) => [field.name, field.type === "radio" ? field.value : "", typed(field)]) });
  if (text.length > MOST) return;
  try {
    sessionStorage.setItem(name, text);
  } catch {
    // no room: the page itself still has it
  }
}

function putBack(form, kept) {
  form.dispatchEvent(new CustomEvent("putback", { detail: kept.fields.map(([name]) => name) })); // lines are made again
  const waiting = [...kept.fields];
  for (const field of fieldsOf(form)) {
    const at = waiting.findIndex(([name, choice]) => name === field.name && choice === (field.type === "radio" ? field.value : ""));
    if (at >= 0) set(field, waiting.splice(at, 1)[0][2]);
  }
  if (kept.id && idOf(form)) idOf(form).value = kept.id;
}

function notice(form, sentence, ...buttons) {
  const box = document.createElement("div");
  box.className = "notice cluster typed";
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  said.textContent = sentence;
  box.append(said);
  for (const [text, act] of buttons) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet";
    button.textContent = text;
    button.addEventListener("click", () => {
      box.remove();
      act();
    });
    box.append(button);
  }
  form.insertAdjacentElement("beforebegin", box); // a field of the form may be called before
}

async function offer(form, name) {
  const text = sessionStorage.getItem(name);
  const kept = text && (await unseal(name, text));
  if (!kept) return;
  const state = sessionStorage.getItem(STATE + name);
  if (state === "sent" && !again && kept.id && idOf(form)?.value === kept.id) {
    answered.add(form); // an empty form has an id of its own: this one is the server's answer
    return sessionStorage.removeItem(STATE + name);
  }
  const drop = ["Drop it", () => { forget(name); form.reset(); }];
  const files = form.querySelector("[type=file]") ? " Choose files again." : "";
  if (state === "failed" || again) {
    const before = fieldsOf(form).map(typed).join("\0");
    putBack(form, kept);
    if (state === "failed") notice(form, `This was not taken. What you typed is put back: look at it and send it again.${files}`, drop);
    else if (before !== fieldsOf(form).map(typed).join("\0")) notice(form, `What you typed here is put back.${files}`, drop);
  } else {
    const sentence = state ? "No answer came to what you last sent from here: look whether it is recorded." : "You typed something here before and did not send it.";
    notice(form, sentence, ["Put it back", () => putBack(form, kept)], drop);
  }
}

function watch(form, index) {
  const name = `${ALL}${person}:${location.pathname}:${form.getAttribute("action") ?? ""}:${index}`;
  offer(form, name);
  for (const happened of ["input", "change"]) form.addEventListener(happened, () => keep(form, name));
  form.addEventListener("submit", () => {
    sessionStorage.setItem(STATE + name, "sent");
    keep(form, name);
  });
}

if (person && !refused) {
  [...document.querySelectorAll("#main form[method=post]:not([hx-post], [data-own], [data-passkey-form])")].filter((form) => !form.querySelector(SECRET) && fieldsOf(form).length).forEach(watch);
}
