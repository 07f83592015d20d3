// The phone's camera on a code: a container's label inside the job page, a VIN's bar code (vin.js), where the browser can
// read codes. Elsewhere the phone's own camera app leads to the same page, and what stands there can always be typed.
// What is read only leads to a field; the server asks the book as it does for a typed code.

const SCAN = /^\/scan\/(.+)\/$/;
const LOOK_MS = 200;

/** Whether this browser can read codes with a camera. */
export const canLook = () => "BarcodeDetector" in window && Boolean(navigator.mediaDevices);

/** Where a code leads: the path of its container here with its code, or a sentence that says why it leads nowhere. */
export function lead(text) {
  const code = text.trim();
  if (!code) return { sentence: "The code is empty." };
  let url;
  try {
    url = new URL(code);
  } catch {
    return code.length <= 60 ? { path: `/scan/${encodeURIComponent(code)}/`, code } : { sentence: "This is no label of a container." };
  }
  const found = SCAN.exec(url.pathname);
  if (!found) return { sentence: "This is no label of a container." };
  if (url.host !== location.host) return { sentence: `This label is another shop's (${url.host}), or was printed under another address. Type its code if the container is yours.` };
  return { path: url.pathname, code: decodeURIComponent(found[1]) };
}

/** The camera in a dialog, until `judge` answers what a code says with something to do, or somebody closes it.
 *  judge(text): { act } or { sentence }, or a promise of it. */
export async function look({ label, hint, formats, judge }) {
  const box = document.createElement("dialog");
  box.className = "scanner stack";
  box.setAttribute("aria-label", label);
  const video = document.createElement("video");
  video.muted = video.playsInline = true;
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  said.textContent = hint;
  const close = document.createElement("button");
  close.type = "button";
  close.textContent = "Close";
  box.append(video, said, close);
  document.body.append(box);
  box.showModal();
  let stream;
  const end = () => {
    stream?.getTracks().forEach((track) => track.stop());
    box.remove();
  };
  close.addEventListener("click", () => box.close());
  box.addEventListener("close", end);
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  } catch {
    said.textContent = "The camera may not be used: allow it in the browser, or type the code.";
    return;
  }
  if (!box.isConnected) return end();
  video.srcObject = stream;
  await video.play().catch(() => {});
  const reader = new window.BarcodeDetector({ formats });
  const once = async () => {
    if (!box.isConnected) return;
    const codes = await reader.detect(video).catch(() => []);
    if (codes.length) {
      const found = await judge(codes[0].rawValue);
      if (!box.isConnected) return; // closed meanwhile: what was read is not wanted
      if (found.act) {
        box.close();
        found.act();
        return;
      }
      said.textContent = found.sentence;
    }
    setTimeout(once, LOOK_MS);
  };
  once();
}

/** A page that knows what to do with a container keeps its person there: it takes the event and prevents its default.
 *  Else the code leads to the container's own address. */
function arrive({ path, code }) {
  const event = new CustomEvent("scanned", { detail: { code }, cancelable: true });
  if (document.dispatchEvent(event)) location.assign(path);
}

function scan() {
  const judge = (text) => {
    const found = lead(text);
    return found.path ? { act: () => arrive(found) } : found;
  };
  look({ label: "Scan a label", hint: "Hold the label's square code before the camera.", formats: ["qr_code"], judge });
}

function offer() {
  for (const place of canLook() ? document.querySelectorAll("[data-scan]") : []) place.hidden = false;
}

offer();
document.addEventListener("bay:shown", offer);
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-scan] button")) scan();
});
