// Sends what was signed on this phone without a signal, and says what is not sent yet. A deed leaves the phone only when
// the server's answer names its identity and the hash of its act; nothing else counts as received.

import { held, heldDeed, hold, letGo, unfolded } from "./held.mjs";

const PATIENCE = 60000; // ms for one answer: photos at the edge of a signal
const EVERY = 30000;
const LOCK = "lineworthy-held";

const cookie = (name) => document.cookie.match(`(?:^|; )${name}=([^;]*)`)?.[1] ?? "";
const make = (tag, more, ...inside) => {
  const made = Object.assign(document.createElement(tag), more);
  made.append(...inside);
  return made;
};
const fill = (sentence, values) => sentence.replace(/%\((\w+)\)s/g, (whole, name) => values[name] ?? whole);

const box = globalThis.document?.querySelector("[data-outbox]");
const words = box?.dataset ?? {};

function clock(at) {
  const timeZone = document.documentElement.dataset.zone;
  const day = (one) => one.toLocaleDateString("en-GB", { timeZone });
  const time = at.toLocaleTimeString("en-GB", { timeStyle: "short", timeZone });
  return day(at) === day(new Date()) ? time : `${at.toLocaleDateString("en-GB", { day: "numeric", month: "long", timeZone })}, ${time}`;
}

// --- sending

// What the server says to one deed: {received}, {refused: sentence}, {login} or {} for no answer that counts.
async function told(deed) {
  const fields = unfolded(deed.fields);
  for (const [name, value] of Object.entries(deed.signed)) fields.set(name, value);
  // The cookie is the freshest token: a log-in in between has renewed it.
  const headers = { "X-Lineworthy-Act": "send", "X-CSRFToken": cookie("csrftoken"), Accept: "application/json" };
  const options = { method: "POST", body: fields, headers, redirect: "manual", signal: AbortSignal.timeout(PATIENCE) };
  let answer;
  try {
    const response = await fetch(deed.address, options);
    answer = await response.json();
  } catch {
    return {};
  }
  if (answer?.id === deed.id) return answer.act === deed.hash ? { received: answer.seq } : { refused: words.wordsOther };
  if (typeof answer?.refused === "string" && answer.refused) return { refused: answer.refused };
  return { login: Boolean(answer?.login) };
}

const done = new Set(); // pages whose deed has arrived since they were opened: their forms stay as they were sent

async function sendAll() {
  for (const { id, ref } of await held()) {
    if (ref !== words.person || navigator.onLine === false) continue;
    const deed = await heldDeed(id);
    if (!deed || deed.refused) continue;
    await hold({ ...deed, tried: true });
    const answer = await told(deed);
    if (answer.received !== undefined) {
      await letGo(id);
      if (deed.locks) done.add(deed.page);
      sayReceived(deed, answer.received);
    } else if (answer.refused) await hold({ ...deed, tried: true, refused: answer.refused });
    else {
      await hold({ ...deed, tried: true, login: Boolean(answer.login) });
      return; // in their order: what comes after waits too
    }
  }
}

let running = false;
export async function send() {
  if (!box || running) return;
  running = true;
  try {
    // One tab at a time, and where another one is at it already nothing has to be done here.
    await navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => lock && sendAll());
  } finally {
    running = false;
    await show();
  }
}

// --- saying it

const heading = (count) => make("p", { className: "notice__title", textContent: fill(words.wordsCount, { count }) });

function sayReceived(deed, number) {
  const said = make("p", { textContent: fill(words.wordsSent, { title: deed.title, number }) });
  said.setAttribute("role", "status");
  const place = box.querySelector("[data-outbox-sent]");
  place.parentElement.hidden = false;
  place.append(said);
}

async function discard(deed) {
  if (!window.confirm(deed.tried && !deed.refused ? words.wordsSureTried : words.wordsSure)) return;
  // Not while it is on its way; and what has gone in between is gone.
  await navigator.locks.request(LOCK, () => letGo(deed.id));
  await show();
}

function drawn(deed) {
  const about = { title: deed.title, time: clock(new Date(deed.made_at)), sentence: deed.refused };
  const sentence = fill(deed.refused ? words.wordsRefused : deed.login ? words.wordsLogin : words.wordsWaiting, about);
  const list = make("dl", { className: "kv" });
  for (const [question, answer] of deed.typed)
    list.append(make("div", {}, make("dt", { textContent: question }), make("dd", { textContent: answer })));
  const typed = make("details", {}, make("summary", { textContent: words.wordsTyped }), list);
  const buttons = make("div", { className: "buttons" });
  const link = (href, text) => buttons.append(make("a", { className: "button", href, textContent: text }));
  if (deed.login) link(`${words.login}?next=${encodeURIComponent(location.pathname)}`, words.wordsToLogin);
  if (deed.refused && deed.page !== location.pathname) link(deed.page, words.wordsOpen);
  const away = make("button", { type: "button", className: "button", textContent: deed.tried ? words.wordsDiscard : words.wordsBack });
  away.addEventListener("click", () => discard(deed));
  buttons.append(away);
  const said = make("p", { className: deed.refused ? "toned is-withdraw" : "", textContent: sentence });
  const place = make("li", {}, said, typed, buttons);
  if (deed.refused) {
    said.setAttribute("role", "alert");
    typed.before(make("p", { textContent: words.wordsMend }));
  }
  return place;
}

// A form whose deed is held here is not signed a second time.
function lock(own) {
  const form = document.querySelector("form[data-act=act]");
  const here = location.pathname;
  const isHeld = done.has(here) || own.some((deed) => deed.locks && deed.page === here && !deed.refused);
  if (!form || form.inert === isHeld) return;
  form.inert = isHeld;
  for (const one of form.elements) if (one.matches("button, input[type=submit]")) one.disabled = isHeld;
  form.dispatchEvent(new Event(isHeld ? "held" : "let-go"));
}

export async function show() {
  if (!box) return;
  const all = await held().catch(() => []);
  const own = all.filter((deed) => deed.ref === words.person);
  const others = all.length - own.length;
  const waiting = box.querySelector("[data-outbox-waiting]");
  const open = waiting.querySelector("details[open]") !== null;
  const lines = own.length ? [heading(own.length), make("ul", { className: "outbox__list" }, ...own.map(drawn))] : [];
  if (others) lines.push(make("p", { textContent: fill(words.wordsOthers, { count: others }) }));
  if (!open || lines.length === 0) waiting.replaceChildren(...lines); // who reads what was typed is not interrupted
  waiting.parentElement.hidden = lines.length === 0;
  box.hidden = lines.length === 0 && !box.querySelector("[data-outbox-sent]").hasChildNodes();
  lock(own);
}

if (box && globalThis.indexedDB && navigator.locks) {
  show();
  send();
  setInterval(send, EVERY);
  window.addEventListener("online", send);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && send());
}
