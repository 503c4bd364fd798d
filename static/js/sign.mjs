// Deeds are signed on this device by a key that never leaves it. A form that does a deed is first sent to learn what
// would be recorded; that is held to what stands here, signed, and sent. Where the page says what its deed will record
// (`act.mjs`), that is made here too: only the same is signed, and without a signal it is signed alone (`alone.mjs`).
// Without a key everything works as it is where there is a signal; where there is none it says so.

import { build, kindsOf, patternOf } from "./act.mjs";
import { holdMeanwhile, signAlone } from "./alone.mjs";
import { offset } from "./clock.mjs";
import { hello } from "./hello.mjs";
import { base64, canonical, encoded, hex, sha256 } from "./bytes.mjs";
import { photosOf } from "./photo.mjs";
import { noteSigning } from "./receipt.mjs";
import { ask, tell } from "./say.mjs";

const STORE = "keys";
const KINDS = ["input", "change", "insisted"]; // by which a form says that it was changed
const PATIENCE = 5000; // ms for what would be recorded, where the phone can go on without it

const settled = (request) =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

async function store(mode) {
  const opening = indexedDB.open("lineworthy", 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore(STORE, { keyPath: "who" });
  return (await settled(opening)).transaction(STORE, mode).objectStore(STORE);
}

export const kept = async (who) => settled((await store("readonly")).get(who));
export const keep = async (record) => settled((await store("readwrite")).put(record));
export const forget = async (who) => settled((await store("readwrite")).delete(who));

// --- a new key

export async function made(log, ref) {
  const pair = await crypto.subtle.generateKey({ name: "ECDSA", namedCurve: "P-256" }, false, ["sign"]);
  const point = await crypto.subtle.exportKey("raw", pair.publicKey);
  const id = (await sha256(point)).slice(0, 32);
  const shown = base64(point);
  const proof = await signature(pair.privateKey, `key/v1\n${log}\n${ref}\n${shown}`);
  return { record: { who: `${log}/${ref}`, id, key: pair.privateKey, seen: "" }, shown, proof };
}

async function signature(key, text) {
  return base64(await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, key, encoded(text)));
}

// --- a deed

class Offline extends Error {} // no answer came
class Differs extends Error {} // the server would record something else

