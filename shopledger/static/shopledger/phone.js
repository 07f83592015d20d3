// Whose this phone is just now, and what it keeps for each person until that person's entries are sent.
//
// An entry is sealed (AES-GCM) with a key that the server gives to the pages of its writer alone. The key is kept
// nowhere but in those pages: when they are gone, only the writer's next sign-in opens the entry again. Browsers seal
// only over TLS or on the computer itself; elsewhere an entry is hidden from others, and the phone says that it is
// not locked.

export const box = document.getElementById("outbox");
export const person = box?.dataset.person ?? ""; // "" where nobody is signed in
export const TIMEOUT_MS = 20000;

const WHO = "signed-in"; // who was signed in on the page that was last loaded from the server
export const PAGES = "job-pages"; // what the worker's kept pages begin with
const ALL = "outbox:";
const MINE = `${ALL}${person}:`;
const hexadecimal = (box?.dataset.key ?? "").split(" ").filter(Boolean); // the one that seals, then those that still open
box?.removeAttribute("data-key");
const keys = globalThis.crypto?.subtle
  ? hexadecimal.map((one) => crypto.subtle.importKey("raw", unhex(one), "AES-GCM", false, ["encrypt", "decrypt"]))
  : [];

export const seals = keys.length > 0;

// -- whose the phone is ------------------------------------------------------------------------------

/** What works on what this browser stores; `otherwise` where it stores nothing. */
export function stored(work, otherwise = null) {
  try {
    return work();
  } catch {
    return otherwise;
  }
}

/** Drop the pages that the worker keeps, but for those of the person who is signed in. */
export async function dropPages(but = "") {
  if (!globalThis.caches) return;
  for (const name of await caches.keys()) if (name.startsWith(PAGES) && name !== `${PAGES}:${but}`) await caches.delete(name);
}

/** Nobody is signed in any more: other open pages of that person go, and so do the kept ones. */
export async function signedOut() {
  stored(() => localStorage.setItem(WHO, ""));
  await dropPages();
}

/** This page's person signed in again while it stood open. */
export function signedIn() {
  stored(() => localStorage.setItem(WHO, person));
  box?.removeAttribute("data-signed-out");
}

/** Whether this page's person is still the one whose phone it is. */
const isHere = () => stored(() => localStorage.getItem(WHO) === person, true);

/** This page is of somebody who is not signed in here any more: it is shown to nobody. */
export async function leave() {
  document.documentElement.hidden = true;
  await dropPages(stored(() => localStorage.getItem(WHO)) ?? "").catch(() => {});
  location.reload();
}

if (box) {
  if (!box.hasAttribute("data-kept")) {
    stored(() => localStorage.setItem(WHO, person));
    dropPages(person).catch(() => {});
  } else if (!isHere()) leave();
  const look = () => isHere() || leave();
  window.addEventListener("pageshow", (event) => event.persisted && look());
  window.addEventListener("storage", (event) => event.key === WHO && look());
}

// -- sealing -----------------------------------------------------------------------------------------

function unhex(text) {
  return Uint8Array.from(text.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16));
}

