// Says what was signed on this phone without a signal and is not sent yet, has it sent (`sending.mjs`), and says what was
// received of it.

import { isLocked, lockForm, openForms } from "./another.mjs";
import { now } from "./clock.mjs";
import { asDraft, clearDrafts } from "./drafts.mjs";
import { hello, named } from "./hello.mjs";
import { held, heldDeed, hold, isPhoto, letGo, photosHeld } from "./held.mjs";
import { fetchAnew, taken } from "./receipt.mjs";
import { ask, tell as sayOver } from "./say.mjs";
import { AHEAD, CHANNEL, LOCK, SETTLE, TAG, sendHeld } from "./sending.mjs";
import { clearSent, keepSent, sent } from "./sent.mjs";
import { isFull } from "./stored.mjs";
import { laySigned, openSigned } from "./waiting.mjs";
import { fill, time } from "./when.mjs";

const EVERY = 30000; // ms
const SECOND = 1000; // ms
const BUSY = 2000; // ms, where another page or the worker is at it
const PAUSES = [4000, 8000, 15000, 30000, 60000]; // ms, where it fails

const make = (tag, more, ...inside) => {
  const made = Object.assign(document.createElement(tag), more);
  made.append(...inside);
  return made;
};

const root = globalThis.document?.documentElement;
const box = globalThis.document?.querySelector("[data-outbox]");
const words = box?.dataset ?? {};
const language = (root?.lang || "en").replace(/^en$/, "en-GB"); // as the server writes dates

let ahead = 0; // ms of the server's clock before this phone's, as far as that is known

function clock(at) {
  const timeZone = root.dataset.zone;
  const day = (one) => one.toLocaleDateString(language, { timeZone });
  return day(at) === day(new Date(Date.now() + ahead))
    ? time(at)
    : `${at.toLocaleDateString(language, { day: "numeric", month: "long", timeZone })}, ${time(at)}`;
}

// When a deed was signed, by what this phone knew then of its own clock.
const signedAt = ({ made_at, signed }) => clock(new Date(Date.parse(made_at) + 1000 * (parseInt(signed?._clock, 10) || 0)));

// --- sending

let failed = 0;
let timer;
let sending = ""; // the deed that is on its way just now
const arrived = new Set(); // pages whose deed was received since this one was opened
let before = null; // deeds that were known to be received when this page was opened
let trying = 0; // how many tries of this page are under way
let nextAt = 0; // ms of this phone's clock that runs evenly: when it is tried again by itself

function heard({ what, id, page }) {
  if (what !== "photo") sending = what === "sending" ? id : "";
  if (what === "received") arrived.add(page);
}

function later(ms) {
  clearTimeout(timer);
  timer = setTimeout(send, ms);
  nextAt = performance.now() + ms;
}

export async function send() {
  if (!box) return;
  let how = { failed: true };
  trying += 1;
  sayNext();
  try {
    how = await sendHeld(heard);
  } catch {
    // the phone's own store did not answer: tried again as any other
  }
  trying -= 1;
  failed = how.failed ? failed + 1 : 0;
  isBusy = Boolean(how.busy);
  if (how.failed) failedAt = new Date();
  later(how.busy ? BUSY : failed ? PAUSES[Math.min(failed, PAUSES.length) - 1] : EVERY);
  await show();
}

const atOnce = () => ((failed = 0), send());

// Whether it is being tried, or how it went and when it is tried again. Only what is new is read out, not each second.
let isBusy = false; // another page, or the worker, is at it
let failedAt = null;
function sayNext() {
  const [said, next] = ["tried", "next"].map((name) => box.querySelector(`[data-outbox-${name}]`));
  const put = (place, text) => place.textContent !== text && (place.textContent = text);
  const isTrying = trying > 0 || isBusy;
  const count = Math.max(0, Math.ceil((nextAt - performance.now()) / 1000));
  put(said, isTrying ? words.wordsTrying : failed && failedAt ? fill(words.wordsFailed, { time: time(failedAt) }) : "");
  put(next, isTrying || !nextAt ? "" : fill(words.wordsNext, { count }));
}

// Where the browser can, the worker sends it with no page open.
const waker = async () => (await navigator.serviceWorker?.getRegistration())?.sync;
const askWorker = async () => (await waker())?.register(TAG);

