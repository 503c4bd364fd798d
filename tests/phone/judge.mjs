// The phone's modules under node: a task a line comes in as JSON, an answer a line goes out, in the same order.

import { createInterface } from "node:readline";

import { asDecimal, exactText, parseExact, rounded, shown, shownBound } from "../../static/js/judge/exact.mjs";
import { answerFor, openFor } from "../../static/js/verdict.mjs";
import { known } from "../../static/js/judge/rules.mjs";
import { Unknowable } from "../../static/js/judge/bounds.mjs";
import { judge, limitLine, worseOf } from "../../static/js/judge/limits.mjs";
import { limitText } from "../../static/js/judge/explain.mjs";
import { slip } from "../../static/js/judge/slips.mjs";
import { Unclear, doubtful, readCount, readFigure, readPair } from "../../static/js/judge/typed.mjs";
import { UNITS, convert } from "../../static/js/judge/units.mjs";
import { sagOf } from "../../static/js/return_wave.mjs";

const number = (text) => (text ? parseExact(text) : null);
const asked = (read) => {
  try {
    const { value, text, typedUnit, parts } = read();
    return { value: exactText(value), text, typed: typedUnit, parts: parts.map(exactText) };
  } catch (question) {
    if (!(question instanceof Unclear)) throw question;
    const { code, sentence, suggestion, choices } = question;
    return { code, sentence, suggestion, choices };
  }
};

// What was typed is read here too, as a page does; what is unclear is no reading.
function readingOf(given) {
  if (!given) return null;
  if (!given.typed) return { ...given, value: number(given.value) };
  try {
    return { ...given, value: readFigure(given.text, given.unit, { signed: true }).value };
  } catch (question) {
    if (!(question instanceof Unclear)) throw question;
    return null;
  }
}

const told = ({ margin, others, code, params, ...found }) => [
  found.verdict, found.rule, code, found.sentence, found.limitText, found.valueText, found.source, found.law,
  margin ? margin.text : "", others.map((other) => [other.rule, other.verdict, other.code, other.limitText]),
];

const lineOf = (rule, facts) => {
  try {
    const { code, params } = limitLine(rule, facts);
    return limitText(code, params);
  } catch (reason) {
    if (!(reason instanceof Unknowable)) throw reason;
    return `${reason.code}`;
  }
};

// What stands in a form, as a browser hands it on; what a page carries is written once and named by its number.
const pages = [];
const formOf = (fields) => {
  const form = new FormData();
  for (const [name, value] of Object.entries(fields)) form.set(name, value);
  return form;
};

const TASKS = {
  page: ({ carried }) => pages.push(carried) - 1,
  answer: ({ page, key, fields }) => answerFor(pages[page], key, formOf(fields)),
  open: ({ page, fields }) => openFor(pages[page], formOf(fields)),
  judge: ({ reading, rules, then, facts }) => {
    const found = judge(readingOf(reading), rules, facts);
    return told(then ? worseOf(found, judge(readingOf(reading), then, facts)) : found);
  },
  known: ({ rule }) => {
    try {
      return known(rule) === rule;
    } catch {
      return false;
    }
  },
  line: ({ rule, facts }) => lineOf(rule, facts),
  shown: ({ value, most, least, toward }) => shown(parseExact(value), most, { least, toward }),
  bound: ({ bound, value, low, least }) => shownBound(parseExact(bound), number(value), { low, least }),
  rounded: ({ value, places, toward }) => exactText(rounded(parseExact(value), places, toward)),
  decimal: ({ value }) => asDecimal(parseExact(value)).text,
  text: ({ value }) => exactText(parseExact(value)),
  convert: ({ value, from, to }) => exactText(convert(parseExact(value), from, to)),
  units: () => [...UNITS.values()].map(({ name, aliases, label }) => [name, label, aliases]),
  figure: ({ text, unit, signed }) => asked(() => readFigure(text, unit, { signed })),
  count: ({ text }) => asked(() => readCount(text)),
  pair: ({ text, unit }) => asked(() => readPair(text, unit)),
  sag: ({ times, returns, known }) => sagOf(times, returns, known),
  doubt: ({ value, last, nominal, unit }) =>
    doubtful(parseExact(value), number(last), number(nominal), unit)?.sentence ?? "",
  slip: ({ item, value, words }) => slip(item, value, "metric", words),
};

for await (const line of createInterface({ input: process.stdin })) {
  const { task, ...given } = JSON.parse(line);
  let answer;
  try {
    answer = TASKS[task](given);
  } catch (error) {
    if (!(error instanceof RangeError)) throw error;
    answer = `refused: ${error.message}`;
  }
  process.stdout.write(`${JSON.stringify(answer)}\n`);
}
