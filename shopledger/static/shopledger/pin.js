// A PIN by thumb: the page has keys of its own, so no keyboard covers it, and the sixth digit sends it. Without scripts
// it is a field and a button.

/** Make a form with a PIN ready for a thumb. */
export function ready(form) {
  const input = form.querySelector("[name=pin]");
  const pad = form.querySelector(".keypad");
  const whole = () => input.value.length === input.maxLength;
  input.inputMode = "none";
  pad.hidden = false;
  form.querySelector(".actions").hidden = true;
  pad.addEventListener("click", (event) => {
    const key = event.target.closest("button")?.value;
    if (!key || form.dataset.sending === "yes") return;
    if (key === "clear") input.value = "";
    else if (key === "back") input.value = input.value.slice(0, -1);
    else if (!whole()) input.value += key;
    if (whole()) form.requestSubmit();
  });
  input.addEventListener("input", () => whole() && form.requestSubmit());
  input.focus({ preventScroll: true });
}

document.querySelectorAll("[data-pin]").forEach(ready);
