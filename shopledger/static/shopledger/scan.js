// The phone's camera on a container's label, inside the job page, where the browser can read codes. Elsewhere the
// phone's own camera app leads to the same page, and the code can always be typed. What is read only leads to the
// container's field; the server asks the book as it does for a typed code.

const place = document.querySelector("[data-scan]");
const SCAN = /^\/scan\/(.+)\/$/;
const LOOK_MS = 200;

/** Where a code leads: the path of its container here, or a sentence that says why it leads nowhere. */
export function lead(text) {
  const code = text.trim();
  if (!code) return { sentence: "The code is empty." };
  let url;
  try {
    url = new URL(code);
  } catch {
    return code.length <= 60 ? { path: `/scan/${encodeURIComponent(code)}/` } : { sentence: "This is no label of a container." };
  }
  const found = SCAN.exec(url.pathname);
  if (!found) return { sentence: "This is no label of a container." };
  if (url.host !== location.host) return { sentence: `This label is another shop's (${url.host}), or was printed under another address. Type its code if the container is yours.` };
  return { path: url.pathname };
}

async function scan() {
  const box = document.createElement("dialog");
  box.className = "scanner stack";
  box.setAttribute("aria-label", "Scan a label");
  const video = document.createElement("video");
  video.muted = video.playsInline = true;
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  said.textContent = "Hold the label's square code before the camera.";
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
  const reader = new window.BarcodeDetector({ formats: ["qr_code"] });
  const look = async () => {
    if (!box.isConnected) return;
    const codes = await reader.detect(video).catch(() => []);
    if (codes.length) {
      const found = lead(codes[0].rawValue);
      if (found.path) {
        box.close();
        location.assign(found.path);
        return;
      }
      said.textContent = found.sentence;
    }
    setTimeout(look, LOOK_MS);
  };
  look();
}

if (place && "BarcodeDetector" in window && navigator.mediaDevices) {
  place.hidden = false;
  place.querySelector("button").addEventListener("click", scan);
}
