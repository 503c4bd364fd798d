// The phone's modules under node: a task a line comes in as JSON, an answer a line goes out, in the same order.

import { createInterface } from "node:readline";

import { asDecimal, exactText, parseExact, rounded, shown, shownBound } from "../../static/js/judge/exact.mjs";
import { Unclear, doubtful, readCount, readFigure, readPair } from "../../static/js/judge/typed.mjs";
import { UNITS, convert } from "../../static/js/judge/units.mjs";

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

const TASKS = {
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
  doubt: ({ value, last, nominal, unit }) =>
    doubtful(parseExact(value), number(last), number(nominal), unit)?.sentence ?? "",
};

for await (const line of createInterface({ input: process.stdin })) {
  const { task, ...given } = JSON.parse(line);
  process.stdout.write(`${JSON.stringify(TASKS[task](given))}\n`);
}
