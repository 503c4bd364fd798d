// Why a figure looks like a slip of the finger, against last time or the register, as inspections.doubts asks it back.

import { larger, parseExact, whole } from "./exact.mjs";
import { inBoth } from "./measures.mjs";
import { fill } from "./text.mjs";
import { SENTENCES, doubtful } from "./typed.mjs";
import { withUnit } from "./units.mjs";

const SMALL_COUNT = whole(20);
const MANY_RIDERS = whole(2000); // more than a line takes between two looks at its cords (judgement)
const REPEAT_K = 1.96 * Math.sqrt(2); // difference of two readings of one thing, 95 % (ISO 5725, from memory)

// The question, empty if none. `value`: the figure as text, in the item's unit; `item`: kind, unit, last {value, same},
// nominal, counts (a counter of cycles), grows (cannot become less), facts; `units`: the course's; `words`: the sentences that the page brings.
export function slip(item, value, units, words) {
  const last = item.last?.value ?? "";
  if (item.kind === "count") return last ? ofCount(item, value, last, words) : "";
  const found = doubt(item, value, last, item.nominal ?? "");
  return found ? tenfold(item, value, found, last, units) : jump(item, value, last, units, words);
}

const doubt = (item, value, last, nominal) =>
  doubtful(parseExact(value), last ? parseExact(last) : null, nominal ? parseExact(nominal) : null, item.unit);

// One broken wire after none is no slip; thirty cycles after eight thousand is, and so is forty after three.
function ofCount(item, value, last, words) {
  const [before, now] = [parseExact(last), parseExact(value)];
  if (item.grows && item.last.same && now.compare(before) < 0) return fill(words.fewer, { value, last });
  if (before.compare(SMALL_COUNT) < 0) {
    if (now.compare(larger(before.times(whole(10)), before.plus(SMALL_COUNT))) < 0) return "";
    if (item.counts && now.compare(MANY_RIDERS) < 0) return ""; // a counter that was begun anew grows by a day's riders
  }
  if (before.sign === 0) return fill(words.afterNone, { value });
  return doubt(item, value, last, "")?.sentence ?? "";
}

// Told in the units of the course. Inches in a field of millimetres are told as typed.
function tenfold(item, value, found, last, units) {
  const other = { "tenfold-last": last, "tenfold-nominal": item.nominal }[found.code];
  if (other === undefined) return found.sentence;
  return fill(SENTENCES[found.code], { value: inBoth(value, item.unit, units), other: inBoth(other, item.unit, units) });
}

// Further from the last figure than two readings of one thing would be, by what the gauge scatters.
function jump(item, value, last, units, words) {
  const { unit } = item;
  const gauge = sizeOf(item.facts.gauge_u ?? "");
  if (!last || !gauge || !item.last.same) return "";
  const explained = REPEAT_K * gauge;
  if (!(gauge > 0) || Math.abs(sizeOf(value) - sizeOf(last)) <= explained) return "";
  const spread = twoDigits(explained);
  return fill(words.jump, {
    value: inBoth(value, unit, units),
    last: inBoth(last, unit, units),
    explained: unit === "degC" ? withUnit(spread, unit) : inBoth(spread, unit, units, "up"),
  });
}

function sizeOf(text) {
  const [above, below = "1"] = text.split("/");
  return text ? Number(above) / Number(below) : 0;
}

// A size with two digits, written out.
function twoDigits(size) {
  const [digits, power] = size.toExponential(1).split("e");
  const [first, second] = digits.split(".");
  const at = Number(power);
  if (at >= 1) return first + second + "0".repeat(at - 1);
  const text = at === 0 ? `${first}.${second}` : `0.${"0".repeat(-at - 1)}${first}${second}`;
  return text.replace(/\.?0+$/, "");
}
