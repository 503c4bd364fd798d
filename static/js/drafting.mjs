// Keeps what is typed into the form of a page on this phone while it is being filled in, and lays it over the page when
// that is opened again: from the server, what the server is not known to have; from the phone, also what the server was
// told since that page was kept. What the server was told by another phone meanwhile is never written over in silence.

import { draftsOf, forgetPage, idOf, ownerOf, putDrafts, removeDrafts, sparePhotos } from "./drafts.mjs";
import { pictures } from "./pictures.mjs";
import { taken } from "./receipt.mjs";
import { shown } from "./still.mjs";
import { isFull } from "./stored.mjs";
import { fill, time } from "./when.mjs";

const REST = 250; // ms after the last key until it is said to be kept: no flicker at every key
const NO_PAGE = ["_shown", "next"]; // of an address: they change nothing of what is filled in
const COMING = 60000; // ms that a page may have been on its way before it was kept: the server answered before that
const root = globalThis.document?.documentElement;

const make = (tag, more, ...inside) => {
  const made = Object.assign(document.createElement(tag), more);
  made.append(...inside);
  return made;
};

const isChoice = (control) => ["radio", "checkbox"].includes(control.type);
const isTyped = (control) =>
  control.name && !["file", "password", "submit", "button"].includes(control.type) &&
  (control.type !== "hidden" || "kept" in control.dataset);
const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

// --- what a form holds, by unit: an item, or a field that belongs to none

function unitOf(control) {
  const item = control.closest?.("[data-item]");
  if (item) return `item:${item.dataset.item}`;
  return control.name && isTyped(control) ? `field:${control.name}` : "";
}

function controlsOf(form, unit) {
  const name = unit.slice(unit.indexOf(":") + 1);
  if (unit.startsWith("field:")) return Array.from(form.elements).filter((one) => one.name === name && isTyped(one));
  const item = form.querySelector(`[data-item="${CSS.escape(name)}"]`);
  return item ? Array.from(item.querySelectorAll("input, select, textarea")).filter(isTyped) : [];
}

// What a hidden field held when the page came: its default goes along with its value.
const came = new WeakMap();

function fromServer(control) {
  if (control.type === "hidden") return came.get(control) ?? control.value;
  if (!control.options) return control.defaultValue;
  const chosen = Array.from(control.options).find((one) => one.defaultSelected) ?? control.options[0];
  return chosen?.value ?? "";
}

// [[name, value], …] of a unit as it stands, or as the server's page had it.
const contentOf = (controls, isBefore = false) =>
  controls
    .filter((one) => !isChoice(one) || (isBefore ? one.defaultChecked : one.checked))
    .map((one) => [one.name, isBefore && !isChoice(one) ? fromServer(one) : one.value]);

// Puts fields into controls; returns the controls that this changed.
function putBack(controls, fields) {
  const values = new Map();
  for (const [name, value] of fields) values.set(name, [...(values.get(name) ?? []), value]);
  return controls.filter((one) => {
    const there = values.get(one.name) ?? [];
    if (isChoice(one)) {
      const isOn = there.includes(one.value);
      return one.checked !== isOn && ((one.checked = isOn), true);
    }
    return there.length && one.value !== there[0] && ((one.value = there[0]), true);
  });
}

// --- one form

function dayOf(form) {
  const pattern = document.getElementById(form.dataset.act);
  const day = pattern && JSON.parse(pattern.textContent).fixed?.date;
  return day || new Date().toLocaleDateString("en-CA", { timeZone: root.dataset.zone });
}

function placeOf(form, ref) {
  const query = new URLSearchParams(location.search);
  for (const name of NO_PAGE) query.delete(name);
  const path = location.pathname;
  const day = dayOf(form);
  const page = query.size ? `${path}?${query}` : path;
  return { owner: ownerOf(ref, page, day), ref, path, day };
}

