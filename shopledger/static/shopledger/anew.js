// A job's page that is loaded anew without the network stands where it stood. The page that the worker keeps gets what the
// server said of the job since (worker.js), what waits on this phone was done already, and what is entered next is an entry
// of its own: under the key of one that waits, or that the server has, it would take its place.

import { goOn, newKey, putOnTop, ready } from "./flow.js";
import { box, load, PAGES, person } from "./phone.js";

const bay = () => document.getElementById("bay");
const within = (form, name) => form.querySelector(`[name="${CSS.escape(name)}"]`);
let last = Promise.resolve();

/** What the server says of the job, in the kept page too; one after the other. */
export function keepAnew(html) {
  last = last.then(() => keep(html)).catch(() => {}); // no room: the page stays as it was kept
}

async function keep(html) {
  const name = `${PAGES}:${person}`;
  if (!globalThis.caches || !(await caches.has(name))) return;
  const pages = await caches.open(name);
  const old = await pages.match(location.pathname);
  if (!old) return;
  const reader = new DOMParser();
  const page = reader.parseFromString(await old.text(), "text/html");
  const fresh = reader.parseFromString(html, "text/html").getElementById("bay");
  if (!fresh) return;
  page.getElementById("bay").replaceWith(fresh);
  await pages.put(location.pathname, new Response(`<!DOCTYPE html>${page.documentElement.outerHTML}`, { headers: old.headers }));
}

/** Forms of a kept page may have been handed over before. One that changes an entry, which says what it shows, keeps its. */
function takeNewKeys() {
  for (const key of document.querySelectorAll("form[data-own] [name=key]")) {
    if (!within(key.form, "shown")?.value) key.value = newKey();
  }
}

/** The page goes on over what waits on this phone, as when that was handed over. */
async function goOnOver() {
  const { entries } = await load();
  for (const { path, fields, page, refused } of entries) {
    if (refused || page !== location.pathname) continue;
    const said = (name) => fields.findLast(([field]) => field === name)?.[1];
    const forms = [...bay().querySelectorAll("form[data-own]")].filter((form) => form.getAttribute("action") === path);
    fillIn(path, fields);
    if (said("quick")) weighed(forms, path, fields, said);
    else step(forms.find((form) => form.dataset.then), path, fields, said);
  }
}

/** All forms of a step say what was handed over of it: saved once more, without the network, it takes the place of that.
 *  but: the form that it came from. */
export function fillIn(path, fields, but = null) {
  if (!path.includes("/step/")) return;
  for (const form of bay().querySelectorAll("form[data-own]")) {
    if (form === but || form.getAttribute("action") !== path) continue;
    form.dataset.sent = "yes";
    for (const [name, value] of fields) {
      for (const field of form.querySelectorAll(`[name="${CSS.escape(name)}"]:not([type=hidden], button)`)) {
        if (!field.matches("[type=checkbox], [type=radio]")) field.value = value;
        else if (field.value === value) field.checked = true;
      }
    }
  }
}

/** A step that was saved or passed over, a clock that was tapped: it runs since then. */
function step(form, path, fields, said) {
  if (!form || form.closest("[hidden]")) return;
  goOn(form, path, fields);
  if (!said("tapped")) return;
  for (const shown of form.closest("details.step").querySelectorAll("[data-running]")) {
    if (!shown.closest("[hidden]")) shown.dataset.since = String(Date.parse(said("tapped")));
  }
}

/** A weight before, or both, or what a machine says: what was typed goes along with what is asked next. */
function weighed(forms, path, fields, said) {
  const form = forms.find((one) => one.matches(".weigh:not([hidden])") && within(one, "action")?.value === said("action"));
  const asks = form && within(form, "quick").value;
  const isThere = forms.some((one) => one !== form && within(one, "key")?.value === said("key"));
  const both = asks === "before" && said("quick") === "after";
  if (!asks || (isThere && within(form, "key").value !== said("key")) || (asks !== said("quick") && !both)) return;
  const named = within(form, "container");
  const offered = named?.value || within(form, "pick")?.value;
  const meant = said("container") || said("pick");
  const label = form.querySelector(".field label");
  if (offered) label.textContent = label.textContent.replace(offered, meant);
  if (named) named.value = meant;
  for (const name of ["key", "before", "before-unit", "before_raw", "scale"]) {
    if (within(form, name) && said(name) !== undefined) within(form, name).value = said(name);
  }
  if (both) goOn(form, path, [...fields, ["quick", "before"]]);
  goOn(form, path, fields);
  const here = form.closest("details.step");
  if (within(form, "quick").value !== "after" || said("quick") === "after") return;
  putOnTop(here); // it stands on the scale
  ready(here);
}

if (box?.hasAttribute("data-kept")) takeNewKeys();
if (bay()) goOnOver();
