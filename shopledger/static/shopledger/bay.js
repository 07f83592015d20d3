// The job page where the browser runs scripts: steps open when they are led to, and nothing typed is lost when a
// part of the page is replaced. The page works without it.

import { waiting } from "./phone.js";
import { plain, typed } from "./typed.js";

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

// What is typed and not yet sent outlives the replacement of its part of the page; the form that was sent does not.

const kept = new Map();
let sent = null;

function keep(part) {
  for (const field of part?.querySelectorAll("input[id]:not([type=hidden]), select[id], textarea[id]") ?? []) {
    if (field.form !== sent && typed(field) !== plain(field)) kept.set(field.id, typed(field));
  }
}

document.addEventListener("htmx:beforeRequest", (event) => {
  sent = event.detail.elt.closest("form");
});
document.addEventListener("htmx:beforeSwap", (event) => keep(event.detail.target));
document.addEventListener("htmx:oobBeforeSwap", (event) => keep(event.detail.target));
document.addEventListener("htmx:afterSettle", () => {
  for (const [id, value] of kept) {
    const field = document.getElementById(id);
    if (!field || typed(field) !== plain(field)) continue;
    if (field.matches("[type=checkbox], [type=radio]")) field.checked = value;
    else field.value = value;
    open(id);
  }
  kept.clear();
});

// After a weight comes the next weight; a part that came back with faults is read from its summary.
document.addEventListener("htmx:afterSettle", () => {
  const next = sent?.matches(".weigh") && document.querySelector("#figures .weigh .field input");
  if (next) next.focus({ preventScroll: true });
  else document.querySelector(".page .errors[tabindex]")?.focus();
});

// Two people on one draft: what the other one entered is fetched when this page is looked at. Where nothing is being
// typed it is simply shown, else it is offered.

const LOOK_MS = 15000;
const version = () => Number(document.querySelector("#sign [name=version]")?.value);
const versionUrl = document.getElementById("outbox")?.dataset.version;

/** The page's content anew; open steps stay open, what is typed stays typed. */
function refresh() {
  const opened = [...document.querySelectorAll("details.sheet[open]")].map((one) => one.id).filter(Boolean);
  const at = window.scrollY;
  document.addEventListener("htmx:afterSettle", () => {
    opened.forEach(open);
    window.scrollTo({ top: at });
  }, { once: true });
  sent = null;
  window.htmx.ajax("GET", location.pathname, { target: "#main", select: "#main", swap: "outerHTML" });
}

async function look() {
  if (!versionUrl || document.visibilityState !== "visible" || waiting()) return;
  let said;
  try {
    const answer = await fetch(versionUrl, { headers: { "HX-Request": "true" } });
    if (!answer.ok || answer.headers.get("HX-Redirect")) return;
    said = await answer.json();
  } catch {
    return;
  }
  const notice = document.getElementById("newer");
  if (!notice || said.version === version()) return;
  if (!said.draft) location.reload();
  else if (document.activeElement?.matches("#main input, #main select, #main textarea")) notice.hidden = false;
  else refresh();
}

document.addEventListener("click", (event) => {
  if (event.target.closest("#newer button")) refresh();
});
document.addEventListener("visibilitychange", look);
window.addEventListener("focus", look);
setInterval(look, LOOK_MS);
document.addEventListener("outbox:sent", refresh);

// A signature needs the network, and all that is kept on this phone to be sent before it.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!form.closest("#sign") || form.dataset.sure) return;
  event.preventDefault();
  event.stopPropagation();
  const kept = waiting();
  if (kept) return notSigned(`Not signed: ${kept === 1 ? "an entry is" : `${kept} entries are`} kept on this phone and not sent yet. Sign when nothing is left there.`);
  try {
    if (versionUrl) await fetch(versionUrl, { headers: { "HX-Request": "true" } });
  } catch {
    return notSigned("Not signed: there is no network just now. Nothing is lost; sign when it is back.");
  }
  form.dataset.sure = "yes";
  form.requestSubmit(event.submitter);
}, { capture: true });

function notSigned(sentence) {
  const box = document.createElement("p");
  box.className = "notice error";
  box.textContent = sentence;
  document.getElementById("said").replaceChildren(box);
  box.scrollIntoView({ block: "nearest" });
}

// A reload without the network shows this page as it was.
if (navigator.serviceWorker) navigator.serviceWorker.register("/worker.js").catch(() => {});

// A pump or a hold that runs: minutes counted on from what the server said, so that the phone's clock does not matter.

function tick() {
  for (const shown of document.querySelectorAll("[data-running]")) {
    shown.dataset.since ??= String(performance.now() - 1000 * Number(shown.dataset.running));
    shown.textContent = `${Math.floor((performance.now() - Number(shown.dataset.since)) / 60000)} min`;
  }
}

tick();
setInterval(tick, 5000);
document.addEventListener("htmx:afterSettle", tick);
