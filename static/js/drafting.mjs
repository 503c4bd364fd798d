// Keeps what is typed into the form of a page on this phone while it is being filled in, and lays it over the page when
// that is opened again: from the server, what the server is not known to have; from the phone, also what the server was
// told since that page was kept. What the server was told by another phone meanwhile, or another tab of this one, is never
// written over in silence.

import { OPEN, draftsOf, forgetPage, idOf, ownerOf, putDrafts, removeDrafts, sparePhotos } from "./drafts.mjs";
import { contentOf, controlsOf, isChoice, isTyped, noteCame, putBack, same, saidOf, unfold, unitOf } from "./fields.mjs";
import { outOf } from "./marked.mjs";
import { show } from "./outbox.mjs";
import { pictures } from "./pictures.mjs";
import { taken } from "./receipt.mjs";
import { ask as askOver, tell as sayOver } from "./say.mjs";
import { shown } from "./still.mjs";
import { isFull } from "./stored.mjs";
import { TAB, isAfter, isOneOf, listenFor, signOnlyWhen, stamp } from "./tabs.mjs";
import { askAnew } from "./unasked.mjs";
import { offerAlbum } from "./waiting.mjs";
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
  const own = new Set(); // units that were answered in this tab, and may be on their way
  const passed = new Map(); // unit -> what is kept of it, and stood in the server's page when this was opened, or was overtaken
  const away = new Set(); // photos that were taken away here: what was read before that is no news of them
  const asks = new Map(); // unit -> the question which of two answers counts
  let tell = () => {};
  noteCame(form);

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

  // Nothing is said to be kept that is not.
  const sayTyping = () => dirty.size && !status.classList.contains("is-waiting") && say(words.wordsTyping);

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
      tell();
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
        const before = known.get(unit);
        const base = before?.base ?? contentOf(controls, true);
        const fields = contentOf(controls);
        const out = isSaved ? outOf(form, controls, fields) : undefined;
        return record(unit, at, { fields, base, out, ...stamp(before, passed.get(unit)) });
      }),
    );
  }

  // A battery does not wait until somebody has finished a word: what is typed is written at once, and what is typed while
  // that is being written goes with the next write.
  function note({ target, type, detail }) {
    if (detail?.isHeld) return; // laid over a form that is signed
    const isTyping = type === "input";
    const unit = laying || target.type === "file" || (isTyping && isChoice(target)) ? "" : unitOf(target);
    if (!unit) return;
    over = false; // a form that is used again at once
    dirty.set(unit, Date.now());
    own.add(unit);
    replacedIn(unit)?.remove();
    clearTimeout(resting);
    resting = isTyping ? setTimeout(() => ((resting = 0), sayKept()), REST) : 0;
    if (isTyping) sayTyping();
    else shown().then(() => (sayTyping(), save())); // the frame that shows a tap does not wait until it is written
    if (isTyping && !writing) save();
  }

  const photoUnits = (name) => [...known.values()].filter((one) => one.name === name);

  async function photosChanged(input, photos) {
    const gone = photoUnits(input.name).filter((one) => !one.confirmed && !photos.some(({ hash }) => hash === one.hash));
    for (const one of gone) known.delete(one.unit), away.add(one.unit);
    await removeDrafts(gone.map((one) => one.id)).catch(() => {});
    if (gone.length) tell();
    for (const { file, hash } of photos) {
      const unit = `photo:${input.name}:${hash}`;
      away.delete(unit);
      if (known.has(unit)) continue;
      over = false;
      await write([record(unit, Date.now(), { name: input.name, hash, type: file.type, bytes: await file.arrayBuffer() })]);
    }
  }
  const album = pictures(form, words, photosChanged);

  // The server has named an item: what was kept of it before it was sent is on the server too.
  form.addEventListener("confirmed", ({ detail: { item, at, isPhotos } }) => {
    if (!isSaved) return;
    const names = isPhotos && Array.from(item.querySelectorAll("input[type=file]"), (one) => one.name);
    working.then(() => {
      const now = Date.now();
      const there = [...known.values()].filter((one) => (names ? names.includes(one.name) : one.unit === unitOf(item)));
      const those = there.filter((one) => !one.confirmed && one.at <= at);
      if (!dirty.has(unitOf(item))) own.delete(unitOf(item));
      if (those.length) write(those.map((one) => ({ ...one, confirmed: now, base: one.fields })));
    });
  });

  const finish = () => {
    over = true;
    clearTimeout(resting);
    resting = 0;
    failing = false;
    for (const all of [dirty, known, own]) all.clear();
    say("");
  };
  const forget = () => {
    finish();
    return (working = working.then(() => forgetPage(ref, place.path)).catch(() => {}));
  };
  form.addEventListener("signed", forget);
  form.addEventListener("held", finish); // by another tab, perhaps

  // --- what is kept is laid over the page

  const besideOf = ([control]) =>
    control.closest("[data-item]")?.querySelector("[data-answer]") ?? control.closest("fieldset, div");

  function closeAsk(unit) {
    asks.get(unit)?.box.remove();
    asks.delete(unit);
  }

  // Two answers stand against each other, and the person says which counts. `choices`: [words, what then].
  function ask(sentence, one, controls, choices) {
    const before = contentOf(controls);
    putBack(controls, one.fields);
    const typed = saidOf(controls) || words.wordsEmpty;
    putBack(controls, before);
    const about = { time: time(new Date(one.at)), typed };
    const box = make("div", { className: "ask" }, make("p", { textContent: fill(sentence, about) }));
    const button = ([text, act]) => {
      const made = make("button", { type: "button", className: "button", textContent: text });
      made.addEventListener("click", () => (closeAsk(one.unit), act()));
      return made;
    };
    box.append(make("div", { className: "buttons" }, ...choices.map(button)));
    closeAsk(one.unit);
    asks.set(one.unit, { box, one });
    besideOf(controls).after(box);
  }

  // Another phone of this person has answered since.
  function askWhich(one, controls) {
    const mine = () => layOne(one, controls);
    const theirs = () => (known.delete(one.unit), removeDrafts([one.id]).then(sayKept));
    ask(words.wordsOther, one, controls, [[words.wordsMine, mine], [words.wordsTheirs, theirs]]);
  }

  function putIn(controls, fields, isKnown) {
    const changed = putBack(controls, fields);
    if (!changed.length) return;
    unfold(changed);
    laying = true;
    // Its item is judged again; what the server was told before is not told it a second time.
    changed[0].dispatchEvent(new CustomEvent("change", { bubbles: true, detail: { isKnown } }));
    laying = false;
  }

  function layOne(one, controls) {
    putIn(controls, one.fields, Boolean(one.confirmed));
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
    for (const unit of dirty.keys()) putIn(controlsOf(form, unit), all.fields, false);
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

  function sayGone(count) {
    const line = make("p", { className: "item__need", textContent: fill(words.wordsUnasked, { count }) });
    line.setAttribute("role", "alert");
    form.prepend(line);
  }

  async function layOver() {
    await taken;
    const isWanted = (one) => !one.confirmed || (since && one.confirmed >= since - COMING);
    const kept = await draftsOf(place.owner);
    for (const one of kept) if (!isWanted(one)) passed.set(one.unit, one);
    const found = kept.filter(isWanted).sort((one, other) => one.at - other.at);
    const gone = isSaved && !since ? await askAnew(form, found) : 0;
    if (gone) sayGone(gone);
    const all = found.find((one) => one.unit === "all");
    if (all) await spread(all);
    const laid = found.filter((one) => one.fields && one !== all && lay(one));
    const photos = found.filter((one) => one.bytes);
    await layPhotos(photos);
    await working;
    const times = [...laid, ...photos, ...(all ? [all] : [])].map((one) => one.at);
    if (times.length && !dirty.size) say(fill(words.wordsCarried, { time: time(new Date(Math.max(...times))) }));
  }

  // --- what another tab of this phone has done meanwhile

  const replacedIn = (unit) => form.querySelector(`[data-replaced="${CSS.escape(unit)}"]`);
  const BAD = "input[value=defect]:checked, input[name=defect]:checked, [data-answer] .is-withdraw, [data-ask]";
  const answersOf = (controls) => controls.filter((one) => one.tagName !== "TEXTAREA" && one.type !== "hidden");

  // What stood here of a defect, or of a figure out of its limit, is said where something else takes its place.
  function sayReplaced(one, controls, before) {
    if (!before || replacedIn(one.unit)) return;
    const sentence = fill(words.wordsReplaced, { time: time(new Date(one.at)), before });
    const line = make("p", { className: "item__need", textContent: sentence });
    line.dataset.replaced = one.unit;
    line.setAttribute("role", "alert");
    besideOf(controls).after(line);
  }

  function layOther(one, controls) {
    const answers = answersOf(controls);
    const stood = contentOf(answers);
    const before = controls[0].closest("[data-item]")?.querySelector(BAD) ? saidOf(controls) : "";
    closeAsk(one.unit);
    // What this tab had answered may be on its way: the newer takes its place there.
    putIn(controls, one.fields, !own.has(one.unit));
    known.set(one.unit, one);
    if (!same(stood, contentOf(answers))) sayReplaced(one, controls, before);
  }

  // Neither was given with the other in sight.
  function askTab(one, controls) {
    const choose = (isOther) => {
      const both = stamp(one, known.get(one.unit));
      if (isOther) layOther(one, controls);
      known.set(one.unit, { ...one, fields: contentOf(controls), ...both });
      dirty.set(one.unit, Date.now());
      save();
    };
    const choices = [[words.wordsOtherTab, () => choose(true)], [words.wordsThisTab, () => choose(false)]];
    ask(words.wordsTabs, one, controls, choices);
  }

  // True where it was news here.
  function hear(one) {
    const { unit } = one;
    const controls = controlsOf(form, unit);
    const mine = known.get(unit);
    if (!controls.length || (passed.has(unit) && isOneOf(passed.get(unit), one))) return false;
    if (!mine && one.tab === TAB) return false;
    if (mine && isAfter(mine, one)) {
      if (!isOneOf(mine, one)) write([mine]); // a slower tab has written over what is newer
      else if (one.confirmed > mine.confirmed) known.set(unit, one);
      return false;
    }
    const now = contentOf(controls);
    if (same(now, one.fields)) {
      closeAsk(unit);
      if (!dirty.has(unit)) known.set(unit, one);
      return false;
    }
    const isBlank = answersOf(controls).every((control) => control.options || (isChoice(control) ? !control.checked : !control.value));
    const isSeen = mine ? isAfter(one, mine) : isBlank || same(now, one.base);
    if (asks.has(unit) && isOneOf(asks.get(unit).one, one)) return false; // it is asked already
    if (isSeen && !dirty.has(unit)) layOther(one, controls);
    else askTab(one, controls);
    return true;
  }

  // A photo that was added there stands here too, and one that was taken away there goes.
  async function hearPhotos(found) {
    const there = new Set(found.map((one) => one.unit));
    const gone = [...known.values()].filter((one) => one.hash && !one.confirmed && !there.has(one.unit));
    for (const { name, hash } of gone) {
      const input = Array.from(form.elements).find((one) => one.name === name && one.type === "file");
      const at = Array.from(input?.files ?? []).findIndex((file) => file.name.startsWith(hash));
      form.querySelectorAll(`[data-waiting="${CSS.escape(name)}"] li button`)[at]?.click();
    }
    for (const one of found) if (known.has(one.unit)) known.set(one.unit, one);
    const added = found.filter((one) => !one.confirmed && !known.has(one.unit) && !away.has(one.unit));
    if (added.length) await layPhotos(added);
    return added.length + gone.length;
  }

  async function hearAll() {
    await laid;
    await working;
    if (form.inert) return 0; // signed: nothing is laid over it
    const found = await draftsOf(place.owner);
    if (!found.length && !known.size) return 0;
    const news = found.filter((one) => one.fields && one.unit !== "all").filter(hear).length;
    const photos = found.length ? await hearPhotos(found.filter((one) => one.bytes)) : 0;
    sayKept();
    return news + photos;
  }
  let hearing = Promise.resolve(0);
  const catchUp = () => (hearing = hearing.then(hearAll).catch(() => 0));

  async function isReady() {
    const news = await catchUp();
    await show().catch(() => {}); // locks the form where another tab has signed it
    if (form.inert) return false;
    const [open] = asks.values();
    open?.box.scrollIntoView({ block: "center", behavior: "instant" });
    if (open || news) await sayOver(open ? words.wordsUnsettled : words.wordsNews);
    if (open || news) return false;
    // Where nothing was typed here, what is received has to be known for what it is all the same.
    await putDrafts([record("signing", Date.now(), { fields: null })]).catch(() => {});
    return true;
  }

  // Held here already: nothing is laid over a form that is locked. Its draft went when it was signed.
  form.addEventListener("input", note);
  form.addEventListener("change", note, true);
  form.addEventListener("insisted", note);
  form.addEventListener("leave", (event) => !dirty.size && !writing && !failing && event.preventDefault());
  window.addEventListener("pagehide", save);
  document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && save());
  const laid = layOver().catch(() => say(words.wordsBroken, true));
  tell = listenFor(place.owner, catchUp);
  navigator.locks?.request(OPEN + place.path, { mode: "shared" }, () => new Promise(() => {}));
  if (locks) signOnlyWhen(form, isReady, () => askOver(words.wordsUnsure, words.wordsSign));
  offerAlbum(form, album);
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
