// A count under way by scanner or keyboard: Enter leads from the code to its weight and hands that over, a key says that
// all the rest was seen, a reason is a letter and Enter. What others enter meanwhile comes in by itself.

const form = document.querySelector("form[data-entry]");
const code = form.querySelector("[name=code]");
const gross = form.querySelector("[name=gross]");
const post = () => document.querySelector("form[data-post-count]");
const LOOK_MS = 8000;
const desk = matchMedia("(min-width: 60em)").matches;

const wanting = () => document.querySelector("form[data-wanting] select");

function begin() {
  const faulty = document.querySelector("main .errors");
  const first = document.querySelector("main .notice.error") && wanting();
  if (!desk || (faulty && !first)) return;
  (first || (!code.value && !document.querySelector("[data-rest]") && wanting()) || (code.value ? gross : code)).focus();
}

/** Says at the weight what is wanted there; gone once anything is typed. */
function want(sentence) {
  const said = document.getElementById("wanted");
  said.textContent = sentence;
  said.hidden = !sentence;
}

gross.addEventListener("input", () => want(""));

document.addEventListener("keydown", (event) => {
  const at = event.target;
  if (event.key === "F8") {
    event.preventDefault();
    document.querySelector("form[data-rest]")?.requestSubmit();
  } else if (event.key !== "Enter" || event.isComposing) {
    return;
  } else if (event.ctrlKey || event.metaKey) {
    event.preventDefault();
    if (code.value.trim() && gross.value.trim()) form.requestSubmit();
    else post().requestSubmit();
  } else if (at === code && code.value.trim()) {
    event.preventDefault();
    gross.focus();
  } else if (at === gross && code.value.trim() && !gross.value.trim()) {
    event.preventDefault();
    want(`Blank. Type what the scale shows for ${code.value.trim()}, or press “Seen, not weighed”.`);
  } else if (at.matches("form[data-wanting] select")) {
    event.preventDefault();
    at.form.requestSubmit();
  }
});

// The note is kept as it is typed: posting, reasons and readings each bring another page.
document.getElementById("count-note").addEventListener("change", () => {
  const address = post().querySelector("[data-keep-note]").formAction;
  fetch(address, { method: "POST", body: new FormData(post()), keepalive: true }).catch(() => {});
});

async function look() {
  const lists = document.getElementById("lists");
  if (document.hidden || lists.contains(document.activeElement)) return;
  const answer = await fetch(form.dataset.state);
  const { mark } = await answer.json();
  if (mark === form.dataset.mark) return;
  form.dataset.mark = mark;
  if (mark.startsWith("open")) lists.dispatchEvent(new Event("refresh"));
  else if (!code.value.trim()) location.reload();
  else want(`The count was ${mark.split(" ")[0]} meanwhile: what stands here for ${code.value.trim()} is not in it.`);
}

begin();
setInterval(() => look().catch(() => {}), LOOK_MS);
