// One reading, the rules that are on, the facts of the part, and a verdict: as engineering.limits judges. Every rule is
// applied and the strictest wins. What is missing, unreadable or impossible is "unknown", never "ok".

import { NOUGHT, asDecimal, decimalsOf, shown, shownBound, whole } from "./exact.mjs";
import { isoOf } from "./days.mjs";
import { Unknowable, ageStart, applies, boundsOf, dayOf, number } from "./bounds.mjs";
import { limitText, named, sentence } from "./explain.mjs";
import { AGES, badness, known } from "./rules.mjs";
import { BARE, withUnit } from "./units.mjs";

const MARKS = ["sound", "watch", "defect", "not_done"];
const LOOKED = ["sound", "mark-watch", "mark-caution", "defect"];

function judgement(verdict, code, params = {}, { rule = {}, limit = null, valueText = "", margin = null } = {}) {
  return {
    verdict, code, params, limit, valueText,
    sentence: sentence(code, params),
    limitText: limit ? limitText(limit.code, limit.params) : "",
    rule: rule.id ?? "",
    source: rule.source ?? "",
    law: rule.law ?? false,
    margin: margin && asDecimal(margin),
    others: [],
  };
}

// The strictest judgement of a reading {kind, text, value, mark, unit}, or of none (null), with the others in `others`.
// Throws RangeError for a rule that is not known here.
export function judge(reading, rules, facts) {
  let made = rules.map((rule) => judgeOne(reading, known(rule), facts)).filter(Boolean);
  if (!made.length) made = [judgement("unknown", rules.length ? "no-rule-applies" : "no-limit")];
  const { mark } = reading ?? {};
  if (["watch", "defect"].includes(mark) && !made.some((one) => LOOKED.includes(one.code))) {
    const [verdict, code] = mark === "defect" ? ["withdraw", "defect"] : ["watch", "mark-watch"];
    made.push(judgement(verdict, code, {}, { valueText: mark }));
  }
  const [strictest, ...others] = made.sort(byStrictness);
  return { ...strictest, others };
}

// The stricter of two judgements of one reading, with the other among its others.
export function worseOf(first, second) {
  const [winner, loser] = [first, second].sort(byStrictness);
  const rest = [...winner.others, { ...loser, others: [] }, ...loser.others].sort(byStrictness);
  const distinct = new Map(rest.map((one) => [JSON.stringify([one.rule, one.verdict, one.limitText]), one]));
  return { ...winner, others: [...distinct.values()] };
}

// A rule's limit as shown beside an item before anything is typed: {code, params}. Throws Unknowable.
export const limitLine = (rule, facts) => limitOf(rule, boundsOf(rule, facts), null);

function judgeOne(reading, rule, facts) {
  try {
    if (!applies(rule, facts)) return null;
    if (rule.kind === "answer") return judgeMark(reading, rule);
    if (AGES.includes(rule.kind)) return judgeAge(reading, rule, facts);
    return judgeValue(valueOf(reading, rule), reading, rule, facts);
  } catch (reason) {
    if (!(reason instanceof Unknowable)) throw reason;
    return judgement("unknown", reason.code, named(reason.params), { rule });
  }
}

// The reading's number in the rule's unit.
function valueOf(reading, rule) {
  if (reading?.mark === "not_done") throw new Unknowable("not-done");
  if (!reading || (!reading.value && !reading.mark)) throw new Unknowable("reading-missing");
  if (!["figure", "count"].includes(reading.kind) || !reading.value)
    throw new Unknowable("kind", { asked: "figure", given: reading.kind });
  const { value } = reading;
  if (reading.kind === "count" && !value.isWhole) throw new Unknowable("not-whole", { value: shown(value) });
  const unit = reading.unit || (reading.kind === "count" ? "count" : "");
  if (unit !== rule.unit && !((BARE.has(unit) || !unit) && BARE.has(rule.unit)))
    throw new Unknowable("unit", { limit_unit: rule.unit, unit: unit || "no unit" });
  return value;
}

