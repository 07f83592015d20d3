// Passkeys: hands what the server asks to the device that holds the key, and its answer back.

const said = document.querySelector("[data-passkey-said]");
const able = window.isSecureContext && Boolean(window.PublicKeyCredential);

const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (one) => one.charCodeAt(0));
const text = (buffer) =>
  btoa(String.fromCharCode(...new Uint8Array(buffer)))
    .replace(/\+/g, "-")
    .replace(/\//g, "_")
    .replace(/=+$/, "");
const keys = (list) => (list || []).map((one) => ({ ...one, id: bytes(one.id) }));

const WHY = {
  InvalidStateError: "This device has a passkey for you here already.",
  NotAllowedError: "Nothing was signed: it was cancelled, took too long, or this device has no passkey for this site.",
  NotSupportedError: "This device cannot make a passkey of the kind that is needed. Use codes instead.",
  SecurityError: "The browser gives no passkey to this address.",
};
const AWAY = "The ledger could not be reached. Nothing was changed; try again.";
const TOO_OFTEN = "Too many tries: nothing is taken for this name from here for 15 minutes.";

function say(sentence) {
  said.textContent = sentence;
  said.hidden = !sentence;
}

async function post(button, address, body) {
  const token = button.form.querySelector("[name=csrfmiddlewaretoken]").value;
  const headers = { "X-CSRFToken": token, "Content-Type": "application/json" };
  const answer = await fetch(address, { method: "POST", headers, body: JSON.stringify(body), credentials: "same-origin" });
  if (answer.status === 429) throw new Error(TOO_OFTEN);
  if (!(answer.headers.get("Content-Type") || "").startsWith("application/json")) {
    // The password is asked again first, or the page was open too long.
    location.reload();
    return new Promise(() => {});
  }
  const found = await answer.json();
  if (!answer.ok) throw new Error(found.said || AWAY);
  return found;
}

async function signIn(button) {
  const asked = await post(button, button.dataset.asked, {});
  const publicKey = { ...asked, challenge: bytes(asked.challenge), allowCredentials: keys(asked.allowCredentials) };
  const made = await navigator.credentials.get({ publicKey });
  const { clientDataJSON, authenticatorData, signature, userHandle } = made.response;
  const response = {
    clientDataJSON: text(clientDataJSON),
    authenticatorData: text(authenticatorData),
    signature: text(signature),
    userHandle: userHandle ? text(userHandle) : null,
  };
  const next = button.form.querySelector("[name=next]")?.value || "";
  return post(button, button.dataset.taken, { credential: whole(made, response), next });
}

async function makeNew(button) {
  const asked = await post(button, button.dataset.asked, {});
  const publicKey = {
    ...asked,
    challenge: bytes(asked.challenge),
    user: { ...asked.user, id: bytes(asked.user.id) },
    excludeCredentials: keys(asked.excludeCredentials),
  };
  const made = await navigator.credentials.create({ publicKey });
  const response = {
    clientDataJSON: text(made.response.clientDataJSON),
    attestationObject: text(made.response.attestationObject),
    transports: made.response.getTransports?.() || [],
  };
  const name = button.form.querySelector("[name=passkey_name]").value;
  return post(button, button.dataset.taken, { credential: whole(made, response), name });
}

const whole = (made, response) => ({ id: made.id, rawId: text(made.rawId), type: made.type, response });

const ACTS = { "sign-in": signIn, new: makeNew };

for (const button of able ? document.querySelectorAll("[data-passkey]") : []) {
  button.hidden = false;
  document.querySelector("[data-passkey-none]")?.remove();
  button.addEventListener("click", async () => {
    say("");
    button.disabled = true;
    try {
      location.assign((await ACTS[button.dataset.passkey](button)).go);
    } catch (error) {
      say(WHY[error.name] || (error instanceof TypeError ? AWAY : error.message));
      button.disabled = false;
    }
  });
}
