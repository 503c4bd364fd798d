// Sends what was signed on this phone without a signal, from a page or from the worker. A deed leaves the phone only when
// the server's answer names its identity and the hash of its act; nothing else counts as received. Its photos hold
// nothing up: they go after all deeds, each by itself, and leave the phone when the server's answer names their hash.

import { sha256 } from "./bytes.mjs";
import { asText } from "./clock.mjs";
import { OPEN, draft, outHere, putDrafts } from "./drafts.mjs";
import { hello, tellHeld } from "./hello.mjs";
import { held, heldDeed, hold, isPhoto, letGo, photosHeld, unfolded } from "./held.mjs";
import { keepSent } from "./sent.mjs";

export const TAG = "lineworthy-held"; // of the Background Sync
export const LOCK = "lineworthy-held"; // who sends, and who takes back what is held
const PHOTOS = "lineworthy-photos"; // who sends photos: deeds go meanwhile
export const SETTLE = "lineworthy-photo"; // who takes a photo out of what is held; nobody waits long for it
export const CHANNEL = "lineworthy-outbox";
const PATIENCE = 60000; // ms for one answer at the edge of a signal
// They close a line or take a part out, and open nothing: they go first, and no other deed may hold them up.
export const AHEAD = ["hold", "hold-renewed", "finding-opened"];

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

// The deed's fields with the hashes of its photos in their place.
const withoutPhotos = ({ fields }) =>
  Promise.all(
    fields.map(async (one) => (isPhoto(one) ? [`sent-${one[0]}`, await sha256(one[1].bytes)] : one)),
  );

// What the server says to one deed: {received: number}, or as `other`.
async function told(deed, csrf) {
  const body = unfolded(await withoutPhotos(deed));
  for (const [name, value] of Object.entries({ ...deed.signed, _sent_at: asText(new Date()) })) body.set(name, value);
  const answer = await asked(deed.address, body, csrf, { "X-Lineworthy-Act": "send" });
  if (answer?.id !== deed.id) return other(answer);
  // What is recorded under its name is something else.
  return answer.act === deed.hash ? { received: answer.seq } : { refused: answer.refused || "*" };
}

// Keep how it went.
async function note(id, how) {
  const deed = await heldDeed(id);
  const noted = deed && deed.received === undefined && { ...deed, tried: true, ...how };
  if (noted) await hold(noted);
  return noted;
}

// What was received keeps its photos here, and of the rest what a page of an older version sends them with.
async function receive(id, seq) {
  const deed = await heldDeed(id);
  const fields = deed?.fields.filter((one) => isPhoto(one) || one[0] === "deed_id") ?? [];
  if (fields.some(isPhoto)) await hold({ ...deed, received: seq, fields, typed: [], refused: "", login: false });
  else await letGo(id);
}

async function one(deed, csrf, tell) {
  tell({ what: "sending", id: deed.id });
  await note(deed.id, { login: false }).catch(() => {}); // a full phone notes nothing, and sends all the same
  const answer = await told(deed, csrf);
  if (answer.received !== undefined) {
    const { id, ref, title, page, locks, kind, act, made_at, signed } = deed;
    const day = JSON.parse(act).date ?? "";
    const what = { id, ref, title, page, day, locks, kind, act, made_at, signed };
    await keepSent({ ...what, seq: answer.received, at: Date.now(), said: false }).catch(() => {});
    await receive(id, answer.received).catch(() => {});
    tell({ what: "received", id, page });
  } else await note(deed.id, answer.refused ? { refused: answer.refused } : { login: answer.login }).catch(() => {});
  return answer;
}

// What a sheet that is not signed takes out of service; where its page is open, that page sends it.
async function sendOut(ref, csrf, tell) {
  for (const one of await outHere(ref))
    await navigator.locks.request(OPEN + one.path, { ifAvailable: true }, async (lock) => {
      if (!lock) return;
      const { address, hidden, key } = one.out;
      const body = unfolded([...hidden, ...one.fields]);
      for (const name of ["item", "keep"]) body.set(name, key);
      if (!(await asked(address, body, csrf))?.item?.[key]) return;
      if ((await draft(one.id))?.at === one.at) await putDrafts([{ ...one, confirmed: Date.now(), base: one.fields }]);
      tell({ what: "received", id: one.id, page: one.path });
    });
}

