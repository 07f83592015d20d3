// The page where a scale's form is confirmed: its newest line is put into the field that is asked about.

import { canConnect, open, visible, why } from "./port.js";

const form = document.querySelector("[data-try]");
const scale = JSON.parse(form.dataset.try);
const place = form.querySelector("[data-connect]");
const said = place.querySelector("[role=status]");
const OF_A_TICKET = /^ *(GROSS|G|B|TARE|T|PT|NET|N)\b/i;
const TICKET_MS = 700;
let block = "";
let last = 0;
let feed = null;

/** The newest line; of a ticket all of its lines. */
function show(line) {
  const goesOn = OF_A_TICKET.test(line) && performance.now() - last < TICKET_MS;
  block = goesOn ? block + line : line;
  last = performance.now();
  form.querySelector("textarea").value = visible(block);
  said.textContent = "Connected. When the display stands still, ask what the newest line means.";
}

async function connect() {
  said.textContent = "Connecting.";
  try {
    feed = await open({ ...scale, ticket: false }, show, () => {
      feed = null;
      said.textContent = "The scale is gone. Connect it again.";
    });
    said.textContent = "Connected. Nothing came yet: press the scale's print key.";
  } catch (fault) {
    said.textContent = why(fault);
  }
}

if (canConnect(scale)) {
  place.hidden = false;
  place.querySelector("button").addEventListener("click", () => feed ?? connect());
}
