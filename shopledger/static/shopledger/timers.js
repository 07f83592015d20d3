// A pump or a hold that runs. The minutes count on from what the server said, also while the phone sleeps or the page is
// loaded anew; when they are over it rings: a tone and the phone's motor where they are allowed, and words on the page.
// On wish the screen stays on meanwhile.

import { stored } from "./phone.js";

const AWAKE = "screen-stays-on";
const TONE_S = 0.25;
const RINGS = 3;
const clock = () => document.querySelectorAll("[data-running]");
const runs = (shown) => !shown.closest("[hidden]");
const rung = new Set(); // what was rung for on this page
let sound = null;
let lock = null;

/** A timer that has just been started by a tap. */
export function restart(part) {
  for (const shown of part.querySelectorAll("[data-running]")) {
    shown.dataset.running = "0";
    shown.dataset.since = String(Date.now());
    rung.delete(shown.dataset.what);
    part.querySelector(".due")?.remove();
  }
  tick();
}

function tick() {
  let running = false;
  for (const shown of clock()) {
    if (!runs(shown)) continue;
    running = true;
    shown.dataset.since ??= String(Date.now() - 1000 * Number(shown.dataset.running));
    const minutes = (Date.now() - Number(shown.dataset.since)) / 60000;
    shown.textContent = `${Math.floor(minutes)} min`;
    if (minutes >= Number(shown.dataset.due) && document.visibilityState === "visible") due(shown);
  }
  offerAwake(running);
}

function due(shown) {
  shown.classList.add("is-due");
  const { what } = shown.dataset;
  const first = !rung.has(what);
  rung.add(what);
  const figure = shown.closest(".figure");
  if (!figure.previousElementSibling?.matches(".due")) figure.before(inWords(what, first)); // also on a page shown anew
  if (!first) return;
  ring();
  document.dispatchEvent(new CustomEvent("timer:due", { detail: { what } }));
}

/** Read out only the first time. */
function inWords(what, first) {
  const said = document.createElement("p");
  said.className = "notice success due";
  if (first) said.setAttribute("role", "alert");
  said.textContent = `${what}. Read the gauge now.`;
  return said;
}

function ring() {
  navigator.vibrate?.([400, 200, 400, 200, 400]);
  if (sound?.state !== "running") return;
  for (let at = 0; at < RINGS; at += 1) {
    const tone = new OscillatorNode(sound, { frequency: 880 });
    const level = new GainNode(sound, { gain: 0.3 });
    tone.connect(level).connect(sound.destination);
    tone.start(sound.currentTime + 2 * TONE_S * at);
    tone.stop(sound.currentTime + 2 * TONE_S * at + TONE_S);
  }
}

/** A browser makes no sound that no finger asked for: the first tap on the page opens the way. */
function openSound() {
  if (!globalThis.AudioContext) return;
  sound ??= new AudioContext();
  sound.resume().catch(() => {});
}

// -- the screen -----------------------------------------------------------------------------------------

const wished = () => stored(() => localStorage.getItem(AWAKE) === "yes", false);

function offerAwake(running) {
  const place = document.getElementById("awake");
  if (place) place.hidden = !running || !navigator.wakeLock;
  if (running && wished()) hold();
  else release();
}

async function hold() {
  if (lock || document.visibilityState !== "visible" || !navigator.wakeLock) return;
  lock = "asked";
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => (lock = null));
  } catch {
    lock = null; // a battery that is nearly empty
  }
}

function release() {
  lock?.release?.();
}

document.addEventListener("change", (event) => {
  if (!event.target.matches("#awake input")) return;
  stored(() => localStorage.setItem(AWAKE, event.target.checked ? "yes" : ""));
  tick();
});

document.addEventListener("pointerdown", openSound, { passive: true });
document.addEventListener("visibilitychange", tick);
document.addEventListener("bay:shown", tick);
const box = document.querySelector("#awake input");
if (box) box.checked = wished();
tick();
setInterval(tick, 1000);