async function sendAll(tell) {
  const deeds = await held();
  if (!deeds.length && !(await photosHeld()).length && !(await outHere()).length) return { left: 0, failed: false };
  const server = await hello();
  if (!server) return { left: deeds.length, failed: true };
  const isAhead = ({ kind }) => AHEAD.includes(kind);
  const waiting = deeds.filter((deed) => !deed.refused).sort((one, other) => isAhead(other) - isAhead(one));
  if (!server.person) {
    for (const deed of waiting) await note(deed.id, { login: true, tried: deed.tried }).catch(() => {});
    return { left: waiting.length, failed: true };
  }
  const own = (all) => all.filter((deed) => deed.ref === server.person);
  const { csrf } = server;
  tellHeld(server).catch(() => {}); // nothing waits for it
  const out = sendOut(server.person, csrf, tell).catch(() => {}); // it holds up no deed, nor is it held up by one
  let failed = false;
  let login = false;
  for (const { id, kind } of own(waiting)) {
    // Of the others each waits for the one before it: where that did not arrive, what comes after waits too.
    if (login || (failed && !isAhead({ kind }))) continue;
    const deed = await heldDeed(id);
    if (!deed || deed.received !== undefined) continue;
    const answer = await one(deed, csrf, tell).catch(() => ({})); // one that cannot go holds up no other that may
    if (answer.received === undefined && !answer.refused) failed = true;
    login ||= Boolean(answer.login);
  }
  await out;
  const left = own(await held());
  const isNews = left.length !== own(deeds).length;
  return { left: left.filter((deed) => !deed.refused).length, failed, isNews, server };
}

// --- the photos of what was received

async function photoSent({ act }, photo, hash, csrf) {
  const body = new FormData();
  body.append("photo", new File([photo.bytes], photo.name, { type: photo.type }));
  body.append("sha256", hash);
  const answer = await asked(`/course/${JSON.parse(act).course}/photo/`, body, csrf); // inspections.urls
  return answer?.sha256 === hash ? { arrived: true } : other(answer);
}

// Takes a photo out of what is held, or notes in it why it was not taken; what was discarded meanwhile stays so.
const settle = (id, hash, refused) => navigator.locks.request(SETTLE, () => takeOut(id, hash, refused));

async function takeOut(id, hash, refused) {
  const deed = await heldDeed(id);
  if (!deed) return;
  const fields = [];
  for (const [name, value] of deed.fields) {
    const isIt = typeof value !== "string" && (await sha256(value.bytes)) === hash;
    if (!isIt) fields.push([name, value]);
    else if (refused) fields.push([name, { ...value, refused }]);
  }
  if (fields.some(isPhoto)) await hold({ ...deed, fields });
  else await letGo(id);
}

// Whoever is logged in sends them, whoever signed: what they are, their entry has said. True where all that can go went.
async function sendPhotos({ csrf }, tell) {
  let isDone = true;
  for (const deed of await photosHeld()) {
    for (const [, photo] of deed.fields.filter(isPhoto)) {
      if (photo.refused) continue;
      const hash = await sha256(photo.bytes);
      const { arrived, refused } = await photoSent(deed, photo, hash, csrf);
      if (arrived || refused) await settle(deed.id, hash, refused).catch(() => (isDone = false));
      else isDone = false;
      tell({ what: "photo", id: deed.id });
      if (!arrived && !refused) break; // of another deed one may still go
    }
  }
  return isDone;
}

// Sends what can be sent: {left, failed}; `busy` where another page or the worker is at it. Tells every page, and
// `tell`, as it goes: {what: "sending" | "received" | "done" | "photo", id, page}.
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
    if (!how.server || how.failed) return how;
    const isDone = await navigator.locks.request(
      PHOTOS, { ifAvailable: true }, (lock) => !lock || sendPhotos(how.server, all),
    );
    return { ...how, failed: !isDone };
  } finally {
    channel.close();
  }
}
