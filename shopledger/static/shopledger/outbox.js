// Entries that found no network. Each is kept on this phone as it would have been sent, shown as such, and sent in
// its order once the network is back. The server takes each once: a line or photo by its key, a step by what its page
// showed, a clock by its first tap. What it refuses stays here with its sentence until a person mends or drops it.

const box = document.getElementById("outbox");
const store = `outbox:${box?.dataset.person}`;
const RETRY_MS = 4000;
const TIMEOUT_MS = 20000;
const AWAY = new Set([502, 503, 504]); // a proxy or the database is away: the same as no network
const OWN = /\/jobs\/\d+\/(step|skip|clock|entry|photos)\//;
const LONGEST_SIDE = 1600; // points of a photo that is kept: a label can still be read, and many have room

let lastRead = [];
let full = false; // no room left on the phone: what is kept lives as long as the page stands

function read() {
  if (full) return lastRead;
  try {
    return JSON.parse(localStorage.getItem(store)) ?? [];
  } catch {
    return lastRead; // no storage in this browser: kept as long as the page stands
  }
}

function write(entries) {
  lastRead = entries;
  try {
    if (entries.length) localStorage.setItem(store, JSON.stringify(entries));
    else localStorage.removeItem(store);
    full = false;
  } catch {
    full = true;
  }
  show();
}

export const waiting = () => read();

// -- keeping -----------------------------------------------------------------------------------------

/** What an entry is about: a later one about the same takes the place of one that was not sent yet. */
function subject(path, fields) {
  const key = fields.find(([name]) => name === "key")?.[1];
  if (path.includes("/photos/")) return `photo ${key ?? path}`;
  return path.includes("/entry/") && key && !path.includes("/remove/") ? `entry ${key}` : path;
}

const key = (fields) => fields.find(([name]) => name === "key")?.[1];
const WORDS = { container: "", pick: "", before: "before", after: "after", quantity: "quantity", note: "note" };

function inWords(form, path, fields) {
  const clock = form.querySelector(`button[formaction="${path}"]`);
  if (clock) return clock.textContent.trim();
  if (path.includes("/remove/")) return "Remove an entry";
  const section = form.closest("details.sheet, section.sheet");
  const title = section?.querySelector("summary, h2")?.firstChild?.textContent.trim() || "Entry";
  if (path.includes("/photos/")) return key(fields) ? `Photo: ${fields.find(([name]) => name === "title")?.[1]}` : "Photo: changed";
  if (path.includes("/skip/")) return `${title}: skip it`;
  if (!path.includes("/entry/")) return `${title}: fields as typed`;
  const typed = Object.fromEntries(fields);
  const said = Object.keys(WORDS).filter((name) => typed[name]).map((name) => `${WORDS[name]} ${typed[name]}`.trim());
  return `${title.split(":")[0]}: ${said.join(", ")}`;
}

async function keep(form, path, formData) {
  const fields = [];
  for (const [name, value] of formData.entries()) {
    if (name === "csrfmiddlewaretoken") continue;
    if (typeof value === "string") fields.push([name, value]);
    else if (value.size) fields.push([name, { name: value.name, data: await picture(value) }], ...(await chosen(name, value)));
  }
  const entries = read();
  const id = subject(path, fields);
  const old = entries.find((entry) => entry.id === id);
  const clock = path.includes("/clock/");
  if (clock) {
    if (old) return; // the first tap is the one that counts
  }
  if (clock || path.endsWith("/entry/")) {
    const first = old?.fields.find(([name]) => name === "tapped")?.[1];
    fields.push(["tapped", first ?? new Date().toISOString()]); // of an entry: when its first reading was typed
  }
  const entry = { id, path, fields, said: inWords(form, path, fields), at: Date.now(), page: location.pathname };
  if (old) Object.assign(old, entry, { refused: "" });
  else entries.push(entry);
  write(entries);
  after(form, path, fields);
}

/** Which file was chosen, whatever is kept of it: the server may have it already, of a request whose answer was lost. A
 *  page that came without encryption cannot tell; there such a photo is refused as one that is recorded already. */