const MARKS = { sound: "sound", defect: "defect", cannot_check: "not_done" };
const OWN_UNIT = /[\p{L}"'″′°%]/u; // as inspections.measures
const CODES = { "°F": "degF" }; // units that are printed otherwise than they are recorded

// What stands in a form about each item that it asks for, filled or not.
function standing(form, fields) {
  const found = new Map();
  for (const { name } of form.elements) {
    const [, key] = name?.match(/^(?:text|mark)-(.+)$/) ?? [];
    if (!key || found.has(key)) continue;
    const typed = ["text", "second"].map((one) => (fields.get(`${one}-${key}`) ?? "").trim()).filter(Boolean);
    const unit = document.getElementById(`id_text-${key}_unit`)?.textContent.trim() ?? "";
    const mark = MARKS[fields.get(`mark-${key}`)] ?? "";
    found.set(key, { text: typed.join(" / ").normalize("NFC"), mark, unit: CODES[unit] ?? unit });
  }
  return found;
}

// A figure is recorded as typed, or with the unit that is printed behind its field where none was typed.
const isTyped = (said, { text, unit }) =>
  said === text || Boolean(text && unit && !OWN_UNIT.test(text) && said === `${text} ${unit}`);

// What the server says would be recorded has to be what this form says, as far as a form shows it: no reading that
// stands here may be missing or other, and none be there of an item that stands here unanswered.
export function agrees(act, form, fields, ref) {
  if (act.id !== fields.get("deed_id") || act.signer?.ref !== ref) return false;
  const here = standing(form, fields);
  const readings = act.readings ?? [];
  const named = new Set(readings.map((one) => one.key));
  if (named.size !== readings.length) return false;
  for (const [key, { text, mark }] of here) if ((text || mark) && !named.has(key)) return false;
  return readings.every((one) => {
    const item = here.get(one.key);
    return !item || ((one.mark ?? "") === item.mark && isTyped(one.text ?? "", item));
  });
}

const sizeOf = (state) => Number(state.split(":")[0]) || 0;

// A history only grows. One that is shorter than what this device has seen of it, or other, is another one.
export function isOther(told, seen) {
  return sizeOf(told) < sizeOf(seen) || (sizeOf(told) === sizeOf(seen) && told !== seen);
}

// Ask what there is to sign: the server's answer, or null where it is none that this script understands.
async function prepared(address, fields, patience) {
  let answer, text;
  try {
    const options = { method: "POST", body: fields, headers: { "X-Lineworthy-Act": "prepare" } };
    if (patience) options.signal = AbortSignal.timeout(patience);
    answer = await fetch(address, options);
    // What stands in front of the server answers for one that is away.
    if (patience && [502, 503, 504].includes(answer.status)) throw new Offline();
    text = await answer.text();
  } catch {
    throw new Offline();
  }
  try {
    if (answer.headers.get("Content-Type")?.includes("json")) return JSON.parse(text);
  } catch {
    return null;
  }
  // The log-in ran out: what was typed is kept by the server.
  return answer.redirected ? { to: answer.url } : null;
}

// The fields of a signature; null where there is nothing that this device's key could sign.
async function signed(told, form, fields, mine, signer, words, own) {
  if (!told?.act || !told.keys?.includes(mine.id)) return null;
  const act = JSON.parse(told.act);
  const seen = act.seen ? `${act.seen.size}:${act.seen.root}` : "";
  const isSame = own
    ? kindsOf(own.pattern, fields).includes(told.kind) && told.act === (await own.text(act, told.kind))
    : canonical(act) === told.act && agrees(act, form, fields, signer.ref);
  if (!isSame || told.log !== signer.log || (seen && seen !== mine.seen)) throw new Differs();
  const found = { _key: mine.id, _sig: await signature(mine.key, `act/v1\n${told.kind}\n${told.act}`) };
  if (mine.seen && (!seen || isOther(told.state, mine.seen))) await tell(words.signerOther);
  mine.seen = told.state;
  await keep(mine).catch(() => {}); // a full store hinders no deed
  return { ...found, _made_at: act.made_at, ...(seen && { _seen: seen }), ...(own && { _seed: own.seed }) };
}

// What this page can make of its own act, where it carries what that takes; else null.
async function ownOf(form, submitter) {
  const pattern = patternOf(form, submitter);
  const photos = pattern && (await photosOf(form));
  if (!photos) return null;
  const own = { pattern, photos, seed: hex(crypto.getRandomValues(new Uint8Array(32))) };
  own.text = (said, kind) => {
    const { made_at, seen, clock, hold } = said;
    const here = { id: own.fields.get("deed_id"), seed: own.seed, made_at, seen, clock, hold };
    return build(pattern, own.fields, here, photos, kind);
  };
  return own;
}

let undo = () => {};

// Send the form for good, with more fields than stand in it. Who comes back finds it as it was.
function post(form, address, more) {
  const action = form.getAttribute("action");
  const added = Object.entries(more).map(([name, value]) =>
    Object.assign(document.createElement("input"), { type: "hidden", name, value }),
  );
  form.append(...added);
  form.action = address;
  undo = () => {
    for (const field of added) field.remove();
    if (action === null) form.removeAttribute("action");
    else form.setAttribute("action", action);
    undo = () => {};
  };
  HTMLFormElement.prototype.submit.call(form);
}

// A photo that has arrived meanwhile stands in the form as a link, and is the same one.
const sorted = (photos) =>
  JSON.stringify(Object.entries(photos ?? {}).map(([name, all]) => [name, [...all].sort()]).filter(([, all]) => all.length).sort());

// What is signed is what stood in the form when it was pressed: where that was changed since, by a hand or another tab, it
// is said, and nothing is signed. Answers whether it was; `own`: what the page made of it then, where it could.
function changes(form, words) {
  let isChanged = false;
  const note = ({ target }) => (isChanged ||= !target.matches?.("input[type=file]"));
  for (const kind of KINDS) form.addEventListener(kind, note);
  return async (own) => {
    for (const kind of KINDS) form.removeEventListener(kind, note);
    const isIt = isChanged || Boolean(own && sorted(await photosOf(form)) !== sorted(own.photos));
    if (isIt) await tell(words.signerChanged);
    return isIt;
  };
}

// Answers whether the form was sent, or the browser is on its way elsewhere.
async function send(form, submitter, mine, signer, words) {
  const more = submitter?.name ? { [submitter.name]: submitter.value } : {};
  if (!form.elements.deed_id.value) more.deed_id = crypto.randomUUID();
  const address = submitter?.hasAttribute("formaction") ? submitter.formAction : form.action;
  const isOld = changes(form, words);
  const ownAct = await ownOf(form, submitter); // before the form is read: it makes the photos small
  const fields = new FormData(form);
  for (const [name, value] of Object.entries(more)) fields.set(name, value);
  if (mine.seen) fields.set("_seen", mine.seen);
  if (ownAct) {
    ownAct.fields = fields;
    ownAct.isOld = () => isOld(ownAct);
    fields.set("_seed", ownAct.seed);
  }
  // What counts at its time is held until later only where this phone can say at what time that was.
  const isAlone = ownAct && (!ownAct.pattern.timed || Boolean(await offset()));
  let told;
  try {
    if (isAlone && navigator.onLine === false) throw new Offline();
    told = await prepared(address, fields, isAlone && PATIENCE);
  } catch (error) {
    // Taken out of service from beside an item: the page for that is on the phone.
    const out = error instanceof Offline && submitter?.name === "withdraw" && document.querySelector("a[data-out-of-service]");
    if (out) {
      const { part } = submitter.closest("[data-item]")?.querySelector("[data-part]")?.dataset ?? {};
      location.assign(part ? `${out.href}?component=${part}` : out.href);
      return "gone";
    }
    if (!isAlone || !(error instanceof Offline)) throw error;
    const sign = (kind, text) => signature(mine.key, `act/v1\n${kind}\n${text}`);
    return signAlone(form, address, ownAct, mine, sign);
  }
  if (told?.to) {
    location.assign(told.to);
    return "gone";
  }
  let own = null;
  try {
    own = await signed(told, form, fields, mine, signer, words, ownAct);
  } catch (error) {
    if (error instanceof Differs) throw error;
    // A key that cannot be used must not stand between its person and what has to be done.
  }
  if (!own) {
    if (!(await ask(words.signerUnsigned, words.signerSend))) return "left";
    if (told?.act && !told.keys?.includes(mine.id)) await forget(mine.who); // ended elsewhere, or never taken
  }
  if (told?.act) await noteSigning(told.act).catch(() => {});
  if (await isOld(ownAct)) return "left";
  if (own && isAlone) await holdMeanwhile(form, address, ownAct, told, own).catch(() => {}); // a full phone hinders no deed
  post(form, address, { ...more, ...own });
  return "sent";
}

async function start(body) {
  const words = body.dataset;
  const signer = { ref: words.signerRef, log: words.signerLog };
  const who = `${signer.log}/${signer.ref}`;
  const mine = await kept(who).catch(() => null);
  const page = document.querySelector("[data-keys]");
  if (page) show(page, mine, signer);
  if (!mine) return page || needSignal(words.signerNone);
  if (!page) for (const form of document.forms) sayBeside(form, words.signerSigns.replace("%(key)s", short(mine)));
  let busy = false;
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post" || !form.elements.deed_id) return;
    event.preventDefault();
    if (busy) return;
    busy = true;
    const pressed = event.submitter;
    pressed?.classList.add("is-busy"); // until it is known what becomes of it
    send(form, pressed, mine, signer, words)
      .catch(async (error) => {
        undo();
        const known = error instanceof Offline ? words.signerOffline : error instanceof Differs ? words.signerWords : "";
        await tell(known || words.signerBroken);
        return "left";
      })
      .then((how) => {
        // On its way for good it is not sent a second time: what was prepared for the first would be forgotten.
        busy = how === "sent";
        if (!busy) pressed?.classList.remove("is-busy");
        // What was typed stands here still; it is kept again, as before it was to be sent.
        if (how === "left") form.dispatchEvent(new Event("input"));
      });
  });
  window.addEventListener("pageshow", () => {
    undo();
    busy = false;
    for (const one of document.querySelectorAll(".is-busy")) one.classList.remove("is-busy");
  });
}

