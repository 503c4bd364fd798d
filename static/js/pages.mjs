// Pages that are there without a signal: has the browser take the worker that keeps them, and says on a page that comes
// from the phone since when it is kept there. Where a browser has no such workers, pages come from the network as ever.

import { hello } from "./hello.mjs";
import { CHANNEL } from "./sending.mjs";
import { fill, isOfToday, time, weekday } from "./when.mjs";

const ANSWER = 60000; // ms for the worker to say what became of it
const CALM = 3000; // ms: a worker that is in use for a page just opened is not replaced at once
const FILLING = "lineworthy-filling"; // held by every page on which somebody fills something in

const root = globalThis.document?.documentElement;

async function working() {
  const registration = await globalThis.navigator?.serviceWorker?.getRegistration();
  return registration?.active ?? null;
}

// Ask the worker for something; {} where there is none, or no answer.
export async function ask(message) {
  const worker = await working().catch(() => null);
  if (!worker) return {};
  return new Promise((done) => {
    const { port1, port2 } = new MessageChannel();
    const timer = setTimeout(() => done({}), ANSWER);
    port1.onmessage = ({ data }) => (clearTimeout(timer), port1.close(), done(data ?? {}));
    worker.postMessage(message, [port2]);
  });
}

// Has a page that is kept fetched anew. Answers {why}: empty where it is kept now, else "signal", "login", "gone",
// "room" or "other"; {} without a worker.
export const refetch = (path) => ask({ kind: "take", path });

// The same of a page that is out of date by what was sent: once when all of that is through.
export const refetchAfter = (path) => ask({ kind: "take", path, isAfter: true });

// --- a page that comes from the phone

const REPEATED = ["sheet", "rack"]; // what is signed once: its form keeps the identity it has

// A deed that can be done again has another identity each time; a page from the phone may be opened many times.
function renewDeeds() {
  for (const form of document.querySelectorAll("form[data-act]")) {
    const pattern = document.getElementById(form.dataset.act);
    if (!form.elements.deed_id || !pattern) continue;
    if (!REPEATED.includes(JSON.parse(pattern.textContent).make)) form.elements.deed_id.value = crypto.randomUUID();
  }
}

function sayKept() {
  const box = document.querySelector("[data-kept-words]");
  if (!box) return;
  const { wordsSignal, wordsKept, wordsOld, wordsAsOf, wordsFresh } = box.dataset;
  const served = new Date(root.dataset.kept);
  const isOld = !isOfToday(new Date(root.dataset.keptHere));
  const about = { time: time(served), day: weekday(served) };
  const say = (how) => {
    const sentence = box.querySelector("[data-kept-say]");
    const text = fill(`${how} ${isOld ? wordsOld : wordsKept}`, about);
    if (sentence.textContent !== text) sentence.textContent = text;
  };
  box.classList.toggle("is-old", isOld);
  say(wordsSignal);
  box.querySelector("a").href = location.href;
  // A status that comes from the phone never stands there alone, as if it were one of now.
  for (const mark of document.querySelectorAll(".mark:not(.item *), main .lead"))
    mark.append(Object.assign(document.createElement("span"), { className: "as-of", textContent: ` ${fill(wordsAsOf, about)}` }));
  const answered = () => say(wordsFresh);
  navigator.serviceWorker?.addEventListener("message", ({ data }) => {
    if (data?.kind === "fresh" && data.path === location.pathname) answered();
  });
  // What is filled in, or waited here, has arrived; or the browser has a network again, and the server answers.
  document.addEventListener("confirmed", answered);
  new BroadcastChannel(CHANNEL).onmessage = ({ data }) => data.what === "received" && answered();
  const ask = async () => document.hidden || ((await hello()) ? answered() : say(wordsSignal));
  for (const [where, what] of [[window, "online"], [document, "visibilitychange"]]) where.addEventListener(what, ask);
  window.addEventListener("offline", () => say(wordsSignal));
  // The ground that was chosen since.
  const theme = document.cookie.match(/(?:^|; )theme=(light|dark)/)?.[1];
  if (theme) root.dataset.theme = theme;
}

// --- a newer worker

function holdWhileFilling() {
  let holding = false;
  const hold = () => {
    if (!holding) navigator.locks.request(FILLING, { mode: "shared" }, () => new Promise(() => {}));
    holding = true;
  };
  if (document.querySelector("form[data-act=act]")) hold();
  else document.querySelector("main").addEventListener("input", hold);
}

// A newer worker takes over when a page is opened and nobody is filling in anything, on this page or another.
async function letNewerIn(registration) {
  if (!registration.waiting) return;
  const { held } = await navigator.locks.query();
  if (!held.some((one) => one.name === FILLING)) registration.waiting.postMessage({ kind: "take over" });
}

async function begin() {
  const registration = await navigator.serviceWorker.register("/worker.js", { type: "module", scope: "/" });
  if (!root.dataset.kept) await ask({ kind: "person", ref: root.dataset.person });
  setTimeout(() => letNewerIn(registration).catch(() => {}), CALM);
}

if (root?.dataset.kept) {
  renewDeeds();
  sayKept();
}
if (root?.dataset.person && navigator.serviceWorker && navigator.locks && globalThis.indexedDB) {
  holdWhileFilling();
  begin().catch(() => {}); // private windows, and browsers without workers of this kind
}
