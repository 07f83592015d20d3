// The job page where the browser runs scripts: steps open when they are led to, and nothing typed is lost when a
// part of the page is replaced. The page works without it.

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

function plain(field) {
  if (field.matches("[type=checkbox], [type=radio]")) return field.defaultChecked;
  if (!field.matches("select")) return field.defaultValue;
  const options = [...field.options];
  return (options.find((option) => option.defaultSelected) ?? options[0])?.value;
}

function typed(field) {
  return field.matches("[type=checkbox], [type=radio]") ? field.checked : field.value;
}

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
