// Autosave of a sheet, control by control. What a control holds is sent when it is left or tapped, in order, one at a
// time, and tried again until the server's answer names the item: nothing else counts as received. Photos go beside it, so
// that no answer waits for one at the edge of a signal. "Saved" is never said while anything waits. Without this script
// the form posts as a whole.

import { blank, draw, drawPhotos, drawProgress, putOut, showAsked } from "./answer.mjs";
import { Queue } from "./queue.mjs";
import { atRest, keepStill, leaveOut, shown } from "./still.mjs";
import { answerHere, byHere, holdHere, isCounted, isDone, wordsHere } from "./verdict.mjs";
import { fill } from "./when.mjs";

const PATIENCE = 15000; // ms for one answer: a phone at the edge of a signal
const LONGER = 120000; // ms for photos

const cookie = (name) => document.cookie.match(`(?:^|; )${name}=([^;]*)`)?.[1];

// The tool in hand stands in the line that is folded away again.
function sayTool(box) {
  const other = box.querySelector("input").value.trim();
  const tool = other || box.querySelector("select").value;
  box.querySelector("summary").textContent = tool ? fill(box.dataset.wordsWith, { tool }) : box.dataset.wordsNone;
}

// The form's own hidden fields, looked up once: a tap on a long sheet does not go through all of its controls.
const hidden = new WeakMap();
function hiddenOf(form) {
  const found = hidden.get(form) ?? Array.from(form.elements).filter((one) => one.type === "hidden" && !one.closest("[data-item]"));
  hidden.set(form, found);
  return found;
}

// The whole content of one item but its photos, and the form's hidden fields, so that the server sees the item as it stands.
function contentOf(form, item, extra = {}) {
  const content = new FormData();
  for (const control of [...hiddenOf(form), ...item.querySelectorAll("input, select, textarea")]) {
    if (!control.name || control.disabled || control.type === "file") continue;
    if (["radio", "checkbox"].includes(control.type) && !control.checked) continue;
    content.append(control.name, control.value);
  }
  content.set("item", item.dataset.item);
  for (const [name, value] of Object.entries(extra)) content.set(name, value);
  return content;
}

// Its photos alone, which change nothing of what is answered; null where there are none.
function photosOf(form, item) {
  const content = new FormData();
  for (const input of item.querySelectorAll("input[type=file]"))
    for (const file of input.files) content.append(input.name, file);
  if (![...content].length) return null;
  for (const control of hiddenOf(form)) if (control.name) content.append(control.name, control.value);
  content.set("item", item.dataset.item);
  return content;
}

// The server's answer, with what it holds up, and with what this phone had said of the same where that is other.
function besides(form, item, answer) {
  const here = answerHere(item, contentOf(form, item));
  const isOther = here?.verdict && answer.verdict && here.verdict !== answer.verdict;
  const other = isOther && fill(wordsHere.differ, { here: here.word, there: answer.word });
  return { ...answer, hold: answer.out ? "" : holdHere(item, answer), other };
}

function asking(form, words) {
  const open = form.querySelectorAll("[data-ask]").length;
  return open ? ` ${fill(words.wordsAsked, { count: open })}` : "";
}

