// What the page of a test ride knows of its own figures: whatever one can write is understood as the server does, and
// what the server would ask back is asked here before a ride is signed alone. See inspections.actions.rides.

import { answerOf, figures, isEmpty, rideFigure, strip } from "./act.mjs";
import { parseExact, shown } from "./judge/exact.mjs";
import { Unclear, readFigure } from "./judge/typed.mjs";
import { AGAIN, WANTING } from "./wanting.mjs";
import { fill as said } from "./when.mjs";

const UNITS = { mass: "kg", wind: "m/s", wind_again: "m/s", air: "degC" };
const LATELY = 2 * 3600000; // ms for which what was read before is held against what is read now

const plainRing = (name, text) => (name === "air" ? text.replace(/°$/, "") : text);

function valueOf(pattern, fields, name) {
  const text = rideFigure(pattern, fields, name);
  return readFigure(plainRing(name, text), UNITS[name], { signed: name === "air" }).value;
}

// {value} or {sentence}: what is not understood is asked back.
function read(pattern, fields, name) {
  try {
    return { value: valueOf(pattern, fields, name) };
  } catch (error) {
    if (!(error instanceof Unclear)) throw error;
    return { sentence: error.sentence };
  }
}

figures.read = (pattern, fields, name) => {
  const { value } = read(pattern, fields, name);
  return value ? shown(value, 6) : "";
};

const isAbove = (one, other) => one.compare(other) > 0;
const times = (value, number) => value.times(parseExact(String(number)));

function* ofItems({ items, travel, words }, fields) {
  for (const item of items) {
    if (!item.asks) continue;
    const answer = answerOf(fields, item);
    // Ballast that never reached the brake has no brake travel to read.
    if (isEmpty(answer) && fields.get("reached") === "no") continue;
    if (isEmpty(answer)) yield `${item.text} ${words.empty}`;
    else if (answer.mark === "not_done" && !answer.note) yield `${item.text} ${words.why}`;
    if (!item.travel || !travel || !answer.text) continue;
    try {
      const used = readFigure(answer.text, item.unit).value;
      if (isAbove(used, times(parseExact(travel.there), 2)))
        yield said(words.travel, { used: answer.text, there: travel.said });
    } catch (error) {
      if (!(error instanceof Unclear)) throw error;
      yield `${item.text} ${error.sentence}`;
    }
  }
}

// The newest of today, unless it is too long ago to be held against anything.
const lately = (one, at) => (one && at - Date.parse(one.read_at) <= LATELY ? one : null);

function* ofAir(pattern, fields, at) {
  if (!strip(fields.get("air") ?? "")) return;
  const { words } = pattern;
  const { value, sentence } = read(pattern, fields, "air");
  if (sentence) return yield sentence;
  const air = rideFigure(pattern, fields, "air");
  if (isAbove(value, parseExact("60")) || isAbove(parseExact("-50"), value)) yield said(words.air, { air });
  const before = lately(pattern.lately.air, at);
  if (!before) return;
  const apart = value.minus(parseExact(before.value));
  if (isAbove(apart, parseExact("10")) || isAbove(parseExact("-10"), apart))
    yield said(words.other, { air, other: before.said, at: before.at });
}

WANTING.ride = function* ride(pattern, fields, at) {
  const { words, mass: band } = pattern;
  if (!strip(fields.get("landing_clear") ?? "")) yield words.clear;
  for (const name of ["mass", "wind"]) {
    const { value, sentence } = read(pattern, fields, name);
    if (sentence) yield `${words[name]} ${sentence}`;
    else if (name === "mass" && band) {
      const [least, most] = band.limits.map(parseExact);
      if (isAbove(least, times(value, 2)) || isAbove(value, times(most, 2)))
        yield said(words.weigh, { typed: rideFigure(pattern, fields, name), range: band.said });
    }
  }
  for (const name of ["wind_from", "state", "reached"]) if (!fields.get(name)) yield words[name];
  yield* ofAir(pattern, fields, at);
  if (fields.get("kind") === "emergency" && !fields.get("primary_back")) yield words.back;
  yield* ofItems(pattern, fields);
};

// A wind that holds the line, or is tenfold what was read shortly before, is typed twice: a slip cannot be corrected.
AGAIN.ride = (pattern, fields, at) => {
  const { winds, words } = pattern;
  const wind = valueOf(pattern, fields, "wind");
  const typed = rideFigure(pattern, fields, "wind");
  const hasSide = !isAbove(parseExact(winds.side), wind);
  const limit = (hasSide && winds.by[fields.get("wind_from")]) || winds.least;
  const before = lately(pattern.lately.wind, at);
  let sentence = "";
  if (limit && isAbove(wind, parseExact(limit.value))) sentence = said(words.holds, { wind: typed, limit: limit.said });
  else if (before) {
    const least = parseExact(isAbove(parseExact(before.value), parseExact("0.5")) ? before.value : "0.5");
    if (!isAbove(times(least, 10), wind)) sentence = said(words.tenfold, { wind: typed, other: before.said, at: before.at });
  }
  const isSame = () => {
    const { value } = read(pattern, fields, "wind_again");
    return Boolean(value) && value.compare(wind) === 0;
  };
  return sentence && !isSame() ? { name: "wind_again", sentence, isSame } : null;
};