function hex(bytes) {
  return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** Bytes as a text of as many letters: storage counts letters. */
function letters(bytes) {
  const parts = [];
  for (let at = 0; at < bytes.length; at += 8192) parts.push(String.fromCharCode(...bytes.subarray(at, at + 8192)));
  return parts.join("");
}

const coded = (text) => new TextEncoder().encode(text);
/** What a seal is bound to: nothing can be moved under another name. */
const method = (name, at, iv) => ({ name: "AES-GCM", iv, additionalData: coded(`${name} ${at}`) });

export async function seal(name, at, value) {
  const text = JSON.stringify(value);
  if (!seals) return `${JSON.stringify({ at })}\n${text}`;
  const iv = crypto.getRandomValues(new Uint8Array(12));
  const sealed = await crypto.subtle.encrypt(method(name, at, iv), await keys[0], coded(text));
  return `${JSON.stringify({ at, iv: hex(iv) })}\n${letters(new Uint8Array(sealed))}`;
}

/** What was sealed under this name, or null where no key of this person's opens it. */
export async function unseal(name, kept) {
  try {
    const { at, iv } = head(kept);
    const body = kept.slice(kept.indexOf("\n") + 1);
    if (!iv) return JSON.parse(body);
    const bytes = Uint8Array.from(body, (letter) => letter.charCodeAt(0));
    const open = async (key) => crypto.subtle.decrypt(method(name, at, unhex(iv)), await key, bytes);
    return JSON.parse(new TextDecoder().decode(await Promise.any(keys.map(open))));
  } catch {
    return null;
  }
}

function head(kept) {
  return stored(() => JSON.parse(kept.slice(0, kept.indexOf("\n")))) ?? {};
}

// -- entries -----------------------------------------------------------------------------------------

const spare = new Map(); // what found no room: it lives as long as the page stands
const opened = new Map(); // what was unsealed once
const turn = (work) => (navigator.locks ? navigator.locks.request(`${ALL}${person}:turn`, work) : work());

export const noRoom = () => spare.size > 0;

const kept = (name) => spare.get(name) ?? stored(() => localStorage.getItem(name));

function names() {
  const all = stored(() => Object.keys(localStorage), []);
  return [...new Set([...all.filter((name) => name.startsWith(MINE)), ...spare.keys()])].sort();
}

/** How many entries of this person wait, opened or not. */
export const waiting = () => (person ? names().length : 0);

/** How many entries of other people wait here, and of how many people. */
export function ofOthers() {
  const all = stored(() => Object.keys(localStorage), []).filter((name) => /^outbox:\w+:/.test(name) && !(person && name.startsWith(MINE)));
  return { entries: all.length, people: new Set(all.map((name) => name.split(":")[1])).size };
}

/** This person's entries, oldest first, and the names of those that do not open. */
export async function load() {
  if (!person) return { entries: [], closed: [] };
  await adopt();
  const entries = [];
  const closed = [];
  for (const name of names()) {
    const text = kept(name);
    if (text === null) continue; // sent by another tab meanwhile
    if (opened.get(name)?.text !== text) opened.set(name, { text, entry: await unseal(name, text) });
    const { entry } = opened.get(name);
    if (entry) entries.push({ ...entry, name, at: head(text).at });
    else closed.push(name);
    if (entry && seals && !head(text).iv) await put({ ...entry, name, at: head(text).at });
  }
  return { entries, closed };
}

/** Keep an entry; one that has a name takes the place of what has that name. */
async function put(entry) {
  const { name, at, ...said } = entry;
  const text = await seal(name, at, said);
  try {
    localStorage.setItem(name, text);
    spare.delete(name);
  } catch {
    spare.set(name, text);
  }
}

function newName() {
  const last = Number(names().at(-1)?.slice(MINE.length).split("-")[0] ?? 0);
  const number = String(Math.max(Date.now(), last + 1)).padStart(15, "0");
  return `${MINE}${number}-${hex(crypto.getRandomValues(new Uint8Array(4)))}`;
}

/** Keep what `make` makes of the entry that has this id, or of nothing; what it answers is kept unless it is null. */
export function keepOne(id, make) {
  return turn(async () => {
    const old = (await load()).entries.find((entry) => entry.id === id);
    const entry = make(old);
    if (entry) await put({ ...entry, id, name: old?.name ?? newName() });
  });
}

const isSame = (entry) => head(kept(entry.name) ?? "").at === entry.at;

/** Take an entry away; not where it was typed anew meanwhile. */
export function remove(entry) {
  if (isSame(entry)) removeNamed(entry.name);
}

export function removeNamed(name) {
  spare.delete(name);
  opened.delete(name);
  stored(() => localStorage.removeItem(name));
}

/** Keep why the server refused an entry; not where it was typed anew meanwhile. */
export function refuse(entry, refused) {
  return turn(() => (isSame(entry) ? put({ ...entry, refused }) : null));
}

/** Keep that the server failed at an entry once more. */
export function failed(entry) {
  return turn(() => (isSame(entry) ? put({ ...entry, failed: (entry.failed ?? 0) + 1 }) : null));
}

/** What an earlier version of this program kept, as one list that was not sealed: entry by entry, so that each is
 *  always in the list or kept here. */
async function adopt() {
  const list = `${ALL}${person}`;
  for (let text; (text = stored(() => localStorage.getItem(list))); ) {
    const [entry, ...rest] = stored(() => JSON.parse(text)) ?? [];
    if (!entry) return stored(() => localStorage.removeItem(list));
    const { at, ...said } = entry;
    const name = newName();
    const sealed = await seal(name, at, said);
    if (localStorage.getItem(list) !== text) continue; // another tab took it
    localStorage.setItem(list, JSON.stringify(rest));
    try {
      localStorage.setItem(name, sealed);
    } catch {
      return localStorage.setItem(list, text); // when others are sent there is room
    }
  }
}

/** Call this when another tab keeps or sends something. */
export function onChange(show) {
  window.addEventListener("storage", (event) => (event.key === null || event.key.startsWith(ALL)) && show());
}
