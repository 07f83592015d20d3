// Entries that found no network. Each is kept on this phone as it would have been sent, shown as such, and sent in
// its order once the network is back. The server takes each once: a line or photo by its key, a step by what its page
// showed, a clock by its first tap. What it refuses stays here with its sentence until a person mends or drops it.

import { inWords } from "./in_words.js";
import * as phone from "./phone.js";

const { box, person } = phone;
const RETRY_MS = 4000;
const AWAY = new Set([502, 503, 504]); // a proxy or the database is away: the same as no network
const FAILS = 2; // times that the server failed at an entry: its person may take it back
const LONGEST_SIDE = 1600; // points of a photo that is kept: a label can still be read, and many have room
const SMALL = 300000; // bytes of a drawing that is kept as it is: a signature is one

// -- keeping -----------------------------------------------------------------------------------------

/** What an entry is about: a later one about the same takes the place of one that was not sent yet. */
function subject(path, fields) {
  const key = fields.find(([name]) => name === "key")?.[1];
  if (path.includes("/photos/")) return `photo ${key ?? path}`;
  return path.includes("/entry/") && key && !path.includes("/remove/") ? `entry ${key}` : path;
}

async function keep(path, formData, said) {
  const fields = [];
  for (const [name, value] of formData.entries()) {
    if (name === "csrfmiddlewaretoken") continue;
    if (typeof value === "string") fields.push([name, value]);
    else if (value.size) fields.push([name, { name: value.name, data: await picture(value) }], ...(await chosen(name, value)));
  }
  const tap = /\/(clock|vacuum)\//.test(path);
  await phone.keepOne(subject(path, fields), (old) => {
    if (tap && old && !old.refused) return null; // the first tap is the one that counts
    if (tap || path.endsWith("/entry/")) {
      const first = old?.fields.find(([name]) => name === "tapped")?.[1];
      fields.push(["tapped", first ?? new Date().toISOString()]); // of an entry: when its first reading was typed
    }
    return { path, fields, said, at: Date.now(), page: location.pathname };
  });
  await show();
}

/** Which file was chosen, whatever is kept of it: the server may have it already, of a request whose answer was lost. A
 *  page that came without encryption cannot tell; there such a photo is refused as one that is recorded already. */
async function chosen(name, file) {
  if (!crypto.subtle) return [];
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", await file.arrayBuffer()));
  return [[`${name}-sha256`, Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("")]];
}

