// Signing out on a shared phone, and changing its person: what is not sent yet is said first, and stays for its writer.

import { entryTime } from "./outbox.js";
import { TIMEOUT_MS, load, noRoom, seals, signedOut } from "./phone.js";
import { forgetAll } from "./typed.js";

const form = document.querySelector("[data-sign-out]");

// Only the server changes the person: without the network this page stays, and what is kept on it.
const change = document.querySelector("[data-change-person]");

change?.addEventListener("click", async (event) => {
  event.preventDefault();
  try {
    await fetch(change.href, { method: "HEAD", signal: AbortSignal.timeout(TIMEOUT_MS) });
    location.assign(change.href);
  } catch {
    change.closest("details").open = false;
    say("The person is not changed: there is no network just now, and only the server can. Try again when it is back.");
  }
});

form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  event.stopPropagation();
  form.closest("details").open = false;
  const { entries } = await load();
  if (!entries.length || (await agreed())) await leave();
});

/** Ask, with what waits; what is sent meanwhile goes from the list. True where the person signs out. */
function agreed() {
  const dialog = document.createElement("dialog");
  dialog.className = "sheet stack leaving";
  dialog.setAttribute("aria-labelledby", "leaving-head");
  const show = async () => fill(dialog, (await load()).entries);
  return new Promise((answer) => {
    dialog.addEventListener("close", () => {
      document.removeEventListener("outbox:shown", show);
      dialog.remove();
      answer(dialog.returnValue === "leave");
    });
    document.addEventListener("outbox:shown", show);
    show().then(() => {
      document.body.append(dialog);
      dialog.showModal();
    });
  });
}

function fill(dialog, entries) {
  const one = entries.length === 1;
  const head = made("h2", entries.length ? `${one ? "1 entry is" : `${entries.length} entries are`} not sent yet` : "All is sent now");
  head.id = "leaving-head";
  const list = made("ul", "");
  for (const entry of entries) {
    const item = made("li", "");
    item.append(made("strong", entry.said), ` ${entryTime(entry)}${entry.refused ? ", not taken" : ""}`);
    list.append(item);
  }
  const row = made("div", "", "actions");
  row.append(choice("Stay signed in", "stay", "primary"), choice(way(entries, one ? "it" : "them"), "leave"));
  dialog.replaceChildren(head, ...(entries.length ? [list, ...said(one)] : []), row);
}

function way(entries, them) {
  if (!entries.length) return "Sign out";
  return noRoom() ? "Sign out, lose what found no room" : `Sign out, keep ${them} ${seals ? "locked " : ""}on this phone`;
}

function said(one) {
  const [it, waits, is, them] = one ? ["It", "waits", "is", "it"] : ["They", "wait", "are", "them"];
  const sentences = [
    `${it} ${is} not recorded, and ${waits} on this phone until you sign in here again. ${seals ? `Nobody else can read or send ${them}.` : `No page shows ${them} to anybody else.`}`,
  ];
  if (!seals) sentences.push("This address has no TLS, so nothing on this phone can be locked: somebody who searches what the browser keeps can read it.");
  if (noRoom()) sentences.push("This phone has no room left: some are kept only while this page stays open. Stay until they are sent.");
  return sentences.map((sentence) => made("p", sentence, sentences.indexOf(sentence) ? "notice error" : ""));
}

function made(name, text, className = "") {
  const element = document.createElement(name);
  element.textContent = text;
  if (className) element.className = className;
  return element;
}

function choice(text, value, className = "") {
  const button = made("button", text, className);
  button.type = "button";
  button.addEventListener("click", () => button.closest("dialog").close(value));
  return button;
}

function say(sentence) {
  const box = made("p", sentence, "notice error");
  document.getElementById("said").replaceChildren(box);
  box.scrollIntoView({ block: "nearest" });
}

async function leave() {
  let answer;
  try {
    answer = await fetch(form.action, { method: "POST", body: new FormData(form), signal: AbortSignal.timeout(TIMEOUT_MS) });
  } catch {
    return say("Not signed out: there is no network just now, and only the server ends a sign-in. Try again when it is back; until then give this phone to nobody.");
  }
  if (!answer.ok) return form.submit(); // the page that says why
  forgetAll(); // half a form is no entry: who signs out is done with it
  await signedOut();
  location.replace(answer.url);
}
