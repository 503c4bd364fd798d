// The page that says what of today is on this phone, and takes it along.

import { listed, person } from "./keeping.mjs";
import { kept as keyOf } from "./sign.mjs";
import { value } from "./phone.mjs";
import { named, takeAlong } from "./taking.mjs";
import { fill, isOfToday, time, weekday } from "./when.mjs";

const box = document.querySelector("[data-along]");
const words = box.dataset;
const say = (sentence) => (box.querySelector("[data-along-say]").textContent = sentence);
const button = box.querySelector("[data-along-take]");
const bar = box.querySelector("[data-along-progress]");
const rows = new Map(Array.from(document.querySelectorAll("[data-take]"), (one) => [one.dataset.take, one.querySelector("[data-state]")]));
const wanted = named(document);
const why = new Map(); // path -> what came in its way when it was last asked for

const reasons = { signal: words.wordsSignal, login: words.wordsLogin, gone: words.wordsGone, room: words.wordsRoom, other: words.wordsOther };

async function show() {
  const kept = await listed(await person());
  const there = wanted.map((path) => kept.get(path));
  for (const [path, place] of rows) {
    const one = kept.get(path);
    const about = one && { time: time(one.served), day: weekday(one.served) };
    const since = one && fill(isOfToday(one.here) ? words.wordsAsOf : words.wordsAsOfDay, about);
    place.textContent = [since ?? words.wordsLacks, reasons[why.get(path)]].filter(Boolean).join(". ");
  }
  const held = there.filter(Boolean);
  const today = held.filter((one) => isOfToday(one.here));
  const oldest = (today.length === held.length ? today : held.filter((one) => !isOfToday(one.here))).reduce(
    (first, one) => (!first || one.here < first.here ? one : first), null);
  const about = {
    done: today.length, of: wanted.length, time: oldest && time(oldest.served), day: oldest && weekday(oldest.served),
    kb: Math.round(held.reduce((sum, one) => sum + one.bytes, 0) / 1000).toLocaleString(document.documentElement.lang),
  };
  if (today.length === wanted.length) say(fill(words.wordsAll, about));
  else if (today.length < held.length) say(fill(words.wordsOld, about));
  else say(held.length ? fill(words.wordsSome, about) : words.wordsNone);
  button.textContent = today.length === wanted.length ? words.wordsTakeAgain : words.wordsTake;
  box.dataset.along = today.length === wanted.length ? "all" : held.length ? "some" : "none";
}

async function take() {
  button.disabled = true;
  bar.hidden = false;
  box.setAttribute("aria-busy", "true");
  why.clear();
  let done = 0;
  try {
    await takeAlong(wanted, (path, reason) => {
      done += 1;
      bar.value = done;
      if (reason) why.set(path, reason);
      say(fill(words.wordsTaking, { done, of: wanted.length }));
    });
  } finally {
    button.disabled = false;
    bar.hidden = true;
    box.removeAttribute("aria-busy");
    await show();
  }
}

async function sayStorage(asked = false) {
  const persisted = (await navigator.storage?.persisted?.()) ?? false;
  const sentence = persisted ? words.wordsPersisted : asked ? words.wordsNotGranted : words.wordsNotPersisted;
  box.querySelector("[data-along-persisted]").textContent = sentence;
  box.querySelector("[data-along-persist]").hidden = persisted || !navigator.storage?.persist;
  const registration = await navigator.serviceWorker.getRegistration();
  box.querySelector("[data-along-sends]").textContent = registration?.sync ? words.wordsByItself : words.wordsOpen;
  box.querySelector("[data-along-storage]").hidden = false;
}

// Without a key of one's own nothing can be signed where there is no signal.
async function sayKey() {
  const { signerRef, signerLog } = document.body.dataset;
  if (signerRef && !(await keyOf(`${signerLog}/${signerRef}`))) box.querySelector("[data-along-key]").hidden = false;
}

// As the manager's list of phones tells several of one person apart.
async function sayMark() {
  const phone = await value("phone");
  if (phone) box.querySelector("[data-along-mark]").textContent = fill(words.wordsMark, { mark: phone.slice(-4).toUpperCase() });
}

async function begin() {
  if (!globalThis.caches || !navigator.serviceWorker) return say(words.wordsUnable);
  // A first visit: the worker is being set up by pages.mjs.
  const ready = await Promise.race([navigator.serviceWorker.ready, new Promise((done) => setTimeout(done, 10000))]);
  if (!ready) return say(words.wordsUnable);
  await show();
  button.hidden = false;
  button.addEventListener("click", take);
  box.querySelector("[data-along-persist]").addEventListener("click", async () => {
    await navigator.storage.persist();
    await sayStorage(true);
  });
  await sayStorage();
}

begin().catch(() => say(words.wordsUnable));
if (globalThis.indexedDB) for (const what of [sayKey, sayMark]) what().catch(() => {});
