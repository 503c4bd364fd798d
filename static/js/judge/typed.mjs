// What was typed becomes an exact figure, or a clear question, as engineering.typed has it. Nothing is guessed: a comma
// followed by exactly three digits is asked back, another unit is converted only where it was typed and measures the same.

import { Fraction, exactText, larger, parseExact, smaller, whole } from "./exact.mjs";
import { decimalOf, fill, isBlank, isDecimal, isDigit, strip } from "./text.mjs";
import { AMBIGUOUS, BARE, UNITS, convert, unitNamed, withUnit } from "./units.mjs";

const MOST_DIGITS = 15;
const MOST_CHARACTERS = 60; // what the record keeps of a reading as typed
const GAUGE_FRACTIONS = [2, 4, 8, 16, 32, 64, 128].map(BigInt);
const INCH_MM = parseExact("25.4");

export const SENTENCES = {
  empty: "Nothing was entered.",
  "too-long": "That is too long for a figure.",
  nonsense: "“%(text)s” is not a figure.",
  unfinished: "“%(text)s” ends with its decimal sign.",
  exponent: "Write the figure out, without an exponent.",
  "comma-three": "Does “%(text)s” mean a decimal or thousands?",
  "two-signs": "“%(text)s” has two decimal signs.",
  "two-numbers": "“%(text)s” holds more than one number.",
  negative: "A figure below nought cannot be here.",
  "unit-unknown": "“%(unit)s” is not a unit known here.",
  "unit-ambiguous": "“%(unit)s” can mean different things (%(meanings)s).",
  "unit-other": "This figure is asked for in %(asked)s; “%(unit)s” measures something else.",
  "fraction-odd": "“%(text)s” is not a fraction of an inch gauge (halves to 128ths).",
  "fraction-unit": "A fraction is read in inches only: type the unit too.",
  "not-whole": "This is counted in whole numbers.",
  "one-reading": "Two readings are needed, at right angles.",
  "mixed-units": "The two readings are in different units.",
  "far-apart": "The two readings differ too much to be of one diameter.",
  "tenfold-last": "%(value)s is at least five times more or less than last time (%(other)s).",
  "tenfold-nominal": "%(value)s is at least five times more or less than the nominal figure (%(other)s).",
  inches: "%(value)s looks like inches: %(inches)s in would be %(converted)s.",
};
export const SUGGESTIONS = {
  "comma-three": "Type %(first)s or %(second)s.",
  "two-signs": "Type it without a sign for thousands.",
  unfinished: "Type %(first)s, or the missing digits.",
  "fraction-unit": "Type %(first)s.",
  "two-numbers": "Type one figure.",
  "one-reading": "Type both, as in 11.8 / 11.7.",
  "far-apart": "Measure again; if the rope is flat, mark its condition.",
  "unit-ambiguous": "Type the figure in %(asked)s.",
  "unit-other": "Type the figure in %(asked)s.",
  "unit-unknown": "Type the figure in %(asked)s.",
};

// A question back to the person who typed. `choices`: what to offer for a tap, where the meanings are known.
export class Unclear extends Error {
  constructor(code, params = {}, choices = []) {
    const named = { ...params };
    ["first", "second"].forEach((name, at) => at in choices && (named[name] = choices[at]));
    super(fill(SENTENCES[code], named));
    Object.assign(this, { code, params: named, choices, sentence: this.message });
    this.suggestion = fill(SUGGESTIONS[code] ?? "", named);
  }
}

// One figure for a field in `unit`; `signed` allows figures below nought. Throws Unclear. Gives {value, unit, text,
// typedUnit, parts}: the value exact and in `unit`, the parts of a pair likewise.
export function readFigure(text, unit, { signed = false } = {}) {
  const [value, typed] = read(plainOf(text), unit, signed);
  return { value: converted(value, typed, unit), unit, text: strip(text), typedUnit: typed || unit, parts: [] };
}