/** A photo as text, made small enough to be kept; a drawing as it is. */
async function picture(file) {
  if (file.type === "image/png" && file.size <= SMALL) return asText(file);
  try {
    const image = await createImageBitmap(file);
    const scale = Math.min(1, LONGEST_SIDE / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(image.width * scale);
    canvas.height = Math.round(image.height * scale);
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/jpeg", 0.8);
  } catch {
    return asText(file); // no picture that this browser knows: the server judges it
  }
}

function asText(file) {
  return new Promise((done) => {
    const reader = new FileReader();
    reader.onload = () => done(reader.result);
    reader.readAsDataURL(file);
  });
}

function bytes(data) {
  const [head, body] = data.split(",");
  const raw = Uint8Array.from(atob(body), (letter) => letter.charCodeAt(0));
  return new Blob([raw], { type: /data:([^;]*)/.exec(head)?.[1] || "application/octet-stream" });
}

// -- showing -------------------------------------------------------------------------------------------

function element(name, text, className = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (className) made.className = className;
  return made;
}

let away = phone.waiting() > 0; // whether what waits found no network, rather than being on its way just now
let arriving = false; // what was taken, and does not stand on the page yet

async function show() {
  if (!box) return;
  showOthers();
  const { entries: all, closed } = await phone.load();
  const entries = all.filter((entry) => away || entry.refused);
  document.body.toggleAttribute("data-sending", arriving || all.length > entries.length);
  const signature = JSON.stringify([entries.map((entry) => [entry.name, entry.at, entry.refused, entry.failed >= FAILS]), closed, box.dataset.signedOut]);
  if (box.dataset.shows === signature) return;
  box.dataset.shows = signature;
  box.hidden = !entries.length && !closed.length;
  const parts = [];
  if (phone.noRoom()) parts.push(element("p", "This phone has no room left: some of these are kept only while this page stays open.", "notice error"));
  const refused = entries.filter((entry) => entry.refused).length;
  if (entries.length > refused) parts.push(element("p", "Kept on this phone, not sent yet", "outbox-head"));
  else if (refused) parts.push(element("p", "Kept on this phone, not taken", "outbox-head"));
  parts.push(element("ul", ""));
  parts.at(-1).append(...entries.map(line));
  if (closed.length) parts.push(unopened(closed));
  box.replaceChildren(...parts, ...(box.dataset.signedOut ? [signInLink()] : []));
  document.dispatchEvent(new CustomEvent("outbox:shown"));
}

export function entryTime(entry) {
  return new Date(entry.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
}

function line(entry) {
  const item = element("li", "");
  item.append(element("strong", entry.said), ` ${entryTime(entry)}`);
  if (entry.page !== location.pathname) {
    const there = element("a", " its job");
    there.href = entry.page;
    item.append(" ", there);
  }
  const why = entry.refused || (entry.failed >= FAILS ? "The server fails at this. It is tried again; or take it back, and write it anew." : "");
  if (why) {
    item.append(element("p", why, "notice error"));
    const row = element("div", "", "cluster");
    if (entry.page === location.pathname) row.append(button("Put it back into its form", () => putBack(entry)));
    row.append(button("Drop it", () => drop(entry), "quiet danger"));
    item.append(row);
  }
  return item;
}

/** Of what other people wrote, only that it waits. */
function showOthers() {
  const place = document.getElementById("others");
  if (!place) return;
  const { entries, people } = phone.ofOthers();
  const [some, wait, them] = entries === 1 ? ["1 entry", "waits", "it"] : [`${entries} entries`, "wait", "them"];
  const [other, they, sign] = people === 1 ? ["another person", "the person who", "signs"] : ["other people", "the people who", "sign"];
  const sentence = person
    ? `${some} of ${other} ${wait} on this phone until they sign in.`
    : `${some} ${wait} on this phone until ${they} wrote ${them} ${sign} in.`;
  place.textContent = entries ? sentence : "";
  place.hidden = !entries;
}

/** What this person's key does not open: it cannot be sent, and is not thrown away unasked. */
function unopened(closed) {
  const part = element("div", "", "stack");
  const one = closed.length === 1;
  part.append(
    element("p", `${one ? "1 entry" : `${closed.length} entries`} of yours cannot be opened: written for another ledger at this address, or before its server got a new secret key. ${one ? "It stays" : "They stay"} here.`, "notice error"),
    button(one ? "Drop it" : "Drop them", () => {
      if (!confirm("Drop what cannot be opened? It was not recorded.")) return;
      closed.forEach(phone.removeNamed);
      show();
    }, "quiet danger"),
  );
  return part;
}

function signInLink() {
  const said = element("p", "You were signed out. ");
  const link = element("a", "Sign in again");
  link.href = `/sign-in/?next=${encodeURIComponent(location.pathname)}`;
  said.append(link, "; what is kept here is sent then.");
  return said;
}

function button(text, act, className = "") {
  const made = element("button", text, className);
  made.type = "button";
  made.addEventListener("click", act);
  return made;
}

function drop(entry) {
  if (confirm(`Drop “${entry.said}”? It was not recorded.`)) remove(entry);
}

function remove(entry) {
  phone.remove(entry);
  show();
}

/** Into the form that it was typed in, where that is still on the page; else into the one for a new entry. */
function putBack(entry) {
  const value = (name) => entry.fields.find(([field]) => field === name)?.[1];
  const forms = [...document.querySelectorAll("form[data-own]")].filter((form) => !form.querySelector("[name=quick]"));
  const of = (form, name) => form.querySelector(`[name=${name}]`)?.value;
  const form =
    forms.find((one) => value("key") && of(one, "key") === value("key")) ??
    forms.find((one) => value("action") && of(one, "action") === value("action") && !of(one, "shown")) ??
    forms.find((one) => one.getAttribute("action") === entry.path.replace(/\/(clock|vacuum)\/\w+\//, "/step/evacuate/"));
  if (!form) return;
  for (const [name, typed] of entry.fields) {
    const field = form.querySelector(`[name="${CSS.escape(name)}"]`);
    if (!field || ["shown", "csrfmiddlewaretoken", "quick", "tapped"].includes(name)) continue;
    if (field.type === "checkbox") field.checked = true;
    else if (field.type !== "hidden" || name === "key" || name.endsWith("_raw")) field.value = typed; // what a scale sent belongs to its weight
  }
  for (let it = form; it; it = it.parentElement) if (it.matches("details")) it.open = true;
  form.scrollIntoView({ block: "center" });
  form.querySelector("input:not([type=hidden]), select, textarea")?.focus({ preventScroll: true });
  remove(entry);
}

// -- sending -------------------------------------------------------------------------------------------

function token() {
  return JSON.parse(document.body.getAttribute("hx-headers") ?? "{}")["X-CSRFToken"] ?? "";
}

/** A sign-in since this page was opened has another token: the page as it is now carries it, if it is still this
 *  person's. */
async function freshToken() {
  const answer = await fetch("/me/units/");
  if (answer.headers.get("X-Person") !== person) return false;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const headers = page.body.getAttribute("hx-headers");
  if (headers) document.body.setAttribute("hx-headers", headers);
  return Boolean(headers);
}

async function post(entry) {
  const files = entry.fields.some(([, value]) => typeof value !== "string");
  const body = files ? new FormData() : new URLSearchParams();
  for (const [name, value] of entry.fields) {
    if (typeof value === "string") body.append(name, value);
    else body.append(name, bytes(value.data), value.name);
  }
  return fetch(entry.path, { method: "POST", headers: headers(), body, signal: AbortSignal.timeout(phone.TIMEOUT_MS) });
}

const headers = () => ({ "HX-Request": "true", "HX-Current-URL": location.href, "X-CSRFToken": token(), "X-Person": person });

/** The sentences of an answer that refuses. */
function sentences(html, status) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const found = [...page.querySelectorAll(".errors li, .errors > p, .errorlist li, .field .error")].map((one) => one.textContent.trim());
  const said = [...new Set(found)].filter(Boolean).join(" ") || page.body.textContent.trim().replace(/\s+/g, " ").slice(0, 400);
  return said || `The server answered ${status}.`;
}

let sending = false;

/** Send what waits, oldest first, until one finds no network. What the server fails at keeps back no other. */
async function send() {
  if (sending || !person || !phone.waiting()) return;
  sending = true;
  try {
    if (navigator.locks) await navigator.locks.request(`outbox:${person}`, { ifAvailable: true }, (lock) => lock && sendAll());
    else await sendAll();
  } finally {
    sending = false;
  }
}

async function sendAll() {
  let shown = null;
  const tried = new Set();
  for (let entry; (entry = (await phone.load()).entries.find((one) => !one.refused && !tried.has(one.name))); ) {
    let answer;
    try {
      answer = await post(entry);
      if (answer.status === 403 && (await freshToken())) answer = await post(entry);
    } catch {
      away = true;
      break;
    }
    const handedNow = !away;
    if (AWAY.has(answer.status) || (await isAnothers(answer))) {
      away = true;
      const there = answer.headers.get("HX-Redirect");
      if (handedNow && there?.startsWith("/sign-in/")) location.assign(there); // whoever stands there now sees no job of another
      break;
    }
    if (answer.status >= 500) {
      away = true;
      tried.add(entry.name);
      await phone.failed(entry);
      continue;
    }
    const text = await answer.text();
    const here = entry.page === location.pathname;
    // Where it was typed anew while it was on its way, it stays and is sent again.
    if (answer.ok || (here && !away && answer.status === 422 && (await isLast(entry)) && isWork(text))) {
      phone.remove(entry);
      shown = here ? text : shown;
      arriving = Boolean(shown);
    } else {
      await phone.refuse(entry, sentences(text, answer.status));
      if (here && isWork(text)) shown = null; // what it is, is asked for anew
    }
    await show();
  }
  if (!phone.waiting()) away = false;
  if (shown) document.dispatchEvent(new CustomEvent("outbox:answer", { detail: { html: shown } }));
  arriving = false;
  await show();
}

const isWork = (text) => text.includes('id="bay"');

/** Whether nothing waits behind an entry: then its page shows what was wrong with it, in the form that it was typed in.
 *  What found no network before stays here instead: nobody may be looking when its answer comes. */
async function isLast(entry) {
  const waiting = (await phone.load()).entries;
  return waiting.every((one) => one.refused || one.name === entry.name);
}

/** Whether the answer is to nobody, or to another person: the entry stays for its writer. */
async function isAnothers(answer) {
  if (answer.headers.get("HX-Redirect")) {
    away = true;
    box.dataset.signedOut = "yes";
    await phone.signedOut();
    await show();
    return true;
  }
  const whose = answer.headers.get("X-Person") ?? person; // what is refused before anybody is asked for is this page's
  if (whose !== person) await phone.leave();
  return whose !== person;
}

/** The field for the one reading that a form asks for, while nothing is read: a finger came down twice. */
const unread = (form) => form.matches(".weigh") && [...form.querySelectorAll(".field > .with-unit > input, .field > input")].find((field) => field.type !== "hidden" && field.name !== "container" && !field.value.trim());

// -- when ----------------------------------------------------------------------------------------------

/** A form of a job is handed over: the page goes on at once, and what it says is kept here until the server has it. */
async function hand(form, submitter) {
  const path = new URL(submitter?.getAttribute("formaction") ?? form.getAttribute("action"), location.href).pathname; // a field may be named action
  const data = new FormData(form, submitter);
  const said = inWords(form, path, [...data.entries()]);
  document.body.toggleAttribute("data-sending", true);
  document.dispatchEvent(new CustomEvent("outbox:handed", { detail: { form, path, fields: [...data.entries()] } }));
  const files = [...data.values()].some((value) => typeof value !== "string" && value.size);
  if (files && (await sentWhole(path, data))) return show();
  await keep(path, data, said);
  await send();
}

/** A photo goes as it was taken where there is a network; else it is made smaller, and kept. Whether it went. */
async function sentWhole(path, data) {
  let answer;
  try {
    answer = await fetch(path, { method: "POST", headers: headers(), body: data, signal: AbortSignal.timeout(phone.TIMEOUT_MS) });
  } catch {
    return false;
  }
  if (AWAY.has(answer.status) || answer.status >= 500 || answer.status === 403 || (await isAnothers(answer))) return false;
  const html = await answer.text();
  if (isWork(html)) document.dispatchEvent(new CustomEvent("outbox:answer", { detail: { html } }));
  else if (!answer.ok) document.getElementById("said")?.replaceChildren(element("p", sentences(html, answer.status), "notice error"));
  return true;
}

/** The sign-in ended, or another person's began, since this page was opened. */
async function noSignIn(event) {
  const { xhr } = event.detail;
  const there = xhr.getResponseHeader("HX-Redirect");
  const whose = xhr.getResponseHeader("X-Person");
  if (!there && (!whose || whose === person)) return;
  if (there && !there.startsWith("/sign-in/")) return;
  event.preventDefault();
  if (!there) return phone.leave();
  await phone.signedOut();
  location.assign(there);
}

if (box) {
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("form[data-own]") || event.defaultPrevented) return;
    event.preventDefault();
    const field = event.submitter?.name ? null : unread(event.target);
    if (field) field.focus();
    else hand(event.target, event.submitter);
  });
  document.addEventListener("htmx:beforeOnLoad", noSignIn);
  document.addEventListener("htmx:afterRequest", (event) => event.detail.successful && send());
  window.addEventListener("online", send);
  phone.onChange(show);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  setInterval(send, RETRY_MS);
  show();
  send();
}