function start(form) {
  const status = document.querySelector("[data-saved]");
  const words = status.dataset;
  const trouble = { answers: "wordsWaiting", photos: "wordsWaiting" }; // why the last of each did not go
  const notTaken = new Map(); // item -> why its photos were not: said until they are, whatever is saved beside them

  const say = (sentence, waiting) => {
    if (status.textContent !== sentence) status.textContent = sentence;
    status.classList.toggle("is-waiting", waiting);
    // What is on its way, and kept on this phone, is said once: see .saved--phone.
    status.classList.toggle("is-trying", [words.wordsSending, words.wordsWaiting].includes(sentence));
  };
  const changed = () => {
    if (queue.stopped) return;
    if (queue.failed) say(words[trouble.answers], true);
    else if (photos.failed && queue.empty) say(words[trouble.photos === "wordsWaiting" ? "wordsPhotos" : trouble.photos], true);
    else if (!queue.empty || !photos.empty) say(words.wordsSending, false);
  };
  const isLast = () => !queue.waiting.length && !photos.waiting.length && !(queue.sending && photos.sending);

  const post = async ({ key, item, content, number, at, isPhotos = false }) => {
    await shown(); // the frame that shows the tap does not wait for what is sent of it
    // The cookie is the fresher of the two tokens: a log-in in another tab renews it.
    const token = cookie("csrftoken");
    if (token && content.has("csrfmiddlewaretoken")) content.set("csrfmiddlewaretoken", token);
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), isPhotos ? LONGER : PATIENCE);
    const which = isPhotos ? "photos" : "answers";
    try {
      trouble[which] = "wordsWaiting";
      const headers = { Accept: "application/json" };
      const options = { method: "POST", body: content, headers, redirect: "manual", signal: patience.signal };
      const response = await fetch(form.dataset.autosave, options);
      if (response.type === "opaqueredirect" || response.status === 401 || response.status === 403) trouble[which] = "wordsLogin";
      else if (response.status >= 400 && response.status < 500) trouble[which] = "wordsRefused";
      const answer = await response.json();
      if (!answer.item || !(key in answer.item)) return false;
      await atRest();
      // A slower answer to an older content must not be drawn over what stands in the field now.
      if (item.dataset.number === String(number)) {
        const { photos: there, ...rest } = answer.item[key];
        if (isPhotos) notTaken.delete(item);
        if (isPhotos && !response.ok) notTaken.set(item, rest.need || words.wordsRefused);
        if (notTaken.has(item) && isPhotos) return say(notTaken.get(item), true), true; // it stays here
        if (isPhotos) keepStill(item, () => drawPhotos(item, there, words));
        else {
          const said = besides(form, item, rest);
          item.dataset.answered = number;
          keepStill(item, () => draw(item, said, words, (key, value) => keepIt(item, key, value)));
          showAsked(item);
        }
        // A photo that has arrived is not sent again with the next tap.
        if (isPhotos) for (const file of item.querySelectorAll("input[type=file]")) file.value = "";
        form.dispatchEvent(new CustomEvent("confirmed", { bubbles: true, detail: { item, at, isPhotos } }));
      }
      if (counted.size && !isPhotos) counts(item, answer.item[key]);
      if (answer.progress && isLast()) drawProgress(answer.progress);
      const now = new Date().toLocaleTimeString("en-GB", { timeStyle: "short", timeZone: document.documentElement.dataset.zone });
      const saved = fill(words.wordsSaved, { time: answer.saved ?? now }) + asking(form, words);
      const [open] = notTaken.values();
      if (isLast() && !queue.stopped) say(open ?? saved, open !== undefined);
      return true;
    } finally {
      clearTimeout(timer);
    }
  };
  const queue = new Queue(post, changed);
  const photos = new Queue(post, changed);

  let number = 0;
  // `isKnown`: the server was told before; it is judged here alone.
  const send = (item, extra = {}, isKnown = false) => {
    coming.delete(item);
    item.dataset.number = ++number;
    delete item.dataset.typed;
    const asked = document.activeElement?.closest("[data-ask]");
    keepStill(item, () => blank(item, words.wordsUnsent));
    // The buttons that had the focus are gone: it stays in the item.
    if (asked) item.querySelector(".item__blank input, input[type=radio]:checked")?.focus();
    judgeHere(item, number);
    if (isKnown) return;
    const sent = { key: item.dataset.item, item, number, at: Date.now() };
    queue.add({ ...sent, content: contentOf(form, item, extra) });
    const content = photosOf(form, item);
    if (content) photos.add({ ...sent, content, isPhotos: true });
    else notTaken.delete(item); // taken away here
  };

  // The frame that shows a tap does not wait for what follows from it; what stands there already is blanked at once. Who
  // types meanwhile sends it on leaving the field.
  const coming = new Map(); // item -> isKnown
  const sendSoon = async (item, isKnown = false) => {
    if (item.querySelector("[data-answer]")?.childElementCount) return send(item, {}, isKnown);
    item.dataset.number = ++number;
    delete item.dataset.typed;
    const isComing = coming.has(item);
    coming.set(item, isKnown && (coming.get(item) ?? true));
    if (isComing) return;
    await shown();
    if (!coming.has(item)) return;
    const isAllKnown = coming.get(item);
    coming.delete(item);
    if (!("typed" in item.dataset)) send(item, {}, isAllKnown);
  };

  // How far the sheet is, by this phone: said until the server says it.
  const counted = new Map(); // key of an item -> whether it could be signed
  const counts = (item, answer) => counted.has(item.dataset.item) && counted.set(item.dataset.item, isDone(answer));
  const countHere = (item, answer) => {
    if (!counted.size)
      for (const one of form.querySelectorAll("[data-item]"))
        if (isCounted(one)) counted.set(one.dataset.item, !("typed" in one.dataset) && isDone(answerHere(one, contentOf(form, one)) ?? {}));
    counts(item, answer);
    drawProgress({ done: [...counted.values()].filter(Boolean).length, of: counted.size });
  };

  // What this phone makes of it stands there until the server's answer takes its place.
  const judgeHere = async (item, number) => {
    await atRest(); // and judged after it, so that the frame which shows the tap does not wait
    if (item.dataset.number !== String(number) || item.dataset.answered === String(number)) return;
    const here = answerHere(item, contentOf(form, item));
    if (here) countHere(item, here);
    if (!here?.verdict) return;
    const said = { ...here, by: byHere() };
    keepStill(item, () => draw(item, said, words, (key, value) => keepIt(item, key, value)));
    showAsked(item);
  };

  // A form that is not kept by the server as one goes carries what was insisted on until it is sent.
  const keepIt = (item, key, value) => {
    const kept = item.querySelector("[data-kept]");
    if (kept) kept.value = value ?? "";
    item.dispatchEvent(new Event("insisted", { bubbles: true })); // no control was touched: its draft has to be told
    send(item, { keep: key });
  };

  form.addEventListener("change", ({ target, detail }) => {
    const item = target.closest("[data-item]");
    const tool = target.closest("[data-tool]");
    if (tool) sayTool(tool);
    if (item) sendSoon(item, detail?.isKnown);
  });
  form.addEventListener("input", ({ target }) => {
    const item = target.matches("input[inputmode]") && target.closest("[data-item]");
    if (!item) return;
    item.dataset.number = ++number;
    item.dataset.typed = "";
    putOut(item);
    item.querySelector("[data-answer]")?.replaceChildren();
    // Who types a figure could check it after all.
    const cannot = item.querySelector(".item__cannot input");
    if (cannot && target.value) cannot.checked = false;
  });
  // A figure that is typed over with the same figure is no change to the browser, and yet its answer was taken away.
  form.addEventListener("focusout", ({ target }) => {
    const item = target.closest("[data-item]");
    if (item && "typed" in item.dataset) send(item);
  });
  form.addEventListener("click", (event) => {
    const item = event.target.closest("[data-item]");
    const keep = event.target.closest("[data-keep]");
    const choice = event.target.closest("[data-choose]");
    if (choice) {
      item.querySelector(".item__blank input").value = choice.dataset.choose;
      item.dispatchEvent(new Event("insisted", { bubbles: true }));
      send(item);
    } else if (keep) {
      event.preventDefault();
      keepIt(item, keep.value, keep.dataset.value);
    } else if (event.target.closest("[data-retype]")) {
      event.preventDefault();
      const field = item.querySelector(".item__blank input");
      if (field) field.select();
      else item.querySelector("input[type=radio]")?.focus();
    }
  });
  // Enter in a field leaves it; the browser's own way would press the first button of the form.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches("[data-item] input:not([type=file])")) return;
    event.preventDefault();
    event.target.blur();
  });

  // The first tap into a figure goes on behind it, wherever the finger came down; the next one chooses the place.
  let gone = null;
  form.addEventListener("click", ({ target }) => {
    if (!target.matches("input[inputmode]")) return;
    if (gone !== target) target.setSelectionRange(target.value.length, target.value.length);
    gone = target;
  });
  form.addEventListener("focusout", () => (gone = null));

  for (const choices of form.querySelectorAll("[data-choices]")) choices.hidden = false;
  hiddenOf(form);
  leaveOut(form);

  const both = [queue, photos];
  form.addEventListener("held", () => (both.forEach((one) => one.stop(true)), say("", false)));
  form.addEventListener("let-go", () => both.forEach((one) => one.stop(false)));

  let leaving = false;
  form.addEventListener("submit", () => (leaving = true));
  window.addEventListener("pageshow", () => (leaving = false));
  const goOn = () => both.forEach((one) => one.next());
  window.addEventListener("online", goOn);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && goOn());
  // Where nothing is received, and all of it is kept on this phone (`drafting.mjs`), it goes on when the page is opened again.
  const isKept = () => !form.dispatchEvent(new Event("leave", { cancelable: true }));
  const isStuck = () => !coming.size && both.every((one) => one.empty || one.failed);
  window.addEventListener("beforeunload", (event) => {
    if (!leaving && (coming.size || both.some((one) => !one.empty)) && !(isStuck() && isKept())) event.preventDefault();
  });
}

if (globalThis.document) for (const form of document.querySelectorAll("form[data-autosave]")) start(form);
