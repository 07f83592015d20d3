// Lists by keyboard: j and k (or the arrows) go through the rows, Enter opens one, x chooses it. Never while something is
// typed, nor where the person switched single keys off (keys.js).

import { keysAreOn } from "./keys.js";
import { person, stored } from "./phone.js";

const rows = () => [...document.querySelectorAll("main .table tbody tr")];
let at = -1;

function mark(next) {
  const all = rows();
  if (!all.length) return;
  all[at]?.removeAttribute("data-here");
  at = Math.max(0, Math.min(next, all.length - 1));
  all[at].setAttribute("data-here", "");
  all[at].scrollIntoView({ block: "nearest" });
}

const KEYS = {
  j: () => mark(at + 1),
  ArrowDown: () => mark(at + 1),
  k: () => mark(at - 1),
  ArrowUp: () => mark(at - 1),
  x: () => rows()[at]?.querySelector("input[type=checkbox]")?.click(),
  Enter: () => rows()[at]?.querySelector("a")?.click(),
};

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest("input, select, textarea, dialog, summary, button, a")) return;
  const act = KEYS[event.key];
  if (!act || !rows().length || !keysAreOn()) return;
  if ((event.key === "Enter" || event.key.startsWith("Arrow")) && at < 0 && event.key === "Enter") return;
  event.preventDefault();
  act();
});

// A box that stands for all rows of the page.
document.addEventListener("change", (event) => {
  if (!event.target.matches("[data-choose-all]")) return;
  for (const box of document.querySelectorAll("tbody input[name=codes]")) box.checked = event.target.checked;
});

// A list is come back to as it was left, in this tab: the way back above a heading gets its filter, order and page.
const LIST = `list:${person}:`;
if (document.querySelector("main form.filters")) stored(() => sessionStorage.setItem(LIST + location.pathname, location.search));
for (const link of document.querySelectorAll(".crumb a")) {
  if (link.origin === location.origin && !link.search) link.search = stored(() => sessionStorage.getItem(LIST + link.pathname)) ?? "";
}
