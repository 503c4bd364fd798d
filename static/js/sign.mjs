// Deeds are signed on this device by a key that never leaves it. A form that does a deed is first sent to learn what
// would be recorded; that is held to what stands here, signed, and sent. Without a key everything works as it is.

const STORE = "keys";
const bytes = new TextEncoder();

export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  // The order of UTF-16 code units, as RFC 8785 asks for.
  const parts = Object.keys(value).sort().map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`);
  return `{${parts.join(",")}}`;
}

export const base64 = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer)));

const hex = (buffer) => Array.from(new Uint8Array(buffer), (one) => one.toString(16).padStart(2, "0")).join("");

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
  const id = hex(await crypto.subtle.digest("SHA-256", point)).slice(0, 32);
  const shown = base64(point);
  const proof = await signature(pair.privateKey, `key/v1\n${log}\n${ref}\n${shown}`);
  return { record: { who: `${log}/${ref}`, id, key: pair.privateKey, seen: "" }, shown, proof };
}

async function signature(key, text) {
  return base64(await crypto.subtle.sign({ name: "ECDSA", hash: "SHA-256" }, key, bytes.encode(text)));
}

// --- a deed

// What the server says would be recorded has to be what this form says, as far as a form shows it.
export function agrees(act, fields, ref) {
  if (act.id !== fields.get("deed_id") || act.signer?.ref !== ref) return false;
  return (act.readings ?? []).every((one) =>
    ["text", "mark"].every((name) => {
      const here = fields.get(`${name}-${one.key}`);
      return here === null || !(name in one) || here.trim() === "" || one[name].includes(here.trim());
    }),
  );
}

const sizeOf = (state) => Number(state.split(":")[0]) || 0;

async function send(form, submitter, mine, signer) {
  const fields = new FormData(form);
  if (submitter?.name) fields.set(submitter.name, submitter.value);
  if (mine.seen) fields.set("_seen", mine.seen);
  const address = submitter?.formAction && submitter.hasAttribute("formaction") ? submitter.formAction : form.action;
  const answer = await fetch(address, { method: "POST", body: fields, headers: { "X-Lineworthy-Act": "prepare" } });
  if (!answer.headers.get("Content-Type")?.includes("json")) {
    // The log-in ran out, or something broke: what was typed is kept by the server, or sent as it is.
    if (answer.redirected) location.assign(answer.url);
    else HTMLFormElement.prototype.submit.call(form);
    return;
  }
  const told = await answer.json();
  if (told.to) {
    location.assign(told.to);
    return;
  }
  const more = {};
  if (told.keys.includes(mine.id)) {
    const act = JSON.parse(told.act);
    if (canonical(act) !== told.act || told.log !== signer.log || !agrees(act, fields, signer.ref)) {
      throw new Error("not what stands here");
    }
    more._key = mine.id;
    more._sig = await signature(mine.key, `act/v1\n${told.kind}\n${told.act}`);
    more._made_at = act.made_at;
    if (mine.seen) more._seen = mine.seen;
    if (sizeOf(told.state) >= sizeOf(mine.seen)) await keep({ ...mine, seen: told.state });
  } else {
    await forget(mine.who); // ended elsewhere, or never taken
  }
  if (submitter?.name) more[submitter.name] = submitter.value;
  for (const [name, value] of Object.entries(more)) {
    const field = document.createElement("input");
    field.type = "hidden";
    [field.name, field.value] = [name, value];
    form.append(field);
  }
  form.action = address;
  HTMLFormElement.prototype.submit.call(form);
}

async function start(body) {
  const signer = { ref: body.dataset.signerRef, log: body.dataset.signerLog };
  const who = `${signer.log}/${signer.ref}`;
  const mine = await kept(who).catch(() => null);
  const page = document.querySelector("[data-keys]");
  if (page) show(page, mine, signer);
  if (!mine) return;
  let busy = false;
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post" || !form.elements.deed_id?.value) return;
    event.preventDefault();
    if (busy) return;
    busy = true;
    send(form, event.submitter, mine, signer).catch((error) => {
      busy = false;
      // What was typed stands here still; it is kept again, as before it was to be sent.
      form.dispatchEvent(new Event("input"));
      window.alert(error instanceof TypeError ? body.dataset.signerOffline : body.dataset.signerWords);
    });
  });
}

// The page of a person's keys: what this device has, and a new one.
function show(page, mine, signer) {
  const known = mine && page.dataset.keys.split(" ").includes(mine.id);
  if (mine && !known) forget(mine.who);
  page.querySelector(known ? "[data-keys-here]" : "[data-keys-none]").hidden = false;
  if (known) page.querySelector(`[data-key="${mine.id}"]`)?.removeAttribute("hidden");
  const form = page.querySelector("form");
  form.hidden = Boolean(known);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const { record, shown, proof } = await made(signer.log, signer.ref);
    await keep(record);
    form.elements.public.value = shown;
    form.elements.proof.value = proof;
    navigator.storage?.persist?.();
    HTMLFormElement.prototype.submit.call(form);
  });
}

if (globalThis.document?.body?.dataset.signerRef && globalThis.indexedDB && globalThis.crypto?.subtle) {
  start(document.body);
}