// Without a key nothing can be signed here alone. Sent all the same, what was typed would give way to the browser's own
// page about the network. Asked of a page that comes from this phone, or where the browser knows of no network.
function needSignal(sentence) {
  let isThere = false;
  let busy = false;
  document.addEventListener("submit", (event) => {
    const { target: form, submitter } = event;
    const isDoubtful = navigator.onLine === false || "kept" in document.documentElement.dataset;
    if (event.defaultPrevented || form.method !== "post" || !form.elements.deed_id || !isDoubtful || isThere) return;
    event.preventDefault();
    if (busy) return;
    busy = true;
    hello().then((answer) => {
      busy = false;
      if (!answer) return tell(sentence);
      isThere = true;
      form.requestSubmit(submitter);
      isThere = false;
    });
  });
}

const short = (mine) => mine.id.slice(0, 8);

// Below the buttons, so that nothing moves under a finger that is about to press one.
function sayBeside(form, sentence) {
  if (form.method !== "post" || !form.elements.deed_id) return;
  form.append(Object.assign(document.createElement("p"), { className: "field__help", textContent: sentence }));
}

// The page of a person's keys: what this device has, and a new one.
function show(page, mine, signer) {
  const known = mine && page.dataset.keys.split(" ").includes(mine.id);
  if (mine && !known) forget(mine.who);
  page.querySelector(known ? "[data-keys-here]" : "[data-keys-none]").hidden = false;
  if (known) page.querySelector("[data-key-here]").textContent = short(mine);
  if (known) page.querySelector(`[data-key="${mine.id}"]`)?.removeAttribute("hidden");
  const form = page.querySelector("form");
  form.hidden = Boolean(known);
  let busy = false;
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (busy) return; // a second key would take the place of the one that is on its way
    busy = true;
    const { record, shown, proof } = await made(signer.log, signer.ref);
    await keep(record);
    form.elements.public.value = shown;
    form.elements.proof.value = proof;
    navigator.storage?.persist?.();
    HTMLFormElement.prototype.submit.call(form);
  });
  window.addEventListener("pageshow", () => (busy = false));
}

if (globalThis.document?.body?.dataset.signerRef && globalThis.indexedDB && globalThis.crypto?.subtle) {
  start(document.body);
}
