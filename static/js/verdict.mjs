// What an answer means, said by this phone at once: what the server's autosave would answer, made of the same rules,
// which the page carries (`inspections.phone_rules`). The server judges again when it can, and its verdict stands.

import { answerOf, isEmpty, isKept, strip } from "./act.mjs";
import { asked } from "./asked.mjs";
import { asText, offset } from "./clock.mjs";
import { parseExact, shown } from "./judge/exact.mjs";
import { judge, worseOf } from "./judge/limits.mjs";
import { slip } from "./judge/slips.mjs";
import { fill } from "./judge/text.mjs";
import { Unclear, readCount, readFigure, readPair } from "./judge/typed.mjs";
import { time } from "./when.mjs";

const TYPED = ["figure", "pair", "count"];

const page = (() => {
  const found = globalThis.document?.getElementById("judge");
  return found ? JSON.parse(found.textContent) : null;
})();

function understood({ kind, unit, negative }, text) {
  if (kind === "pair") return readPair(text, unit);
  if (kind === "count") return readCount(text);
  return readFigure(text, unit, { signed: Boolean(negative) });
}

// One answer by one version of the rules: {judgement, value, question, item}.
function judgedBy(carried, item, answer) {
  const { facts = {} } = item;
  const rules = item.rules.map((at) => carried.rules[at]);
  const made = (reading, more) => ({ item, value: "", question: null, ...more, judgement: judge(reading, rules, facts) });
  if (item.register) return made(null);
  if (answer.mark === "not_done") return made({ kind: "mark", mark: "not_done" });
  if (!TYPED.includes(item.kind) || answer.mark === "defect")
    return made(answer.mark ? { kind: "mark", mark: answer.mark } : null);
  const { text = "" } = answer;
  if (!strip(text)) return made(null);
  try {
    const { value } = understood(item, text);
    const kind = item.kind === "count" ? "count" : "figure";
    return made({ kind, text, value, unit: item.unit }, { value: shown(value, 6) });
  } catch (question) {
    if (!(question instanceof Unclear)) throw question;
    return made(null, { question });
  }
}

// By the rules in force and by those that the sheet was opened under, where they differ: the stricter.
function judgedOf(carried, item, answer) {
  const now = judgedBy(carried, item, answer);
  if (!item.then) return now;
  const then = judgedBy(carried, { ...item, negative: false, minor: false, ...item.then }, answer);
  const judgement = worseOf(now.judgement, then.judgement);
  const isNow = judgement.rule === now.judgement.rule && judgement.verdict === now.judgement.verdict;
  return { ...(isNow ? now : then), judgement };
}

// What must be answered with keep or retype before it counts; empty if nothing.
function askedOf({ units, words }, { item, value, question, judgement }, answer) {
  if (isKept(answer) || isEmpty(answer)) return "";
  const isFigure = TYPED.includes(item.kind) && value && !question;
  const why = isFigure ? slip({ facts: {}, ...item }, value, units, words) : "";
  if (judgement.verdict !== "withdraw") return why;
  return fill(words.if, { sentence: `${judgement.sentence} ${why}`.trim() });
}

// What is wanted before it can be signed.
function neededOf({ words }, { item, judgement }, { mark, note = "", reason = "" }) {
  if (item.register || strip(note) || strip(reason)) return "";
  if (mark === "not_done") return words.why;
  return judgement.verdict === "withdraw" ? words.wrong : "";
}

const placesOf = (text) => (text.split(".")[1] ?? "").length;

// The difference to the last figure, signed, with the decimals of the more exact of the two.
function differenceOf(value, last) {
  if (!value || !last) return "";
  const most = Math.max(placesOf(value), placesOf(last));
  const change = parseExact(value).minus(parseExact(last));
  return (change.sign < 0 ? "" : "+") + shown(change, most, { least: most });
}

// What a line is held by when this is signed; empty where it holds none. It never says that a line may open.
function heldOf({ ride, words }, item, verdict) {
  const isHeld = {
    withdraw: ride || !item.minor || item.part,
    unknown: ride || !item.minor,
    watch: !item.found,
  }[verdict];
  return isHeld ? (words.holds[verdict] ?? "") : "";
}

const withoutUnit = (text, asked) => (asked && text.endsWith(` ${asked}`) ? text.slice(0, -asked.length - 1) : text);