function start(form, status, ref) {
  const words = status.dataset;
  const place = placeOf(form, ref);
  const pattern = document.getElementById(form.dataset.act);
  const { title = document.title, make: kind } = pattern ? JSON.parse(pattern.textContent) : {};
  const locks = kind === "sheet" || kind === "rack";
  // A form with an address of its own is kept by the server as one goes, unless it says that it is not.
  const isSaved = "autosave" in form.dataset && !("stays" in form.dataset);
  const since = Date.parse(root.dataset.keptHere ?? "") || 0;
  const known = new Map(); // unit -> what is kept of it
  const dirty = new Map(); // unit -> when it was changed last
  let laying = false;
  let over = false; // the deed is signed and held
  let resting = 0; // a timer: somebody is typing
  let writing = 0; // how many writes are not done
  let failing = false;
  let working = Promise.resolve();
  for (const control of form.elements) if (control.type === "hidden") came.set(control, control.value);

  const say = (sentence, trouble = false) => {
    if (status.textContent !== sentence) status.textContent = sentence;
    status.classList.toggle("is-waiting", trouble);
    if (trouble) status.setAttribute("role", "alert");
    else status.removeAttribute("role"); // what is said at every key is not read out
  };
  const sayKept = () => {
    const open = [...known.values()].filter((one) => !one.confirmed);
    if (dirty.size || writing || resting || failing) return;
    say(open.length ? fill(words.wordsHere, { time: time(new Date(Math.max(...open.map((one) => one.at)))) }) : "");
  };

  const record = (unit, at, more) => ({
    ...place, id: idOf(place.owner, unit), unit, title, locks, at, confirmed: 0,
    deed: form.elements.deed_id?.value ?? "", ...more,
  });

  // Writes in order; where there is no room, once more without the photos that the server has already.
  const write = (records) => {
    writing += 1;
    return (working = working.then(() => written(records)).then(() => {
      writing -= 1;
      if (dirty.size && !writing && !failing) save(); // what was typed meanwhile
      else sayKept();
    }));
  };

  async function written(records) {
    if (over) return;
    try {
      await putDrafts(records).catch(async (error) => {
        if (!isFull(error)) throw error;
        await sparePhotos();
        await putDrafts(records);
      });
      for (const one of records) known.set(one.unit, one);
      failing = false;
    } catch (error) {
      failing = true;
      for (const one of records) if (!one.hash && !dirty.has(one.unit)) dirty.set(one.unit, one.at);
      const isPhoto = records.some((one) => one.hash);
      say(isFull(error) ? (isPhoto ? words.wordsFullPhoto : words.wordsFull) : words.wordsBroken, true);
    }
  }

  function save() {
    const changed = [...dirty];
    dirty.clear();
    if (!changed.length || over) return;
    write(
      changed.map(([unit, at]) => {
        const controls = controlsOf(form, unit);
        return record(unit, at, { fields: contentOf(controls), base: known.get(unit)?.base ?? contentOf(controls, true) });
      }),
    );
  }

  // A battery does not wait until somebody has finished a word: what is typed is written at once, and what is typed while
  // that is being written goes with the next write.
  function note({ target, type }) {
    const isTyping = type === "input";
    const unit = laying || target.type === "file" || (isTyping && isChoice(target)) ? "" : unitOf(target);
    if (!unit) return;
    over = false; // a form that is used again at once
    dirty.set(unit, Date.now());
    clearTimeout(resting);
    resting = isTyping ? setTimeout(() => ((resting = 0), sayKept()), REST) : 0;
    if (!isTyping || !writing) saveSoon();
  }

  // The frame that shows what was tapped or typed does not wait until it is written.
  let coming = false;
  async function saveSoon() {
    if (coming) return;
    coming = true;
    await shown();
    coming = false;
    if (dirty.size && !status.classList.contains("is-waiting")) say(words.wordsTyping); // nothing is said to be kept that is not
    save();
  }

  const photoUnits = (name) => [...known.values()].filter((one) => one.name === name);

  async function photosChanged(input, photos) {
    const gone = photoUnits(input.name).filter((one) => !one.confirmed && !photos.some(({ hash }) => hash === one.hash));
    for (const one of gone) known.delete(one.unit);
    await removeDrafts(gone.map((one) => one.id)).catch(() => {});
    for (const { file, hash } of photos) {
      const unit = `photo:${input.name}:${hash}`;
      if (known.has(unit)) continue;
      over = false;
      await write([record(unit, Date.now(), { name: input.name, hash, type: file.type, bytes: await file.arrayBuffer() })]);
    }
  }
  const album = pictures(form, words, photosChanged);

  // The server has named an item: what was kept of it before it was sent is on the server too.
  form.addEventListener("confirmed", ({ detail: { item, at } }) => {
    if (!isSaved) return;
    const names = Array.from(item.querySelectorAll("input[type=file]"), (one) => one.name);
    working.then(() => {
      const now = Date.now();
      const there = [...known.values()].filter((one) => one.unit === unitOf(item) || names.includes(one.name));
      const those = there.filter((one) => !one.confirmed && one.at <= at);
      if (those.length) write(those.map((one) => ({ ...one, confirmed: now, base: one.fields })));
    });
  });

  const forget = () => {
    over = true;
    clearTimeout(resting);
    resting = 0;
    failing = false;
    dirty.clear();
    known.clear();
    say("");
    return (working = working.then(() => forgetPage(ref, place.path)).catch(() => {}));
  };
  form.addEventListener("signed", forget);

  // --- what is kept is laid over the page

  const said = (control) => (isChoice(control) ? control.labels?.[0]?.textContent.replace(/\s+/g, " ").trim() : control.value);

  // Another phone of this person has answered since: both stand there, and the person says which counts.
  function askWhich(one, controls) {
    const item = controls[0].closest("[data-item]");
    const before = contentOf(controls);
    putBack(controls, one.fields);
    const typed = controls.filter((control) => !isChoice(control) || control.checked).map(said).filter(Boolean).join(", ");
    putBack(controls, before);
    const sentence = fill(words.wordsOther, { time: time(new Date(one.at)), typed });
    const box = make("div", { className: "ask" }, make("p", { textContent: sentence }));
    const button = (text, act) => {
      const made = make("button", { type: "button", className: "button", textContent: text });
      made.addEventListener("click", () => (box.remove(), act()));
      return made;
    };
    const mine = () => layOne(one, controls);
    const theirs = () => (known.delete(one.unit), removeDrafts([one.id]).then(sayKept));
    box.append(make("div", { className: "buttons" }, button(words.wordsMine, mine), button(words.wordsTheirs, theirs)));
    (item?.querySelector("[data-answer]") ?? controls[0].closest("fieldset, div")).after(box);
  }

  function layOne(one, controls) {
    const [changed, ...others] = putBack(controls, one.fields);
    if (changed) {
      for (const control of [changed, ...others]) control.closest("details")?.setAttribute("open", "");
      laying = true;
      // Its item is judged again; what the server was told before is not told it a second time.
      changed.dispatchEvent(new CustomEvent("change", { bubbles: true, detail: { isKnown: Boolean(one.confirmed) } }));
      laying = false;
    }
    const base = since ? one.base : contentOf(controls, true);
    write([{ ...one, deed: form.elements.deed_id?.value ?? "", base }]);
  }

  function lay(one) {
    const controls = controlsOf(form, one.unit);
    if (!controls.length || dirty.has(one.unit)) return false;
    known.set(one.unit, one);
    const server = contentOf(controls, true);
    const isTheirs = isSaved && !since && one.base && !same(server, one.base) && !same(server, one.fields);
    if (isTheirs) askWhich(one, controls);
    else layOne(one, controls);
    return true;
  }

  // What was held and not taken comes back as a whole: from here on it is kept unit by unit.
  async function spread(all) {
    for (const control of form.elements) if (isTyped(control) && control.type !== "hidden") dirty.set(unitOf(control), all.at);
    dirty.delete("");
    for (const unit of dirty.keys()) {
      const controls = controlsOf(form, unit);
      const [changed, ...others] = putBack(controls, all.fields);
      for (const control of changed ? [changed, ...others] : []) control.closest("details")?.setAttribute("open", "");
      laying = true;
      changed?.dispatchEvent(new Event("change", { bubbles: true }));
      laying = false;
    }
    save();
    await working;
    await removeDrafts([all.id]);
  }

  async function layPhotos(photos) {
    for (const [name, those] of grouped(photos)) {
      const input = Array.from(form.elements).find((one) => one.name === name && one.type === "file");
      if (!input) continue;
      const links = Array.from(input.closest("[data-item]")?.querySelectorAll("[data-photos] a") ?? [], (one) => one.href);
      const missing = those.filter((one) => !one.hash || !links.some((href) => href.includes(one.hash)));
      const there = those.filter((one) => !missing.includes(one));
      if (there.length) await write(there.map((one) => ({ ...one, confirmed: Date.now() })));
      for (const one of missing) known.set(one.unit, one);
      if (missing.length) await album.put(input, missing.map((one) => new File([one.bytes], `${one.hash}.jpg`, { type: one.type })));
    }
  }

  async function layOver() {
    await taken;
    const isWanted = (one) => !one.confirmed || (since && one.confirmed >= since - COMING);
    const found = (await draftsOf(place.owner)).filter(isWanted).sort((one, other) => one.at - other.at);
    const all = found.find((one) => one.unit === "all");
    if (all) await spread(all);
    const laid = found.filter((one) => one.fields && one !== all && lay(one));
    const photos = found.filter((one) => one.bytes);
    await layPhotos(photos);
    await working;
    const times = [...laid, ...photos, ...(all ? [all] : [])].map((one) => one.at);
    if (times.length && !dirty.size) say(fill(words.wordsCarried, { time: time(new Date(Math.max(...times))) }));
  }

  // Held here already: nothing is laid over a form that is locked. Its draft went when it was signed.
  form.addEventListener("input", note);
  form.addEventListener("change", note, true);
  form.addEventListener("insisted", note);
  window.addEventListener("pagehide", save);
  document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && save());
  layOver().catch(() => say(words.wordsBroken, true));
}

function grouped(photos) {
  const found = new Map();
  for (const one of photos) found.set(one.name, [...(found.get(one.name) ?? []), one]);
  return found;
}

const form = globalThis.document?.querySelector("form[data-act=act]");
const status = globalThis.document?.querySelector("[data-on-phone]");
const ref = root?.dataset.person ?? globalThis.document?.querySelector("[data-outbox]")?.dataset.person;
if (form && status && ref && globalThis.indexedDB) start(form, status, ref);
