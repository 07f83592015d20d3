// A shared phone locks after minutes without a touch. The server decides it and keeps the time; this tells it of touches
// that send nothing, and covers the page when the time is over, so that what was typed is still there when its person
// comes back. Without the network nobody could unlock it, so it does not lock before the network is back.

import * as phone from "./phone.js";
import { ready } from "./pin.js";

const place = document.getElementById("lock");
const LOCK_MS = Number(place?.dataset.minutes) * 60000;
const TELL_MS = Math.min(LOCK_MS / 4, 60000);
const LOOK_MS = 5000;
const here = () => location.pathname + location.search;

let touched = Date.now();
let told = touched;
let looking = false;
let cover = null;

const isOver = () => !cover && Date.now() - touched >= LOCK_MS;

function touch() {
  if (cover) return;
  if (isOver()) return void look();
  touched = Date.now();
  if (touched - told >= TELL_MS) tell();
}

const token = () => JSON.parse(document.body.getAttribute("hx-headers") ?? "{}")["X-CSRFToken"] ?? "";

async function ask(how) {
  return fetch(place.dataset.touched, { signal: AbortSignal.timeout(phone.TIMEOUT_MS), ...how });
}

function tell() {
  told = Date.now();
  ask({ method: "POST", headers: { "X-CSRFToken": token(), "X-Person": phone.person } }).catch(() => {});
}

/** Whether it is locked says the server: another tab may have been touched. */
async function look() {
  if (looking) return;
  looking = true;
  try {
    const answer = await ask({ headers: { "HX-Request": "true" } });
    if (answer.headers.get("HX-Redirect")) await lock();
    else if (answer.status === 204) touched = Date.now();
  } catch {
    // no network: it is asked again
  } finally {
    looking = false;
  }
}

const away = (page, more = "") => location.assign(`${page}?next=${encodeURIComponent(here())}${more}`);

async function lock() {
  const answer = await fetch(`${place.dataset.unlock}?next=${encodeURIComponent(here())}`, { signal: AbortSignal.timeout(phone.TIMEOUT_MS) });
  if (!answer.ok || answer.redirected) return away("/sign-in/");
  cover = document.createElement("dialog");
  cover.className = "cover";
  cover.setAttribute("aria-label", "Locked");
  cover.addEventListener("cancel", (event) => event.preventDefault());
  fill(await answer.text());
  document.body.append(cover);
  document.body.classList.add("locked");
  cover.showModal();
  cover.querySelector("[name=pin]")?.focus();
}

function fill(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  cover.replaceChildren(document.adoptNode(page.querySelector(".thumb")));
  const form = cover.querySelector("[data-pin]");
  ready(form);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    event.stopPropagation();
    unlock(form);
  });
}

async function unlock(form) {
  const body = new URLSearchParams(new FormData(form));
  let answer;
  try {
    answer = await fetch(form.action, { method: "POST", body, headers: { "HX-Request": "true" }, signal: AbortSignal.timeout(phone.TIMEOUT_MS) });
  } catch {
    form.reset();
    return say(form, "There is no network just now, and only the server knows the PIN. Try again when it is back.");
  }
  if (answer.status === 204) return open();
  if (answer.status === 422) return fill(await answer.text());
  return away("/sign-in/", "&fully=yes");
}

function say(form, sentence) {
  const said = document.createElement("p");
  said.className = "notice bad";
  said.setAttribute("role", "alert");
  said.textContent = sentence;
  form.querySelector(".notice")?.remove();
  form.prepend(said);
}

/** The same person is back: the page goes on with the keys of the new sign-in. */
async function open() {
  try {
    const answer = await fetch("/me/units/", { signal: AbortSignal.timeout(phone.TIMEOUT_MS) });
    if (answer.headers.get("X-Person") !== phone.person) return location.reload();
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    document.body.setAttribute("hx-headers", page.body.getAttribute("hx-headers"));
    for (const field of document.querySelectorAll("[name=csrfmiddlewaretoken]")) field.value = token();
  } catch {
    return location.reload();
  }
  phone.signedIn();
  touched = told = Date.now();
  document.body.classList.remove("locked");
  cover.remove();
  cover = null;
}

if (place) {
  for (const name of ["pointerdown", "keydown", "input", "wheel", "touchmove"]) document.addEventListener(name, touch, { capture: true, passive: true });
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && isOver() && look());
  window.addEventListener("online", () => isOver() && look());
  setInterval(() => isOver() && look(), LOOK_MS);
}