// Hold a deed that was signed. False where the phone has no room for it: then it is nowhere, and that is said.
export async function holds(deed) {
  try {
    await hold(deed);
  } catch (error) {
    if (!isFull(error)) throw error;
    await sayOver(words.wordsFull);
    return false;
  }
  tell(); // where the phone knows of no network nothing is tried, and nothing else would say it
  askWorker().catch(() => {});
  return true;
}

// --- saying it

const courseOf = (page) => page.match(/^\/course\/[^/]+\//)?.[0] ?? "";

function receivedLine(one) {
  const about = { title: one.title, number: one.seq, time: clock(new Date(one.at + ahead)) };
  const said = make("p", { textContent: fill(words.wordsSent, about) });
  const where = courseOf(one.page);
  if (where) {
    const link = (href, text) => said.append(" ", make("a", { href, textContent: text }));
    link(`${where}history/record/${one.seq}/`, words.wordsEntry);
    if (one.locks && one.page === location.pathname) link(`${where}walk/`, words.wordsWalk);
  }
  return said;
}

const told = new Set(); // deeds that this page has said were received

async function sayReceived(own) {
  const place = box.querySelector("[data-outbox-sent]");
  for (const one of own) {
    if (one.said || told.has(one.id)) continue;
    told.add(one.id);
    place.append(receivedLine(one));
    place.parentElement.hidden = false;
    await keepSent({ ...one, said: true }).catch(() => {});
    if (!root.dataset.kept) fetchAnew(one.page);
  }
}

// Only while nobody sends; and what has gone in between is gone.
const alone = (use) => navigator.locks.request(LOCK, use);

// What was sent, or tried, while it was asked is not what was asked about: it is shown as it is now.
const isStill = (deed, now) =>
  Boolean(now) && now.received === undefined && now.tried === deed.tried && now.refused === deed.refused;

// What others were told of is not lifted by it.
const isTold = (deed) => AHEAD.includes(deed.kind) || named(deed).out;

async function discard(deed) {
  const sentence = deed.tried && !deed.refused ? words.wordsSureTried : words.wordsSure;
  const about = fill(isTold(deed) ? `%(title)s. ${words.wordsTold}` : "%(title)s.", { title: deed.title });
  if (!(await ask([about, sentence], words.wordsDiscard, true))) return;
  await alone(async () => isStill(deed, await heldDeed(deed.id)) && (await letGo(deed.id)));
  tell();
  await show();
}

// What was not taken comes back into its form, to be put right.
async function openAgain(deed) {
  await asDraft(deed);
  tell();
  openPage(deed);
}

function openPage({ page }) {
  if (location.pathname === page) location.reload();
  else location.assign(page);
}

// What was not sent yet comes back into its form.
async function takeBack(deed) {
  if (!(await ask(isTold(deed) ? [words.wordsTold, words.wordsSureBack] : words.wordsSureBack, words.wordsBack))) return;
  const isBack = await alone(async () => {
    if (!isStill(deed, await heldDeed(deed.id))) return false;
    await asDraft(deed);
    await letGo(deed.id);
    return true;
  });
  if (!isBack) return show();
  tell();
  openPage(deed);
}

function stateOf(deed) {
  if (deed.refused) return words.wordsRefused;
  return deed.id === sending ? words.wordsSending : words.wordsWaiting;
}

// What is folded up stays as it was left when it is drawn anew.
function folded(name, summary, ...inside) {
  const made = make("details", {}, make("summary", { textContent: summary }), ...inside);
  made.dataset.fold = name;
  return made;
}

function drawn(deed) {
  const why = deed.refused === "*" ? words.wordsOther : deed.refused;
  const about = { title: deed.title, time: signedAt(deed), sentence: why };
  const list = make("dl", { className: "kv" });
  for (const [question, answer] of deed.typed)
    list.append(make("div", {}, make("dt", { textContent: question }), make("dd", { textContent: answer })));
  const typed = folded(deed.id, words.wordsTyped, list);
  const buttons = make("div", { className: "buttons" });
  const button = (text, act) => {
    const made = make("button", { type: "button", className: "button", textContent: text });
    made.addEventListener("click", act);
    buttons.append(made);
  };
  if (deed.refused) button(words.wordsOpen, () => openAgain(deed));
  if (deed.tried) button(words.wordsDiscard, () => discard(deed));
  else button(words.wordsBack, () => takeBack(deed));
  const said = make("p", { className: deed.refused ? "toned is-withdraw" : "", textContent: fill(stateOf(deed), about) });
  const place = make("li", {}, said, typed, buttons);
  if (deed.refused) {
    said.setAttribute("role", "alert");
    typed.before(make("p", { textContent: words.wordsMend }));
  }
  return place;
}

// Of what was received, the photos that are here still.
function photosDrawn(deed) {
  const photos = deed.fields.filter(isPhoto).map(([, photo]) => photo);
  const refused = photos.filter((one) => one.refused);
  const place = make("li", { className: "stack stack--tight" });
  const say = (text, about) => place.append(make("p", { textContent: fill(text, { title: deed.title, ...about }) }));
  if (photos.length > refused.length) say(words.wordsPhotos, { count: photos.length - refused.length });
  for (const one of refused) say(words.wordsPhotoRefused, { sentence: one.refused });
  const button = make("button", { type: "button", className: "button", textContent: words.wordsPhotoDiscard });
  button.addEventListener("click", async () => {
    if (!(await ask(words.wordsPhotoSure, words.wordsPhotoDiscard, true))) return;
    await navigator.locks.request(SETTLE, () => letGo(deed.id)); // not put back by what takes a photo out of it just now
    tell();
    await show();
  });
  place.append(make("div", { className: "buttons" }, button));
  return place;
}

// A form whose deed is held here, or was received since its page came, is not signed a second time.
function lock(own, received) {
  const form = document.querySelector("form[data-act=act]");
  if (!form || isLocked(form)) return;
  const here = location.pathname;
  const isHere = (one) => one.locks && one.page === here;
  const since = Date.parse(root.dataset.keptHere ?? "");
  const isNew = (one) => arrived.has(here) || (before && !before.has(one.id));
  const done = received.findLast((one) => isHere(one) && (isNew(one) || one.at >= since));
  const waits = own.findLast((deed) => isHere(deed) && !deed.refused);
  const isHeld = Boolean(done || waits);
  if (done) sayDone(done);
  if (waits) laySigned(form, waits, fill(waits.tried ? words.wordsStands : words.wordsStandsBack, { time: signedAt(waits) }));
  else openSigned(form, Boolean(done));
  if (form.inert === isHeld) return;
  form.inert = isHeld;
  for (const one of form.elements) if (one.matches("button, input[type=submit]")) one.disabled = isHeld;
  form.dispatchEvent(new Event(isHeld ? "held" : "let-go"));
  if (isHeld) document.querySelector("main .error-summary")?.remove(); // it says that nothing is signed yet
  if (done && !waits && !root.dataset.kept) openAnew(form);
}

// Signed in another tab with a signal: the page as it is now says so too. Without one it stays as it is, locked.
async function openAnew(form) {
  if (!form.querySelector(".ask") && (await hello())) location.reload();
}

function sayDone(one) {
  const place = box.querySelector("[data-outbox-sent]");
  if (place.hasChildNodes()) return;
  place.append(receivedLine(one));
  place.parentElement.hidden = false;
  box.hidden = false;
}

// A form that can be used again, after it was signed alone.
export const lockAgain = (form, deed, pressed) =>
  lockForm(form, deed.id, fill(words.wordsLocked, { time: signedAt(deed) }), words.wordsAnother, pressed);

const listOf = (...lines) => make("ul", { className: "outbox__list" }, ...lines);

// How many wait, and which is the newest: what has to be called by radio, in two lines.
function summed(waiting) {
  const newest = waiting.at(-1);
  if (!newest) return [];
  const isOne = waiting.length === 1;
  const about = { count: waiting.length, title: newest.title, time: signedAt(newest) };
  const say = (textContent, className = "") => make("p", { className, textContent: fill(textContent, about) });
  const lines = [say(isOne ? words.wordsCountOne : words.wordsCount, "notice__title"), say(isOne ? words.wordsOnly : words.wordsNewest)];
  if (waiting.some((deed) => deed.login)) {
    const href = `${words.login}?next=${encodeURIComponent(location.pathname)}`;
    lines.push(say(words.wordsLogin), make("a", { className: "button", href, textContent: words.wordsToLogin }));
  }
  return lines;
}

// What was not taken stands first and open; what waits is folded up, so that the page below is in view.
function listed(waiting, refused, photos, others, goes) {
  const lines = [];
  if (refused.length) lines.push(listOf(...refused.map(drawn)));
  if (waiting.length) {
    const said = make("p", { textContent: goes });
    lines.push(folded("waiting", words.wordsAll, said, listOf(...waiting.toReversed().map(drawn))));
  }
  const isRefused = (deed) => deed.fields.some((one) => isPhoto(one) && one[1].refused);
  const [shut, open] = [photos.filter((deed) => !isRefused(deed)), photos.filter(isRefused)];
  if (open.length) lines.push(listOf(...open.map(photosDrawn)));
  if (shut.length) lines.push(folded("photos", words.wordsPhotosAll, listOf(...shut.map(photosDrawn))));
  if (others) lines.push(make("p", { textContent: fill(words.wordsOthers, { count: others }) }));
  return lines;
}

let shown = ""; // as it is drawn: what has not changed is left alone under a finger

function draw(place, lines, as) {
  if (as === shown) return;
  shown = as;
  const isOpen = new Set(Array.from(place.querySelectorAll("details[open]"), (one) => one.dataset.fold));
  place.replaceChildren(...lines);
  for (const one of place.querySelectorAll("details")) one.open = isOpen.has(one.dataset.fold);
}

export async function show() {
  if (!box) return;
  const [all, received, withPhotos, sync] = await Promise.all([
    held().catch(() => []), sent().catch(() => []), photosHeld().catch(() => []), waker().catch(() => null),
  ]);
  ahead = (await now()) - new Date();
  const isOwn = (one) => one.ref === words.person;
  const own = all.filter(isOwn);
  const photos = withPhotos.filter(isOwn);
  const others = all.length - own.length;
  await sayReceived(received.filter(isOwn));
  const waiting = own.filter((deed) => !deed.refused);
  const refused = own.filter((deed) => deed.refused).reverse();
  const part = (name) => box.querySelector(`[data-outbox-${name}]`);
  part("waiting").parentElement.hidden = !own.length && !photos.length && !others;
  box.hidden = part("waiting").parentElement.hidden && !part("sent").hasChildNodes();
  const said = summed(waiting);
  const sum = said.map((one) => one.textContent).join();
  if (part("sum").dataset.said !== sum) {
    part("sum").dataset.said = sum;
    part("sum").replaceChildren(...said);
  }
  const lines = listed(waiting, refused, photos, others, sync ? words.wordsGoes : words.wordsGoesOpen);
  const states = own.map((deed) => `${deed.id} ${deed.tried}`);
  draw(part("list"), lines, JSON.stringify([states, lines.map((one) => one.textContent)]));
  part("now").hidden = !waiting.length && !photos.some((deed) => deed.fields.some((one) => isPhoto(one) && !one[1].refused));
  sayNext();
  openForms(waiting.map((deed) => deed.id));
  lock(own, received.filter(isOwn));
}

// --- between pages

let channel;
const tell = () => channel?.postMessage({ what: "changed" });

function listen() {
  channel = new BroadcastChannel(CHANNEL);
  channel.onmessage = ({ data }) => {
    heard(data);
    show();
  };
}

async function start() {
  listen();
  box.querySelector("[data-outbox-now] button").addEventListener("click", atOnce);
  setInterval(() => !document.hidden && !box.hidden && sayNext(), SECOND);
  await taken;
  before = new Set((await sent().catch(() => [])).map((one) => one.id));
  tell(); // what the server says it has recorded may be what another tab has open
  await Promise.allSettled([clearDrafts(Date.now()), clearSent(Date.now())]);
  await show();
  await send();
}

if (box && globalThis.indexedDB && navigator.locks) {
  start();
  window.addEventListener("online", atOnce);
  window.addEventListener("pageshow", ({ persisted }) => persisted && atOnce());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && atOnce());
}