// The answer to an item, as inspections.views.keeping.answer_of gives it; null where it is not asked here. `hold` is
// what the phone says besides. `carried`: what the page carries; `fields`: what stands in its form.
export function answerFor(carried, key, fields) {
  const item = carried?.items[key];
  if (!item) return null;
  const { words } = carried;
  const typed = TYPED.includes(item.kind);
  const answer = answerOf(fields, { key, typed, asked: item.asked, had: item.had });
  const found = judgedOf(carried, item, answer);
  const { judgement, question, value } = found;
  const ask = askedOf(carried, found, answer);
  const told = { verdict: "", word: "", sentence: "", clause: "", limit: item.limit ?? "", last: "", difference: "" };
  Object.assign(told, { need: "", choices: "", ask: null, hold: "" });
  if (typed && answer.text && item.last?.said) {
    told.last = item.last.said;
    told.difference = differenceOf(value, item.last.value ?? "");
  }
  if (isEmpty(answer) && !item.register) return told;
  told.verdict = ask ? "unknown" : judgement.verdict;
  told.word = words.verdicts[told.verdict];
  told.sentence = judgement.sentence;
  if (question) {
    told.sentence = `${question.sentence} ${question.suggestion}`.trim();
    told.choices = question.choices.map((one) => withoutUnit(one, item.asked));
  } else if (answer.mark === "not_done") told.sentence = found.item.minor ? words.minor : words.needed;
  if (!question) told.clause = judgement.source;
  if (ask) {
    told.ask = { sentence: ask, keep: key, value: answer.text || answer.mark };
    told.sentence = told.clause = "";
    if (!answer.text)
      Object.assign(told.ask, { said: words.defect, keep_word: words.out, change_word: words.change });
  } else if (!question) {
    told.need = neededOf(carried, found, answer);
    told.hold = heldOf(carried, item, judgement.verdict);
  }
  return told;
}

// What is kept on the phone takes nothing out of service before it arrives, and the phone says so.
const alone = page && { ...page, words: { ...page.words, if: page.words.ifAlone } };

// What the rules of another day say is not said: a part may have come of age, or been taken out.
let ahead = 0; // ms by which the server's clock is ahead of this phone's, as far as known
if (page) offset().then((found) => (ahead = (found?.offset_s ?? 0) * 1000));
function isOfNow() {
  const now = asText(new Date(Date.now() + ahead));
  return Boolean(page) && page.since <= now && now < page.until;
}

// What this phone cannot read it does not judge, and hinders nobody by it: the server judges.
function tried(carried, key, fields) {
  try {
    return answerFor(carried, key, fields);
  } catch {
    return null;
  }
}

// The same for an item of the page that is shown, of its own fields alone; null where the page is not of today, or its
// rules cannot be read.
export const answerHere = (item, fields) => (isOfNow() ? tried(alone, item.dataset.item, fields) : null);

// Whether an item is answered so that it could be signed, as inspections.views.keeping.progress counts; and of how many
// that is asked.
export const isDone = ({ verdict, ask, choices, need } = {}) => Boolean(verdict) && !ask && !Array.isArray(choices) && !need;
export const isCounted = (item) => Boolean(page?.items[item.dataset.item]) && !page.items[item.dataset.item].register;

// Whose verdict it is, and of when the limits are, for a page that is shown from the phone.
export function byHere() {
  const { kept } = document.documentElement.dataset;
  return kept ? fill(page.words.kept, { time: time(new Date(kept)) }) : page.words.here;
}

// What a line is held by when an item is signed with a verdict that the server gave.
export function holdHere(item, { verdict, ask, choices }) {
  const asks = page?.items[item.dataset.item];
  return asks && !ask && !choices?.length ? heldOf(page, asks, verdict) : "";
}

export const wordsHere = page?.words ?? {};

// What is asked back, unclear or still wanted, and what will hold a line: before a form is signed alone.
export function openFor(carried, fields) {
  const open = [];
  const holds = [];
  for (const [key, item] of Object.entries(carried.items)) {
    if (item.register) continue;
    const { ask, choices, need, sentence, verdict, hold } = tried(carried, key, fields) ?? {};
    const isMark = ask && ask.said; // what is marked as a defect is asked back when it is signed
    const lacks = TYPED.includes(item.kind) ? need : ""; // of a mark the form itself knows it
    const why = ask && !isMark ? `${ask.sentence} ${carried.words.open}` : choices ? sentence : lacks;
    if (why) open.push(`${item.text} ${why}`);
    const said = hold || (isMark && heldOf(carried, item, "withdraw"));
    if (said) holds.push({ key, said: `${item.text} ${said}` });
  }
  return { open, holds };
}

if (page) asked.push((fields) => openFor(alone, fields));
