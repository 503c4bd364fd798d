// Sends what was signed on this phone without a signal, from a page or from the worker. A deed leaves the phone only when
// the server's answer names its identity and the hash of its act; nothing else counts as received. Photos go before
// their deed, each by itself, so that a bad network gets on; what is there already is not sent again.

import { sha256 } from "./bytes.mjs";
import { hello, tellHeld } from "./hello.mjs";
import { held, heldDeed, hold, letGo, unfolded } from "./held.mjs";
import { keepSent } from "./sent.mjs";

export const TAG = "lineworthy-held"; // of the Background Sync
export const LOCK = "lineworthy-held"; // who sends, and who takes back what is held
export const CHANNEL = "lineworthy-outbox";
const PATIENCE = 60000; // ms for one answer: photos at the edge of a signal
// They close a line or take a part out, and open nothing: no picture of an earlier deed may hold them up.
const AHEAD = ["hold", "hold-renewed", "finding-opened"];

const now = () => `${new Date().toISOString().slice(0, 19)}Z`;

async function asked(address, body, csrf, more) {
  const headers = { "X-CSRFToken": csrf, Accept: "application/json", ...more };
  const options = { method: "POST", body, headers, redirect: "manual", signal: AbortSignal.timeout(PATIENCE) };
  try {
    return await (await fetch(address, options)).json();
  } catch {
    return null;
  }
}

// {refused: sentence}, {login} or {} for no answer that counts.
function other(answer) {
  if (typeof answer?.refused === "string" && answer.refused) return { refused: answer.refused };
  return { login: Boolean(answer?.login) };
}

// Brings a photo to the server, which keeps it under its hash until its deed names it.
async function photoSent(deed, photo, hash, csrf) {
  const body = new FormData();
  body.append("photo", new File([photo.bytes], photo.name, { type: photo.type }));
  const address = `/course/${JSON.parse(deed.act).course}/photo/`; // inspections.urls
  const answer = await asked(address, body, csrf);
  return answer?.sha256 === hash ? { arrived: true } : other(answer);
}

// The deed's fields with the hashes of its photos in their place; or what became of the photo that did not arrive.
async function withoutPhotos(deed, csrf) {
  const fields = [];
  for (const [name, value] of deed.fields) {
    if (typeof value === "string") {
      fields.push([name, value]);
      continue;
    }
    const hash = await sha256(value.bytes);
    if (!deed.arrived?.includes(hash)) {
      const answer = await photoSent(deed, value, hash, csrf);
      if (!answer.arrived) return { answer };
      deed = { ...deed, arrived: [...(deed.arrived ?? []), hash] };
      await hold(deed);
    }
    fields.push([`sent-${name}`, hash]);
  }
  return { fields };
}

// What the server says to one deed: {received: number}, or as `other`.
async function told(deed, csrf) {
  const { fields, answer: missing } = await withoutPhotos(deed, csrf);
  if (missing) return missing;
  const body = unfolded(fields);
  for (const [name, value] of Object.entries({ ...deed.signed, _sent_at: now() })) body.set(name, value);
  const answer = await asked(deed.address, body, csrf, { "X-Lineworthy-Act": "send" });
  if (answer?.id !== deed.id) return other(answer);
  // What is recorded under its name is something else.
  return answer.act === deed.hash ? { received: answer.seq } : { refused: answer.refused || "*" };
}

// Keep how it went, without losing which photos have arrived meanwhile.
async function note(id, how) {
  const deed = await heldDeed(id);
  const noted = deed && { ...deed, tried: true, ...how };
  if (noted) await hold(noted);
  return noted;
}

async function one(deed, csrf, tell) {
  tell({ what: "sending", id: deed.id });
  const answer = await told(await note(deed.id, { login: false }), csrf);
  if (answer.received !== undefined) {
    const { id, ref, title, page, locks } = deed;
    const day = JSON.parse(deed.act).date ?? "";
    await keepSent({ id, ref, title, page, day, locks, seq: answer.received, at: Date.now(), said: false }).catch(() => {});
    await letGo(id);
    tell({ what: "received", id, page });
  } else await note(deed.id, answer.refused ? { refused: answer.refused } : { login: answer.login });
  return answer;
}

async function sendAll(tell) {
  const deeds = await held();
  if (!deeds.length) return { left: 0, failed: false };
  const server = await hello();
  if (!server) return { left: deeds.length, failed: true };
  const waiting = deeds.filter((deed) => !deed.refused);
  if (!server.person) {
    for (const deed of waiting) await note(deed.id, { login: true, tried: deed.tried });
    return { left: waiting.length, failed: true };
  }
  const own = (all) => all.filter((deed) => deed.ref === server.person);
  const { csrf } = server;
  tellHeld(server).catch(() => {}); // nothing waits for it
  let failed = false;
  let login = false;
  for (const { id, kind } of own(waiting)) {
    // In their order: what comes after one that did not arrive waits too.
    if (login || (failed && !AHEAD.includes(kind))) continue;
    const deed = await heldDeed(id);
    if (!deed) continue;
    const answer = await one(deed, csrf, tell);
    if (answer.received === undefined && !answer.refused) failed = true;
    login ||= Boolean(answer.login);
  }
  const left = own(await held());
  const isNews = left.length !== own(deeds).length;
  return { left: left.filter((deed) => !deed.refused).length, failed, isNews, server };
}

// Sends what can be sent: {left, failed}; `busy` where another page or the worker is at it. Tells every page, and
// `tell`, as it goes: {what: "sending" | "received" | "done", id, page}.
export async function sendHeld(tell = () => {}) {
  if (globalThis.navigator?.onLine === false) return { left: (await held()).length, failed: true };
  const channel = new BroadcastChannel(CHANNEL);
  const all = (said) => (channel.postMessage(said), tell(said));
  try {
    const how = await navigator.locks.request(LOCK, { ifAvailable: true }, async (lock) => {
      if (!lock) return { left: 0, failed: false, busy: true };
      try {
        return await sendAll(all);
      } finally {
        all({ what: "done" });
      }
    });
    if (how.isNews) await tellHeld(how.server).catch(() => {});
    return how;
  } finally {
    channel.close();
  }
}