async function chosen(name, file) {
  if (!crypto.subtle) return [];
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", await file.arrayBuffer()));
  return [[`${name}-sha256`, Array.from(digest, (byte) => byte.toString(16).padStart(2, "0")).join("")]];
}

/** A photo as text, made small enough to be kept. */
async function picture(file) {
  try {
    const image = await createImageBitmap(file);
    const scale = Math.min(1, LONGEST_SIDE / Math.max(image.width, image.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(image.width * scale);
    canvas.height = Math.round(image.height * scale);
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/jpeg", 0.8);
  } catch {
    return new Promise((done) => {
      const reader = new FileReader(); // no picture that this browser knows: the server judges it
      reader.onload = () => done(reader.result);
      reader.readAsDataURL(file);
    });
  }
}

function bytes(data) {
  const [head, body] = data.split(",");
  const raw = Uint8Array.from(atob(body), (letter) => letter.charCodeAt(0));
  return new Blob([raw], { type: /data:([^;]*)/.exec(head)?.[1] || "application/octet-stream" });
}

// -- the page goes on without the network --------------------------------------------------------------

const CLOCKS = [
  ["evacuation_started", "Pump starts now"],
  ["evacuation_ended", "Pump stops now"],
  ["hold_started", "Hold starts now"],
  ["hold_ended", "Hold ends now"],
];

function after(form, path, fields) {
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
  const read = Number(String(before).replace(",", ".").replace(/[^\d.-]/g, ""));
  if (!figure?.dataset.take || !Number.isFinite(read)) return;
  const digits = (figure.dataset.take.split(".")[1] ?? "").length;
  const stop = Math.max(read - Number(figure.dataset.take), 0).toFixed(Math.max(digits, (String(read).split(".")[1] ?? "").length));
  figure.querySelector(".figure-label").textContent = "Without the network, by your reading: stop when the scale shows";
  figure.querySelector(".q").textContent = `${stop} ${figure.dataset.unit}`;
}

/** The form of a new entry is ready for another one, under a key of its own. */
function offerNew(form) {
  const key = form.querySelector("[name=key]");
  if (form.querySelector("[name=shown]")?.value || !key) return;
  key.value = crypto.randomUUID?.() ?? "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (c) => (+c ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (+c / 4)))).toString(16));
  form.reset();
}

// -- showing -------------------------------------------------------------------------------------------

function element(name, text, className = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (className) made.className = className;
  return made;
}

function show() {
  if (!box) return;
  const entries = read();
  const signature = JSON.stringify(entries.map((entry) => [entry.id, entry.at, entry.refused]));
  if (box.dataset.shows === signature) return;
  box.dataset.shows = signature;
  box.hidden = !entries.length;
  const heads = [];
  const lines = entries.map((entry) => {
    const line = element("li", "");
    const time = new Date(entry.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
    line.append(element("strong", entry.said), ` ${time}`);
    if (entry.page !== location.pathname) {
      const there = element("a", " its job");
      there.href = entry.page;
      line.append(" ", there);
    }
    if (entry.refused) {
      line.append(element("p", entry.refused, "notice error"));
      const row = element("div", "", "cluster");
      if (entry.page === location.pathname) row.append(button("Put it back into its form", () => putBack(entry)));
      row.append(button("Drop it", () => drop(entry), "quiet danger"));
      line.append(row);
    }
    return line;
  });
  if (full && entries.length) heads.push(element("p", "This phone has no room left: these are kept only while this page stays open.", "notice error"));
  const list = element("ul", "");
  list.append(...lines);
  const refused = entries.filter((entry) => entry.refused).length;
  if (entries.length > refused) heads.push(element("p", "Kept on this phone, not sent yet", "outbox-head"));
  else if (refused) heads.push(element("p", "Kept on this phone, not taken", "outbox-head"));
  box.replaceChildren(...heads, list, ...(box.dataset.signedOut ? [signInLink()] : []));
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
  write(read().filter((one) => one.id !== entry.id));
}

/** Into the form that it was typed in, where that is still on the page; else into the one for a new entry. */
function putBack(entry) {
  const value = (name) => entry.fields.find(([field]) => field === name)?.[1];
  const forms = [...document.querySelectorAll("form[hx-post]")].filter((form) => !form.matches(".weigh"));
  const of = (form, name) => form.querySelector(`[name=${name}]`)?.value;
  const form =
    forms.find((one) => value("key") && of(one, "key") === value("key")) ??
    forms.find((one) => value("action") && of(one, "action") === value("action") && !of(one, "shown")) ??
    forms.find((one) => one.getAttribute("action") === entry.path.replace(/\/clock\/\w+\//, "/step/evacuate/"));
  if (!form) return;
  for (const [name, typed] of entry.fields) {
    const field = form.querySelector(`[name="${CSS.escape(name)}"]`);
    if (!field || ["shown", "csrfmiddlewaretoken", "quick", "tapped"].includes(name)) continue;
    if (field.type === "checkbox") field.checked = true;
    else if (field.type !== "hidden" || name === "key") field.value = typed;
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

/** A sign-in since this page was opened has another token: the page as it is now carries it. */
async function freshToken() {
  const page = new DOMParser().parseFromString(await (await fetch("/me/units/")).text(), "text/html");
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
  const headers = { "HX-Request": "true", "HX-Current-URL": location.href, "X-CSRFToken": token() };
  return fetch(entry.path, { method: "POST", headers, body, signal: AbortSignal.timeout(TIMEOUT_MS) });
}

/** The sentences of an answer that refuses. */
function sentences(html, status) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const found = [...page.querySelectorAll(".errors li, .errors > p, .field .error")].map((one) => one.textContent.trim());
  const said = [...new Set(found)].filter(Boolean).join(" ") || page.body.textContent.trim().replace(/\s+/g, " ").slice(0, 400);
  return said || `The server answered ${status}.`;
}

let sending = false;

/** Send what waits, oldest first, until one finds no network. */
async function send() {
  if (sending || !box?.dataset.person || !read().some((entry) => !entry.refused)) return;
  sending = true;
  try {
    if (navigator.locks) await navigator.locks.request(store, { ifAvailable: true }, (lock) => lock && sendAll());
    else await sendAll();
  } finally {
    sending = false;
  }
}

async function sendAll() {
  let taken = false;
  for (let entry; (entry = read().find((one) => !one.refused)); ) {
    let answer;
    try {
      answer = await post(entry);
      if (answer.status === 403 && (await freshToken())) answer = await post(entry);
    } catch {
      break;
    }
    if (AWAY.has(answer.status) || answer.status >= 500) break;
    if (answer.headers.get("HX-Redirect")) {
      box.dataset.signedOut = "yes";
      delete box.dataset.shows;
      show();
      break;
    }
    const text = await answer.text();
    const entries = read();
    const same = entries.find((one) => one.id === entry.id);
    if (same && same.at === entry.at) {
      // else it was typed anew while it was on its way, and is sent again
      if (answer.ok) entries.splice(entries.indexOf(same), 1);
      else same.refused = sentences(text, answer.status);
      write(entries);
    }
    taken ||= answer.ok && entry.page === location.pathname;
  }
  if (taken) document.dispatchEvent(new CustomEvent("outbox:sent"));
}

// -- when ----------------------------------------------------------------------------------------------

function noNetwork(event) {
  const { elt, requestConfig } = event.detail;
  const form = elt?.closest("form");
  if (!form || requestConfig?.verb !== "post" || !OWN.test(requestConfig.path)) return;
  keep(form, requestConfig.path, requestConfig.formData);
  document.getElementById("said")?.replaceChildren();
}

if (box) {
  for (const name of ["htmx:sendError", "htmx:timeout"]) document.addEventListener(name, noNetwork);
  document.addEventListener("htmx:responseError", (event) => AWAY.has(event.detail.xhr.status) && noNetwork(event));
  document.addEventListener("htmx:afterRequest", (event) => event.detail.successful && send());
  window.addEventListener("online", send);
  window.addEventListener("storage", (event) => event.key === store && show());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
  setInterval(send, RETRY_MS);
  show();
  send();
}
