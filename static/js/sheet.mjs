// Autosave of a sheet, control by control. What a control holds is sent when it is left or tapped, in order, one at a
// time, and tried again until the server's answer names the item: nothing else counts as received. "Saved" is never
// said while anything waits. Without this script the form posts as a whole.

import { answerHere, byHere, holdHere, isCounted, isDone, wordsHere } from "./verdict.mjs";

const PATIENCE = 15000; // ms for one answer: a phone at the edge of a signal
const PAUSES = [2000, 4000, 8000, 15000, 30000]; // ms between tries

export function fill(sentence, values) {
  return sentence.replace(/%\((\w+)\)s/g, (whole, name) => values[name] ?? whole);
}

// What waits to be sent, first come first sent. `send(entry)` answers true when it was received, false to try again.
// A newer entry with the same key takes the place of one that has not been taken up yet.
export class Queue {
  constructor(send, changed, wait = (ms, done) => setTimeout(done, ms)) {
    Object.assign(this, { send, changed, wait, waiting: [], sending: null, failed: 0, turn: 0, stopped: false });
  }

  // The form was signed and is held on the phone: nothing of it is kept as a draft any more.
  stop(stopped) {
    this.stopped = stopped;
    this.waiting = [];
  }

  get empty() {
    return !this.waiting.length && !this.sending;
  }

  add(entry) {
    if (this.stopped) return;
    const at = this.waiting.findIndex((other) => other.key === entry.key);
    if (at < 0) this.waiting.push(entry);
    else this.waiting[at] = entry;
    this.changed();
    this.next();
  }

  async next() {
    if (this.sending || !this.waiting.length) return;
    const turn = ++this.turn;
    const entry = (this.sending = this.waiting.shift());
    let received = false;
    try {
      received = await this.send(entry);
    } catch {
      received = false;
    }
    this.sending = null;
    if (received) this.failed = 0;
    else if (!this.stopped) {
      if (!this.waiting.some((other) => other.key === entry.key)) this.waiting.unshift(entry);
      const pause = PAUSES[Math.min(this.failed++, PAUSES.length - 1)];
      this.wait(pause, () => turn === this.turn && this.next());
    }
    this.changed();
    if (received) this.next();
  }
}

const cookie = (name) => document.cookie.match(`(?:^|; )${name}=([^;]*)`)?.[1];
const make = (tag, className, text = "") => Object.assign(document.createElement(tag), { className, textContent: text });

// Nothing moves under a finger: what is drawn waits until no finger has been on the glass for a moment.
const REST = 250;
let touched = -REST;
let down = 0;
let under = null; // the item that was touched last: it stays where it is while one above it grows
if (globalThis.document) {
  document.addEventListener(
    "pointerdown",
    ({ target }) => ((down += 1), (under = target.closest?.("[data-item]") ?? under)),
    true,
  );
  for (const end of ["pointerup", "pointercancel"])
    document.addEventListener(end, () => ((down = Math.max(0, down - 1)), (touched = performance.now())), true);
}
async function atRest() {
  for (let turn = 0; turn < 40 && (down || performance.now() - touched < REST); turn += 1)
    await new Promise((done) => setTimeout(done, 50));
}

// What changes in the item under the finger moves nothing above it, and is not measured: the frame that shows a tap would
// wait for two layouts of the whole page.
function keepStill(item, change) {
  const other = under !== item && under?.isConnected ? under : null;
  const before = other?.getBoundingClientRect().top;
  change();
  if (away.has(item)) layOutAgain(item);
  if (other?.isConnected) window.scrollBy({ top: other.getBoundingClientRect().top - before, behavior: "instant" });
}

// After the next frame; at once where none is drawn.
const FRAME = 100; // ms
function shown() {
  if (document.hidden) return Promise.resolve();
  return new Promise((done) => {
    requestAnimationFrame(() => setTimeout(done));
    setTimeout(done, FRAME);
  });
}

// Once every item has been laid out and its height is known, those far from the screen are left out of drawing (see
// `.is-laid-out` in forms.css), so that a tap on a long sheet draws what is seen and not sixty items.
const away = new WeakSet();
async function leaveOut(form) {
  const moved = ({ target, skipped }) => (skipped ? away.add(target) : away.delete(target));
  form.addEventListener("contentvisibilityautostatechange", moved, true);
  await document.fonts.ready;
  await shown();
  await shown();
  form.classList.add("is-laid-out");
}

