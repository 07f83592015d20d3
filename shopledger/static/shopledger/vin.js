// The bar code of a VIN, read by the camera into the field that asks for it. The server says whether it is a VIN.

import { canLook, look } from "./scan.js";

const FORMATS = ["code_39", "code_128"];

async function judge(text, place) {
  let said;
  try {
    const answer = await fetch(`/units/vin/scanned/?text=${encodeURIComponent(text)}`, { headers: { "HX-Request": "true" } });
    said = await answer.json();
  } catch {
    return { sentence: "No answer came: there is no network just now, or you were signed out. Type the VIN." };
  }
  return said.vin ? { act: () => fill(place, said.vin) } : { sentence: said.why };
}

function fill(place, vin) {
  const field = document.getElementById(place.dataset.vinScan);
  field.value = vin;
  for (const name of ["input", "change"]) field.dispatchEvent(new Event(name, { bubbles: true }));
  field.focus();
  if (place.dataset.then === "send") field.form.requestSubmit();
}

for (const place of canLook() ? document.querySelectorAll("[data-vin-scan]") : []) {
  place.hidden = false;
  place.querySelector("button").addEventListener("click", () =>
    look({ label: "Scan a VIN", hint: "Hold the bar code with the VIN before the camera.", formats: FORMATS, judge: (text) => judge(text, place) }),
  );
}
