// How far this phone's clock is from the server's. Measured whenever the server says its time, kept for what is signed
// without a signal: then that is signed along, and the server can tell when something was really signed
// (accounts.clock). Works in pages and in the worker.

import { storeIn } from "./stored.mjs";

const LONGEST = 60000; // ms that an answer may take: one that took longer tells no time
const NAME = "offset";

const within = storeIn("lineworthy-clock", "clock");

// A time as it stands in acts: UTC, whole seconds.
export const asText = (at) => `${at.toISOString().slice(0, 19)}Z`;

// Takes the server's time of an answer, and this phone's when it asked and when the answer was here, in ms. The server's
// lies between the two; the middle is wrong by no more than half of what it took.
export async function measured(nowFromServer, askedAtMs, answeredAtMs) {
  const took = answeredAtMs - askedAtMs;
  const theirs = Date.parse(nowFromServer);
  if (!(took >= 0 && took <= LONGEST) || Number.isNaN(theirs)) return;
  const offset_s = Math.round((theirs - (askedAtMs + answeredAtMs) / 2) / 1000);
  const kept = { id: NAME, offset_s, measured_at: asText(new Date(answeredAtMs)) };
  await within("readwrite", (store) => store.put(kept));
}

// {offset_s, measured_at}: server minus phone, in whole seconds, and when that was measured by this phone; or null.
export async function offset() {
  const found = await within("readonly", (store) => store.get(NAME)).catch(() => null);
  return found ? { offset_s: found.offset_s, measured_at: found.measured_at } : null;
}

// The time as the server has it, as far as this phone knows.
export async function now(at = new Date()) {
  return new Date(at.getTime() + ((await offset())?.offset_s ?? 0) * 1000);
}