// What changes while it is left out has its new height at once, and not when somebody comes to it.
async function layOutAgain(item) {
  item.classList.add("is-changed");
  await shown();
  await shown();
  item.classList.remove("is-changed");
}

// The form's own hidden fields, looked up once: a tap on a long sheet does not go through all of its controls.
const hidden = new WeakMap();
function hiddenOf(form) {
  const found = hidden.get(form) ?? Array.from(form.elements).filter((one) => one.type === "hidden" && !one.closest("[data-item]"));
  hidden.set(form, found);
  return found;
}

// The whole content of one item and the form's hidden fields, so that the server sees the item as it stands.
function contentOf(form, item, extra = {}) {
  const content = new FormData();
  for (const control of [...hiddenOf(form), ...item.querySelectorAll("input, select, textarea")]) {
    if (!control.name || control.disabled) continue;
    if (["radio", "checkbox"].includes(control.type) && !control.checked) continue;
    if (control.type === "file") for (const file of control.files) content.append(control.name, file);
    else content.append(control.name, control.value);
  }
  content.set("item", item.dataset.item);
  for (const [name, value] of Object.entries(extra)) content.set(name, value);
  return content;
}

function markOf(verdict, word) {
  const mark = make("span", `mark is-${verdict}`);
  const shape = document.querySelector("svg.shape").cloneNode(true);
  const use = shape.querySelector("use");
  shape.setAttribute("class", "shape");
  use.setAttribute("href", use.getAttribute("href").replace(/#.*/, `#${verdict}`));
  mark.append(shape, " ", make("span", "", word));
  return mark;
}

function drawAsk(item, ask, words, keep) {
  const field = item.querySelector(".item__blank input");
  const box = make("div", "ask");
  box.dataset.ask = "";
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", words.wordsAsk);
  const buttons = make("div", "buttons");
  // A figure is mostly a slip: typing it again comes first. What was seen is mostly meant: neither is put forward.
  const [forYes, forAgain] = ask.said ? ["button button--danger", "button"] : ["button", "button button--primary"];
  const yes = Object.assign(make("button", forYes, ask.keep_word ?? words.wordsKeep), { type: "button" });
  const again = Object.assign(make("button", forAgain, ask.change_word ?? words.wordsRetype), { type: "button" });
  yes.addEventListener("click", () => keep(ask.keep, ask.value));
  again.addEventListener("click", () => (field ? field.select() : item.querySelector("input[type=radio]")?.focus()));
  const figures = Array.from(item.querySelectorAll(".item__blank input"), (input) => input.value).filter(Boolean);
  const figure = make("p", "ask__figure", ask.said ?? figures.join(" / "));
  if (!ask.said) figure.append(make("span", "figure__unit", item.querySelector(".item__unit")?.textContent ?? ""));
  buttons.append(yes, again);
  const sentence = make("p", "", ask.sentence);
  sentence.setAttribute("role", "alert");
  box.append(figure, sentence, buttons);
  item.querySelector("[data-answer]").after(box);
}

// While a figure that was asked back is typed anew, what stands below keeps its place: it would slip away from the finger
// that goes there next. The room is given back with the next answer.
function putOut(item) {
  const box = item.querySelector("[data-ask]");
  if (!box) return;
  box.classList.add("is-over");
  box.inert = true;
  delete box.dataset.ask;
}
const giveBack = (item) => item.querySelector(".ask.is-over")?.remove();

// An answer to an earlier content must not stand beside a new one.
function blank(item, sentence = "") {
  item.querySelector("[data-ask]")?.remove();
  if (under === item) giveBack(item); // nobody is below it yet
  item.querySelector("[data-answer]")?.replaceChildren(...(sentence ? [make("p", "item__unsent", sentence)] : []));
}

function draw(item, answer, words, keep) {
  const place = item.querySelector("[data-answer]");
  if (!place) return;
  giveBack(item);
  const lines = [];
  if (answer.verdict) {
    const line = make("p", "");
    line.append(markOf(answer.verdict, answer.word), " ", answer.sentence ?? "");
    if (answer.clause) line.append(" ", make("span", "clause", answer.clause));
    lines.push(line);
  }
  const last = [answer.last && fill(words.wordsLast, { last: answer.last })];
  if (answer.difference) last.push(fill(words.wordsDifference, { difference: answer.difference }));
  if (answer.last) lines.push(make("p", "item__last", last.join(" ")));
  if (answer.choices?.length) lines.push(choicesOf(item, answer.choices));
  if (answer.need) lines.push(make("p", "item__need", answer.need));
  if (answer.hold) lines.push(make("p", "item__need", answer.hold));
  if (answer.other) lines.push(make("p", "item__need", answer.other));
  if (answer.by) lines.push(make("p", "item__last", answer.by));
  place.replaceChildren(...lines);
  // What is wanted is mostly a word of why: its field stands open.
  if (answer.need) item.querySelector(".item__note")?.setAttribute("open", "");
  if (answer.photos) drawPhotos(item, answer.photos, words);
  const limit = item.querySelector("[data-limit]");
  if (limit && answer.limit) limit.textContent = fill(words.wordsLimit, { limit: answer.limit });
  if (answer.ask) drawAsk(item, answer.ask, words, keep);
}

// What an unclear figure can have meant, a button each.
function choicesOf(item, choices) {
  const unit = item.querySelector(".item__unit")?.textContent ?? "";
  const buttons = make("div", "buttons");
  for (const choice of choices) {
    const button = Object.assign(make("button", "button", `${choice} ${unit}`.trim()), { type: "button" });
    button.dataset.choose = choice;
    buttons.append(button);
  }
  return buttons;
}

// What is asked back must be seen: the browser keeps clear of the bar (scroll-padding). Who is at another item already
// is not pulled away; the bar says that something is asked.
function showAsked(item) {
  const elsewhere = document.activeElement?.closest("[data-item]");
  const asked = item.querySelector("[data-ask], [data-choose]:last-of-type");
  if (asked && (!elsewhere || elsewhere === item)) asked.scrollIntoView({ block: "nearest", behavior: "instant" });
}

// The server's answer, with what it holds up, and with what this phone had said of the same where that is other.
function besides(form, item, answer) {
  const here = answerHere(item, contentOf(form, item));
  const isOther = here?.verdict && answer.verdict && here.verdict !== answer.verdict;
  const other = isOther && fill(wordsHere.differ, { here: here.word, there: answer.word });
  return { ...answer, hold: holdHere(item, answer), other };
}

function asking(form, words) {
  const open = form.querySelectorAll("[data-ask]").length;
  return open ? ` ${fill(words.wordsAsked, { count: open })}` : "";
}

function drawPhotos(item, photos, words) {
  item.querySelector("[data-photos]")?.replaceChildren(
    ...photos.map((address) => {
      const link = Object.assign(make("a", ""), { href: address });
      link.append(Object.assign(document.createElement("img"), { src: address, alt: words.wordsPhoto ?? "" }));
      const place = make("li", "");
      place.append(link);
      return place;
    }),
  );
  const name = item.querySelector("[data-photo]");
  if (name && photos.length) name.textContent = "";
}

// The tool in hand stands in the line that is folded away again.
function sayTool(box) {
  const other = box.querySelector("input").value.trim();
  const tool = other || box.querySelector("select").value;
  box.querySelector("summary").textContent = tool ? fill(box.dataset.wordsWith, { tool }) : box.dataset.wordsNone;
}

function drawProgress({ done, of }) {
  for (const place of document.querySelectorAll("[data-progress]")) {
    place.querySelector("[data-done]").textContent = done;
    place.querySelector("[data-of]").textContent = of;
    Object.assign(place.querySelector("progress"), { max: of, value: done });
  }
}

function start(form) {
  const status = document.querySelector("[data-saved]");
  const words = status.dataset;
  let trouble = "wordsWaiting";

  const say = (sentence, waiting) => {
    if (status.textContent !== sentence) status.textContent = sentence;
    status.classList.toggle("is-waiting", waiting);
    // What is on its way, and kept on this phone, is said once: see .saved--phone.
    status.classList.toggle("is-trying", [words.wordsSending, words.wordsWaiting].includes(sentence));
  };
  const changed = () => {
    if (queue.failed) say(words[trouble], true);
    else if (!queue.empty) say(words.wordsSending, false);
  };

  const post = async ({ key, item, content, number, at }) => {
    await shown(); // the frame that shows the tap does not wait for what is sent of it
    // The cookie is the fresher of the two tokens: a log-in in another tab renews it.
    const token = cookie("csrftoken");
    if (token && content.has("csrfmiddlewaretoken")) content.set("csrfmiddlewaretoken", token);
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), PATIENCE);
    try {
      trouble = "wordsWaiting";
      const headers = { Accept: "application/json" };
      const options = { method: "POST", body: content, headers, redirect: "manual", signal: patience.signal };
      const response = await fetch(form.dataset.autosave, options);
      if (response.type === "opaqueredirect" || response.status === 401 || response.status === 403) trouble = "wordsLogin";
      else if (response.status >= 400 && response.status < 500) trouble = "wordsRefused";
      const answer = await response.json();
      if (!answer.item || !(key in answer.item)) return false;
      await atRest();
      // A slower answer to an older content must not be drawn over what stands in the field now.
      if (item.dataset.number === String(number)) {
        const said = besides(form, item, answer.item[key]);
        item.dataset.answered = number;
        keepStill(item, () => draw(item, said, words, (key, value) => keepIt(item, key, value)));
        showAsked(item);
        // A photo that has arrived is not sent again with the next tap.
        for (const file of item.querySelectorAll("input[type=file]")) file.value = "";
        form.dispatchEvent(new CustomEvent("confirmed", { detail: { item, at } }));
      }
      if (counted.size) counts(item, answer.item[key]);
      if (answer.progress && !queue.waiting.length) drawProgress(answer.progress);
      const now = new Date().toLocaleTimeString("en-GB", { timeStyle: "short", timeZone: document.documentElement.dataset.zone });
      if (!queue.waiting.length) say(fill(words.wordsSaved, { time: answer.saved ?? now }) + asking(form, words), false);
      return true;
    } finally {
      clearTimeout(timer);
    }
  };
  const queue = new Queue(post, changed);

  let number = 0;
  // `isKnown`: the server was told before; it is judged here alone.
  const send = (item, extra = {}, isKnown = false) => {
    item.dataset.number = ++number;
    delete item.dataset.typed;
    const asked = document.activeElement?.closest("[data-ask]");
    keepStill(item, () => blank(item, words.wordsUnsent));
    // The buttons that had the focus are gone: it stays in the item.
    if (asked) item.querySelector(".item__blank input, input[type=radio]:checked")?.focus();
    judgeHere(item, number);
    if (isKnown) return;
    queue.add({ key: item.dataset.item, item, content: contentOf(form, item, extra), number, at: Date.now() });
  };

  // How far the sheet is, by this phone: said until the server says it.
  const counted = new Map(); // key of an item -> whether it could be signed
  const counts = (item, answer) => counted.has(item.dataset.item) && counted.set(item.dataset.item, isDone(answer));
  const countHere = (item, answer) => {
    if (!counted.size)
      for (const one of form.querySelectorAll("[data-item]"))
        if (isCounted(one)) counted.set(one.dataset.item, isDone(answerHere(one, contentOf(form, one)) ?? {}));
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
    keepStill(item, () => {
      blank(item);
      draw(item, { ...here, by: byHere() }, words, (key, value) => keepIt(item, key, value));
    });
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
    if (item) send(item, {}, detail?.isKnown);
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

  for (const choices of form.querySelectorAll("[data-choices]")) choices.hidden = false;
  leaveOut(form);

  form.addEventListener("held", () => (queue.stop(true), say("", false)));
  form.addEventListener("let-go", () => queue.stop(false));

  let leaving = false;
  form.addEventListener("submit", () => (leaving = true));
  window.addEventListener("pageshow", () => (leaving = false));
  window.addEventListener("online", () => queue.next());
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && queue.next());
  window.addEventListener("beforeunload", (event) => {
    if (!leaving && !queue.empty) event.preventDefault();
  });
}

if (globalThis.document) for (const form of document.querySelectorAll("form[data-autosave]")) start(form);
