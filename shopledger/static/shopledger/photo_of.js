// The camera beside a reading: a photo that was taken is handed over at once (outbox.js), with no other button.

document.addEventListener("change", (event) => {
  const form = event.target.closest("[data-photo-of]");
  if (form?.querySelector("[type=file]").files.length) form.requestSubmit();
});
