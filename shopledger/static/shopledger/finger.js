// A customer signs with a finger. What is drawn goes into the form's file as a PNG; where nothing is, the typed name is all.

const INK = "#10262a";
const WIDTH = 4; // of 900 points
let stroke = null;

const padOf = (target) => target.closest?.("[data-finger] canvas");
const fileOf = (canvas) => canvas.closest("form").querySelector("input[type=file]");
const say = (canvas, sentence) => {
  canvas.closest(".pad").querySelector("[role=status]").textContent = sentence;
};

function blank(canvas) {
  const paper = canvas.getContext("2d");
  paper.fillStyle = "#ffffff";
  paper.fillRect(0, 0, canvas.width, canvas.height);
}

/** Where a finger is, in the canvas's own points. */
function at(canvas, event) {
  const box = canvas.getBoundingClientRect();
  return [((event.clientX - box.left) * canvas.width) / box.width, ((event.clientY - box.top) * canvas.height) / box.height];
}

function line(canvas, from, to) {
  const paper = canvas.getContext("2d");
  paper.strokeStyle = INK;
  paper.lineWidth = WIDTH;
  paper.lineCap = "round";
  paper.beginPath();
  paper.moveTo(...from);
  paper.lineTo(...to);
  paper.stroke();
}

/** The picture as the form's file. */
function keep(canvas) {
  const bytes = Uint8Array.from(atob(canvas.toDataURL("image/png").split(",")[1]), (letter) => letter.charCodeAt(0));
  const files = new DataTransfer();
  files.items.add(new File([bytes], "signature.png", { type: "image/png" }));
  fileOf(canvas).files = files.files;
  say(canvas, "Signed. Keep it, or clear it.");
}

document.addEventListener("pointerdown", (event) => {
  const canvas = padOf(event.target);
  if (!canvas || !event.isPrimary || event.button) return;
  event.preventDefault();
  canvas.setPointerCapture?.(event.pointerId);
  const from = at(canvas, event);
  stroke = { canvas, pointer: event.pointerId, from };
  line(canvas, from, from);
});
document.addEventListener("pointermove", (event) => {
  if (stroke?.pointer !== event.pointerId) return;
  for (const one of event.getCoalescedEvents?.() ?? [event]) {
    const to = at(stroke.canvas, one);
    line(stroke.canvas, stroke.from, to);
    stroke.from = to;
  }
});
for (const name of ["pointerup", "pointercancel"]) {
  document.addEventListener(name, (event) => {
    if (stroke?.pointer !== event.pointerId) return;
    keep(stroke.canvas);
    stroke = null;
  });
}

document.addEventListener("click", (event) => {
  const canvas = event.target.closest("[data-finger] [data-clear]")?.closest(".pad").querySelector("canvas");
  if (!canvas) return;
  blank(canvas);
  fileOf(canvas).value = "";
  say(canvas, "Cleared.");
});

function ready() {
  for (const pad of document.querySelectorAll("[data-finger] .pad[hidden]")) {
    pad.hidden = false;
    blank(pad.querySelector("canvas"));
  }
}

ready();
document.addEventListener("bay:shown", ready);