function judgeValue(value, reading, rule, facts) {
  const bounds = boundsOf(rule, facts);
  const limit = limitOf(rule, bounds, value);
  const valueText = withUnit(shown(value, 6), rule.unit);
  let found = verdictBy(bounds, value, rule);
  if (found[1] !== "past" && found[1] !== "caution") {
    if (bounds.impossible(value)) found = ["unknown", "impossible"];
    else if (found[0] === "ok" && rule.verdict === "withdraw" && bounds.near(value, gaugeOf(reading, facts)))
      found = ["watch", "gauge"];
  }
  const params = { value: valueText, limit: limitText(limit.code, limit.params) };
  return judgement(...found, params, { rule, limit, valueText, margin: bounds.margin(value) });
}

function verdictBy(bounds, value, rule) {
  if (bounds.breachedBy(value)) return [rule.verdict, rule.verdict === "withdraw" ? "past" : "caution"];
  return bounds.watchedBy(value) ? ["watch", "watch"] : ["ok", "ok"];
}

// The gauge's uncertainty, nought for counts and where none is given.
function gaugeOf(reading, facts) {
  if (reading?.kind !== "figure" || !facts.gauge_u) return NOUGHT;
  const gauge = number("gauge_u", facts);
  if (gauge.sign < 0) throw new Unknowable("fact-unreadable", { fact: "gauge_u", value: facts.gauge_u });
  return gauge;
}

function judgeAge(reading, rule, facts) {
  if (reading?.mark === "not_done") throw new Unknowable("not-done");
  const text = reading?.kind === "date" ? reading.text : "";
  const bounds = boundsOf(rule, facts, text);
  const day = dayOf(facts);
  const value = whole(day);
  const limit = limitOf(rule, bounds, value);
  const valueText = withUnit(String(day - ageStart(rule, facts, text)), "days");
  const params = { value: valueText, limit: limitText(limit.code, limit.params) };
  const margin = bounds.margin(value);
  return judgement(...verdictBy(bounds, value, rule), params, { rule, limit, valueText, margin });
}

// A look: only sound is ok, and a person may always be stricter than the rule by marking it to be watched.
function judgeMark(reading, rule) {
  if (!reading?.mark) throw new Unknowable("reading-missing");
  const { mark } = reading;
  if (mark === "not_done") throw new Unknowable("not-done");
  if (!MARKS.includes(mark)) throw new Unknowable("mark-unreadable", { value: mark });
  const [verdict, code] = {
    sound: ["ok", "sound"],
    watch: ["watch", "mark-watch"],
    defect: [rule.verdict, rule.verdict === "watch" ? "mark-caution" : "defect"],
  }[mark];
  return judgement(verdict, code, {}, { rule, limit: { code: "no-defect", params: {} }, valueText: mark });
}

// The limit in the reading's unit, never laxer than it is.
function limitOf(rule, bounds, value) {
  if (AGES.includes(rule.kind)) {
    const high = isoOf(Number(bounds.high.above));
    return { code: bounds.breachAt ? "before" : "until", params: { high } };
  }
  const least = value === null ? 0 : decimalsOf(value);
  const params = {};
  for (const name of ["low", "high"])
    if (bounds[name])
      params[name] = withUnit(shownBound(bounds[name], value, { low: name === "low", least }), rule.unit);
  if (rule.kind === "equals") return { code: "exactly", params };
  const ends = `${bounds.low ? "low" : ""}${bounds.high ? "high" : ""}`;
  const [plain, strict] = {
    lowhigh: ["between", "inside"],
    low: ["at-least", "more-than"],
    high: ["at-most", "less-than"],
  }[ends];
  return { code: bounds.breachAt ? strict : plain, params };
}

// Strictest first: the worst verdict, then the nearest limit, then law, then the rule's id.
function byStrictness(a, b) {
  const worse = badness(b.verdict) - badness(a.verdict);
  if (worse) return worse;
  const near = (one) => (["ok", "watch"].includes(one.verdict) && one.margin ? one.margin.value : null);
  const [left, right] = [near(a), near(b)];
  if (left && right && left.compare(right)) return left.compare(right);
  if (Boolean(left) !== Boolean(right)) return left ? -1 : 1;
  if (a.law !== b.law) return a.law ? -1 : 1;
  return a.rule < b.rule ? -1 : a.rule > b.rule ? 1 : 0;
}
