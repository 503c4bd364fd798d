// The lock: after some minutes without a touch, or at once from the menu, the page is covered, and the password of who is
// logged in opens it again, held against the server where there is a signal, else against what this phone keeps. What was
// typed stays as it is. A phone that could not be opened is not locked: first somebody must be able to go on with the
// inspection.

import { closeAll } from "./say.mjs";
import { cameIn, isRight, keepLocked, keepOpen, lockOf, remember, verifierOf } from "./verifier.mjs";

const TICK = 10000;
const TOUCH = 5000; // ms between two notes of a touch
const PATIENCE = 8000; // ms for the server to say whether it is the password
const TRIES = 5; // as the server has it (accounts.proof)
const SPAN = 5 * 60000;
const DEFAULT = 15; // minutes

const root = document.documentElement;
const ref = root.dataset.person;
const template = document.querySelector("[data-lock]");
const isLeaving = "leaving" in root.dataset; // the page of the log-out stays in reach
const cookie = (name) => document.cookie.match(`(?:^|; )${name}=([^;]*)`)?.[1] ?? "";

const kept = {
  get: (name) => localStorage.getItem(`lineworthy-${name}`),
  set: (name, value) => localStorage.setItem(`lineworthy-${name}`, value),
  drop: (name) => localStorage.removeItem(`lineworthy-${name}`),
};

let box = null;
let covered = [];
let hasVerifier = false;

// --- touches

let noted = 0;
function touched() {
  const now = Date.now();
  if (box || Math.abs(now - noted) < TOUCH) return;
  noted = now;
  kept.set("touched", now);
}

function isIdle() {
  const idle = Date.now() - Number(kept.get("touched") ?? 0);
  if (idle < 0) kept.set("touched", Date.now()); // the clock was set back
  return idle > Number(kept.get("lock-minutes") ?? DEFAULT) * 60000;
}

// --- the cover

function cover() {
  root.dataset.locked = "";
  if (box || isLeaving) return;
  closeAll();
  covered = Array.from(document.body.children).filter((one) => !one.inert);
  for (const one of covered) one.inert = true;
  box = template.content.firstElementChild.cloneNode(true);
  document.body.append(box);
  box.querySelector("form").addEventListener("submit", (event) => {
    event.preventDefault();
    attempt();
  });
  box.querySelector("input").focus();
}

function uncover() {
  for (const one of covered) one.inert = false;
  covered = [];
  box?.remove();
  box = null;
  delete root.dataset.locked;
}

// Other pages hear of it through localStorage; the database is what is still there after a battery that died.
function lock() {
  keepLocked(ref).catch(() => {});
  kept.set("locked", ref);
  cover();
}

// The database first: a page that finds nothing in localStorage any more asks it.
async function open() {
  noted = Date.now();
  kept.set("touched", noted);
  await keepOpen(ref).catch(() => {});
  kept.drop("locked");
  uncover();
}

// --- the password

// {ok}, {refused: sentence}, {login} or {} where no server of ours answers.
async function asked(password) {
  const body = new URLSearchParams({ password, ref });
  const headers = { "X-CSRFToken": cookie("csrftoken"), Accept: "application/json" };
  const options = { method: "POST", body, headers, redirect: "manual", signal: AbortSignal.timeout(PATIENCE) };
  try {
    return (await (await fetch(template.dataset.unlock, options)).json()) ?? {};
  } catch {
    return {};
  }
}

const tries = () => JSON.parse(kept.get("tries") ?? "[]").filter((at) => Math.abs(Date.now() - at) < SPAN);

async function isRightHere(password) {
  const before = tries();
  if (before.length >= TRIES) return template.dataset.wordsTries;
  if (await isRight(ref, password)) return kept.drop("tries"), "";
  kept.set("tries", JSON.stringify([...before, Date.now()]));
  return hasVerifier ? template.dataset.wordsWrong : template.dataset.wordsSignal;
}

async function attempt() {
  const field = box.querySelector("input");
  const button = box.querySelector("button");
  const password = field.value;
  if (!password || button.disabled) return;
  const say = (sentence) => (box.querySelector("[role=alert]").textContent = sentence);
  say("");
  button.disabled = true;
  try {
    const answer = await asked(password);
    if (answer.ok === ref) {
      await remember(ref, password).then(() => (hasVerifier = true), () => {});
      return await open();
    }
    if (answer.login) {
      box.querySelector("[data-lock-log-in]").hidden = false;
      return say(template.dataset.wordsLogin);
    }
    const sentence = answer.refused || (await isRightHere(password));
    if (!sentence) return await open();
    field.value = "";
    field.focus();
    say(sentence);
  } finally {
    button.disabled = false;
  }
}

// --- when

async function isSignal() {
  try {
    const options = { method: "HEAD", cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(PATIENCE) };
    return (await fetch(template.dataset.page, options)).headers.has("X-Lineworthy-Person");
  } catch {
    return false;
  }
}

let asking = false;
async function turn() {
  if (box || asking || !isIdle()) return;
  if (hasVerifier) return lock();
  asking = true;
  try {
    if ((await isSignal()) && isIdle()) lock();
  } finally {
    asking = false;
  }
}

function offerChoice() {
  for (const choice of document.querySelectorAll("[data-lock-choice]")) {
    choice.hidden = false;
    for (const radio of choice.querySelectorAll("input")) {
      radio.checked = Number(radio.value) === Number(kept.get("lock-minutes") ?? DEFAULT);
      radio.addEventListener("change", () => kept.set("lock-minutes", radio.value));
    }
  }
}

function offerNow() {
  for (const place of document.querySelectorAll("[data-lock-now]")) {
    const said = place.querySelector("p");
    place.hidden = false;
    place.querySelector("button").addEventListener("click", async () => {
      said.textContent = "";
      if (!hasVerifier && !(await isSignal())) return (said.textContent = said.dataset.words);
      place.closest("details")?.removeAttribute("open");
      lock();
    });
  }
}

// Whether it was locked: localStorage says so, or the database, where a battery died before the browser wrote the other.
// An opening is written to the database first: what it said before the other was asked is asked again.
async function wasLocked() {
  const isSaid = () => kept.get("locked") === ref;
  return isSaid() || ((await lockOf(ref)) === "locked" && (isSaid() || (await lockOf(ref)) === "locked"));
}

// Another page was opened, or somebody logged out there: that alone opens nothing here.
async function openedElsewhere() {
  const last = await lockOf(ref).catch(() => "");
  if (last === "open" && kept.get("locked") !== ref) uncover();
}

async function begin() {
  const isNew = !root.dataset.kept && (await cameIn(ref)); // only the server says who came in
  hasVerifier = Boolean(await verifierOf(ref));
  if (isNew) await open();
  else if (await wasLocked()) lock();
  else if (kept.get("touched") === null) await open();
  else if ("locked" in root.dataset && (hasVerifier || (await isSignal()))) lock();
  else uncover();
  offerChoice();
  offerNow();
  for (const kind of ["pointerdown", "keydown", "input", "wheel", "touchmove"])
    document.addEventListener(kind, touched, { capture: true, passive: true });
  setInterval(turn, TICK);
  for (const kind of ["focus", "pageshow", "online"]) window.addEventListener(kind, turn);
  document.addEventListener("visibilitychange", turn);
  window.addEventListener("storage", ({ key, newValue }) => {
    if (key === "lineworthy-locked") newValue === ref ? cover() : openedElsewhere();
  });
}

if (template && globalThis.crypto?.subtle && globalThis.indexedDB) begin().catch(uncover);
else delete root.dataset.locked;
