// A scale's lines as they come through a serial port or from a Bluetooth device: whole ones alone, the newest last. The
// server says what a line means. What cannot be seen is written out as inventory/scales/no_reading.py does it.

import { stored } from "./phone.js";

const NAMES = { "\x02": "<STX>", "\x03": "<ETX>", "\r": "<CR>", "\n": "<LF>", "\t": "<TAB>" };
const ENDS = "\r\n\x03";
const LINE_LIMIT = 120; // characters
const TICKET_MS = 700; // what comes within this time of the line before belongs to the same ticket

/** What a scale sent with what cannot be seen written out. */
export const visible = (raw) =>
  Array.from(raw, (one) => NAMES[one] ?? (/[\x20-\x7e\xa1-\xac\xae-\xff]/.test(one) ? one : `<U+${one.codePointAt(0).toString(16).toUpperCase().padStart(4, "0")}>`)).join("");

/** Splits what comes in into whole lines. What came before the first end may be the rest of a line, and is dropped unless
 *  STX begins it. */
export class Lines {
  #begun = false;
  #waiting = "";

  feed(text) {
    const found = [];
    for (const character of text) {
      if (character === "\x02") {
        this.#waiting = "";
        this.#begun = true;
      }
      this.#waiting += character;
      if (ENDS.includes(character)) {
        if (this.#begun && /[^ \x02\r\n\x03]/.test(this.#waiting)) found.push(this.#waiting);
        this.#waiting = "";
        this.#begun = true;
      } else if (this.#waiting.length > LINE_LIMIT) {
        this.#waiting = ""; // noise, or another speed of the port: the next end begins a line
        this.#begun = false;
      }
    }
    return found;
  }
}

/** Puts the lines of a ticket together: they are one weight. */
export function tickets(onTicket) {
  let lines = [];
  let timer;
  return (line) => {
    lines.push(line);
    clearTimeout(timer);
    timer = setTimeout(() => {
      onTicket(lines.join(""));
      lines = [];
    }, TICKET_MS);
  };
}

/** Whether this browser can connect to such a scale. */
export const canConnect = (scale) => (scale?.connects === "serial" ? "serial" in navigator : ["bluetooth", "standard"].includes(scale?.connects) && "bluetooth" in navigator);

// Which port or device is which scale's: permission is asked for once, and remembered by the browser; this says whose.

const KEPT = "scale-port:";

const remembered = (code) => stored(() => localStorage.getItem(KEPT + code)); // without storage it is asked again

function remember(code, what) {
  stored(() => localStorage.setItem(KEPT + code, what));
}

const mark = (port) => JSON.stringify(port.getInfo?.() ?? {});

async function portOf(scale) {
  const kept = remembered(scale.code);
  const known = await navigator.serial.getPorts();
  const found = known.filter((port) => mark(port) === kept);
  if (found.length === 1) return found[0];
  const port = await navigator.serial.requestPort();
  remember(scale.code, mark(port));
  return port;
}

async function openSerial(scale, onLine, onEnd) {
  const port = await portOf(scale);
  if (!port.readable) await port.open({ baudRate: scale.baud, dataBits: scale.data_bits, parity: scale.parity, stopBits: scale.stop_bits });
  await port.setSignals?.({ dataTerminalReady: true, requestToSend: true }).catch(() => {});
  const lines = new Lines();
  const reader = port.readable.getReader();
  const read = async () => {
    try {
      for (;;) {
        const { value, done } = await reader.read();
        if (done) break;
        for (const line of lines.feed(String.fromCharCode(...value))) onLine(line); // each byte is the character of its number
      }
    } catch {
      // pulled out, or another speed: said below
    }
    reader.releaseLock();
    await port.close().catch(() => {});
    onEnd();
  };
  read();
  return { close: () => reader.cancel().catch(() => {}) };
}

async function deviceOf(scale) {
  const kept = remembered(scale.code);
  const known = (await navigator.bluetooth.getDevices?.()) ?? [];
  const found = known.find((device) => device.id === kept);
  if (found) return found;
  // A service of lines is not announced by every device that has it; the standard one is.
  const asked = scale.connects === "standard" ? { filters: [{ services: [scale.service] }] } : { acceptAllDevices: true, optionalServices: [scale.service] };
  const device = await navigator.bluetooth.requestDevice(asked);
  remember(scale.code, device.id);
  return device;
}

async function openBluetooth(scale, onLine, onEnd) {
  const device = await deviceOf(scale);
  device.addEventListener("gattserverdisconnected", onEnd, { once: true });
  const server = await device.gatt.connect();
  const characteristic = await (await server.getPrimaryService(scale.service)).getCharacteristic(scale.characteristic);
  const lines = new Lines();
  characteristic.addEventListener("characteristicvaluechanged", (event) => {
    const view = event.target.value;
    const octets = Array.from(new Uint8Array(view.buffer, view.byteOffset, view.byteLength));
    if (scale.connects === "standard") onLine(measurement(octets));
    else for (const line of lines.feed(String.fromCharCode(...octets))) onLine(line);
  });
  await characteristic.startNotifications();
  return { close: () => device.gatt.disconnect() };
}

// The Weight Measurement (0x2A9D) of the Bluetooth SIG's Weight Scale Service (0x181D), from memory: a first octet of
// flags (bit 0: pounds, else kilograms; bits 1 to 3: a time stamp, a user, an index and a height follow), then the weight in
// two octets, the lower first, in steps of 0.005 kg or 0.01 lb. It is sent on as it came; string_forms.py reads it.
const measurement = (octets) => `2A9D ${octets.map((octet) => octet.toString(16).toUpperCase().padStart(2, "0")).join(" ")}\r`;

/** Opens a scale's port; the browser asks for permission the first time, so this follows a tap. onLine(raw): each whole
 *  line; onEnd(): it is gone. Answers what closes it. Throws what the browser says. */
export async function open(scale, onLine, onEnd) {
  const take = scale.ticket ? tickets(onLine) : onLine;
  return scale.connects === "serial" ? openSerial(scale, take, onEnd) : openBluetooth(scale, take, onEnd);
}

/** A sentence for what opening a port threw. */
export function why(fault) {
  if (fault?.name === "NotFoundError") return "Nothing was chosen, so nothing is read.";
  if (fault?.name === "SecurityError" || fault?.name === "NotAllowedError") return "The browser may not read it: allow that in its settings, or type what the display shows.";
  return "The scale could not be opened: see that it is on, plugged in and read by nothing else, or type what its display shows.";
}