// A whole number of nought or more. Throws Unclear.
export function readCount(text) {
  const figure = readFigure(text, "count");
  if (!figure.value.isWhole || /[.,]/.test(plainOf(text))) throw new Unclear("not-whole");
  return figure;
}

// Two readings at right angles; the value is their mean. Between them stands a stroke with spaces, a semicolon, or,
// where no inch fraction could be meant, a bare stroke. A unit after the second only holds for both. Throws Unclear.
export function readPair(text, unit) {
  const plain = plainOf(text);
  let halves = plain.split(/ +\/ +| *; */);
  if (halves.length === 1 && !(unit === "in" || /(in|inch|inches|"|'')$/.test(plain))) halves = plain.split("/");
  if (halves.length === 1) {
    read(plain, unit, false); // asks its own question if the one reading is not clear either
    throw new Unclear("one-reading");
  }
  if (halves.length > 2) throw new Unclear("two-numbers", { text: strip(text) });
  const [[first, firstUnit], [second, secondUnit]] = halves.map((half) => read(half, unit, false));
  if (firstUnit && firstUnit !== secondUnit) throw new Unclear("mixed-units");
  const parts = [first, second].map((value) => converted(value, secondUnit, unit));
  const [less, more] = [smaller(...parts), larger(...parts)];
  if (more.compare(less.times(new Fraction(3n, 2n))) > 0) throw new Unclear("far-apart");
  const value = parts[0].plus(parts[1]).over(whole(2));
  return { value, unit, text: strip(text), typedUnit: secondUnit || unit, parts };
}

// Why a clear figure should be asked again, or null: {code, params, sentence}. Inches in a field of millimetres, or five
// times more or less than the last figure or the nominal one, which is where a slipped decimal sign shows.
export function doubtful(value, last, nominal, unit = "") {
  const said = withUnit(exactText(value), unit);
  const known = [["last", last], ["nominal", nominal]].filter(([, other]) => other && other.sign > 0);
  const five = whole(5);
  const far = known.filter(([, one]) => value.compare(one.times(five)) >= 0 || value.times(five).compare(one) <= 0);
  const doubt = (code, params) => ({ code, params, sentence: fill(SENTENCES[code], params) });
  if (unit === "mm" && far.length) {
    const inches = value.times(INCH_MM);
    const isNear = ([, one]) => inches.minus(one).size.times(whole(100)).compare(one.times(whole(15))) <= 0;
    if (known.some(isNear))
      return doubt("inches", { value: said, inches: exactText(value), converted: withUnit(exactText(inches), "mm") });
  }
  if (!far.length) return null;
  const [[name, other]] = far;
  return doubt(`tenfold-${name}`, { value: said, other: withUnit(exactText(other), unit) });
}

const SIGNS = {
  "\u066b": ".", "\uff0e": ".", "\uff0c": ",", "\u2044": "/", "\u2215": "/", "\u2032": "'", "\u2033": '"', "\u2019": "'",
  "\u201d": '"', "\uff0d": "-", "\u2212": "-", "\u2013": "-", "\u2010": "-", "\u2011": "-",
};

// The text in plain signs where that changes no meaning. Superscripts and the like are left alone, so that they are
// refused and not read as digits. Throws Unclear.
function plainOf(text) {
  const signs = Array.from(text);
  if (signs.length > MOST_CHARACTERS) throw new Unclear("too-long");
  const made = signs.map((sign) => {
    if (isDecimal(sign)) return decimalOf(sign);
    const written = /\p{No}/u.test(sign) ? sign.normalize("NFKC") : "";
    if (written.includes("\u2044")) return ` ${written.replaceAll("\u2044", "/")}`; // 1½ is 1 1/2, not 11/2
    if (isBlank(sign)) return " ";
    if (/\p{Cf}/u.test(sign)) return ""; // marks of writing direction, which keyboards add unseen
    return SIGNS[sign] ?? sign;
  });
  const plain = made.join("").split(" ").filter(Boolean).join(" ");
  if (!plain) throw new Unclear("empty");
  return plain;
}

const NUMBER = /^(?<sign>[+-]?) ?(?<digits>[0-9][0-9.,]*|[.,][0-9]+)/;
const FRACTION = /^(?<sign>[+-]?) ?(?:(?<whole>[0-9]+)[ -])?(?<above>[0-9]+) ?\/ ?(?<below>[0-9]+)/;

// The number and the unit typed with it, empty if none. Throws Unclear.
function read(plain, unit, signed) {
  if (Array.from(plain).filter(isDigit).length > MOST_DIGITS) throw new Unclear("too-long");
  const fraction = plain.match(FRACTION);
  const found = fraction ?? plain.match(NUMBER);
  if (!found) throw new Unclear("nonsense", { text: plain });
  const rest = strip(plain.slice(found[0].length));
  if (/^[eE][+-]?[0-9]/.test(rest) || /^[x×*] ?10/.test(rest)) throw new Unclear("exponent");
  if (/[0-9]/.test(rest.replaceAll("m/s2", "").replaceAll("m/s^2", "")))
    throw new Unclear(/^[0-9 /;&-]/.test(rest) || plain.includes(" ") ? "two-numbers" : "nonsense", { text: plain });
  const typed = rest ? unitTyped(rest, unit) : "";
  const { sign } = found.groups;
  let value = fraction
    ? inchFraction(found.groups, plain, typed || unit, typed)
    : decimal(found.groups.digits, sign.replace("+", ""));
  if (sign === "-") value = value.negated;
  if (value.sign < 0 && !signed) throw new Unclear("negative");
  return [value, typed];
}

// Digits with at most one decimal sign; `sign` is for the choices offered. Throws Unclear.
function decimal(digits, sign) {
  const signs = digits.replace(/[^.,]/g, "");
  if (signs.length > 1) throw new Unclear("two-signs", { text: digits });
  if (/[.,]$/.test(digits)) throw new Unclear("unfinished", { text: digits }, [`${sign}${digits.slice(0, -1)}`]);
  const [units, decimals = ""] = digits.split(/[.,]/);
  if (signs === "," && decimals.length === 3) {
    const meanings = [`${units || "0"}.${decimals}`, `${units}${decimals}`.replace(/^0+/, "") || "0"];
    throw new Unclear("comma-three", { text: digits }, meanings.map((each) => `${sign}${each}`));
  }
  return parseExact(`${units || "0"}.${decimals || "0"}`);
}

// A fraction of an inch gauge: proper after a whole number, halves to 128ths. Throws Unclear.
function inchFraction(found, plain, unit, typed) {
  const [all, above, below] = [found.whole ?? 0, found.above, found.below].map(BigInt);
  const isGauge = GAUGE_FRACTIONS.includes(below);
  if (unit !== "in" && unit !== "ft") {
    if (typed || !isGauge) throw new Unclear("two-numbers", { text: plain });
    throw new Unclear("fraction-unit", {}, [`${plain} in`]);
  }
  if (!isGauge || (found.whole && above >= below)) throw new Unclear("fraction-odd", { text: plain });
  return whole(all).plus(new Fraction(above, below));
}

// The name of the unit typed, if it measures what the field asks for. Throws Unclear.
function unitTyped(rest, unit) {
  const asked = BARE.has(unit) ? "a plain number" : unit;
  const meanings = Object.hasOwn(AMBIGUOUS, rest.toLowerCase()) && AMBIGUOUS[rest.toLowerCase()];
  if (meanings) throw new Unclear("unit-ambiguous", { unit: rest, meanings, asked });
  const { dimension } = UNITS.get(unit);
  const found = unitNamed(rest, dimension);
  if (!found) {
    const code = /^\p{L}/u.test(rest) ? "unit-unknown" : "nonsense";
    throw new Unclear(code, { text: rest, unit: rest, asked });
  }
  if (found.dimension !== dimension) throw new Unclear("unit-other", { unit: rest, asked });
  return found.name;
}

const converted = (value, typed, unit) => (typed && typed !== unit ? convert(value, typed, unit) : value);
