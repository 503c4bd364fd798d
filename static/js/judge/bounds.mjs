// From a rule and the facts to the figures beyond which a reading is past its limit, as engineering.bounds draws them: a
// lower and an upper bound in the unit of the reading (for ages: ordinals of calendar days).

import { NOUGHT, parseExact, smaller, whole } from "./exact.mjs";
import { daysLater, isoOf, monthsLater, ordinalOf } from "./days.mjs";
import { AGES, FACT_VALUES, parameter, rowsOf } from "./rules.mjs";
import { strip } from "./text.mjs";

const IMPOSSIBLE_PERCENT = whole(20);
const HUNDRED = whole(100);
const FIFTH = parseExact("1/5"); // a gauge's band takes at most a fifth of the allowance
const MOST_SPAN = 10000000; // beyond any calendar

// Why a rule cannot be applied: `code` and `params`, as in judge/explain.mjs.
export class Unknowable extends Error {
  constructor(code, params = {}) {
    super(code);
    Object.assign(this, { code, params });
  }
}

function past(value, low, high, at) {
  const under = low !== null && value.compare(low) < (at ? 1 : 0);
  return under || (high !== null && value.compare(high) > (at ? -1 : 0));
}

class Bounds {
  constructor(low, high, breachAt, origin = null, rest = {}) {
    Object.assign(this, { low, high, breachAt, origin });
    Object.assign(this, { watchLow: null, watchHigh: null, impossibleLow: null, impossibleHigh: null }, rest);
  }

  breachedBy(value) {
    return past(value, this.low, this.high, this.breachAt);
  }

  watchedBy(value) {
    return past(value, this.watchLow, this.watchHigh, this.breachAt);
  }

  // Whether the gauge, off by so much, could hide a breach.
  near(value, gauge) {
    const band = (bound) => smaller(gauge, bound.minus(this.origin ?? NOUGHT).size.times(FIFTH));
    const low = this.low && this.low.plus(band(this.low));
    const high = this.high && this.high.minus(band(this.high));
    return gauge.sign > 0 && past(value, low, high, this.breachAt);
  }

  impossible(value) {
    return past(value, this.impossibleLow, this.impossibleHigh, false);
  }

  // The way left to the nearer bound, negative past it; null without a bound.
  margin(value) {
    const ways = [this.low && value.minus(this.low), this.high && this.high.minus(value)].filter(Boolean);
    return ways.length ? ways.reduce(smaller) : null;
  }
}

// Whether the rule's conditions are met. One that is plainly not met is enough for no, whatever else is missing.
export function applies(rule, facts) {
  let unsure = null;
  for (const [name, values] of Object.entries(rule.when ?? {}))
    try {
      if (!values.includes(chosen(name, facts))) return false;
    } catch (reason) {
      if (!(reason instanceof Unknowable)) throw reason;
      unsure ??= reason;
    }
  if (unsure) throw unsure;
  return true;
}

function chosen(name, facts) {
  const value = factOf(name, facts);
  if (!FACT_VALUES[name].includes(value)) throw new Unknowable("fact-unreadable", { fact: name, value });
  return value;
}

export function boundsOf(rule, facts, readingText = "") {
  if (AGES.includes(rule.kind)) return ageBounds(rule, facts, readingText);
  const at = rule.compare === ">=" || rule.compare === "<=";
  if (rule.kind === "equals") {
    const value = number(rule.params.to, facts);
    return new Bounds(value, value, false, value);
  }
  if (rule.kind === "range") {
    const [low, high] = [parameter(rule, "min"), parameter(rule, "max")];
    return withWatch(rule, new Bounds(low, high, at, low.plus(high).over(whole(2))), null, null);
  }
  if (rule.kind === "remaining_percent") {
    const all = positive(rule.params.of, facts);
    const left = parameter(rule, "watch");
    const ofAll = (percent) => all.times(whole(1).minus(percent.over(HUNDRED)));
    const bounds = new Bounds(null, ofAll(parameter(rule, "limit")), at, NOUGHT);
    return withWatch(rule, bounds, null, left && ofAll(left));
  }
  const [limit, watch] = limitsOf(rule, facts);
  if (rule.kind === "max")
    return withWatch(rule, new Bounds(null, limit, at, parameter(rule, "origin") ?? NOUGHT), null, watch);
  if (rule.kind === "min") return withWatch(rule, new Bounds(limit, null, at, parameter(rule, "origin")), watch, null);
  return changeBounds(rule, limit, watch, at, facts);
}

// A fact as an exact number.
export function number(name, facts) {
  const value = factOf(name, facts);
  try {
    return parseExact(value);
  } catch {
    throw new Unknowable("fact-unreadable", { fact: name, value });
  }
}

function positive(name, facts) {
  const value = number(name, facts);
  if (value.sign <= 0) throw new Unknowable("fact-unreadable", { fact: name, value: factOf(name, facts) });
  return value;
}

export const dayOf = (facts) => dateOf("day", factOf("day", facts));

// The day from which an age counts: the first of the rule's dates that is there, from the newest deed to the oldest. A
// register in which an older deed bears the later date is not believed.
export function ageStart(rule, facts, readingText) {
  const names = rule.params.from.split(/\s+/).filter(Boolean);
  const textOf = (name) => strip(String((name === "reading" ? readingText : facts[name]) || ""));
  const texts = [...new Map(names.map((name) => [name, textOf(name)]))].filter(([, text]) => text);
  const days = texts.map(([name, text]) => [name, dateOf(name, text)]);
  if (!days.length) {
    const isRead = names.length === 1 && names[0] === "reading";
    throw new Unknowable(isRead ? "reading-missing" : "fact-missing", { fact: names.at(-1) });
  }
  for (let at = 1; at < days.length; at += 1)
    if (days[at][1] > days[at - 1][1])
      throw new Unknowable("dates-contradict", { fact: days[at - 1][0], other: days[at][0] });
  return days[0][1];
}

function ageBounds(rule, facts, readingText) {
  const start = ageStart(rule, facts, readingText);
  const day = dayOf(facts);
  if (start > day) throw new Unknowable("date-ahead", { date: isoOf(start), day: isoOf(day) });
  const after = (span) => {
    const all = Math.max(-MOST_SPAN, Math.min(MOST_SPAN, Number(span.above / span.below)));
    const found = (rule.kind === "age_days" ? daysLater : monthsLater)(start, all);
    const fact = rule.params.from.split(/\s+/).filter(Boolean).at(-1);
    if (found === null) throw new Unknowable("fact-unreadable", { fact, value: isoOf(start) });
    return whole(found);
  };
  const span = parameter(rule, "watch");
  const bounds = new Bounds(null, after(parameter(rule, "limit")), rule.compare === ">=", whole(start));
  return withWatch(rule, bounds, null, span && after(span));
}

// Limit and watch after the table's value and the fact they are a multiple of.
function limitsOf(rule, facts) {
  let scale = whole(1);
  if ("table" in rule.params) scale = scale.times(lookedUp(rule, positive(rule.params.by, facts)));
  if ("limit_of" in rule.params) scale = scale.times(positive(rule.params.limit_of, facts));
  const watch = parameter(rule, "watch");
  return [parameter(rule, "limit").times(scale), watch && watch.times(scale)];
}

// "upto": the first row not below the size; "from": the last row not above it; "exact": that row or none.
function lookedUp(rule, key) {
  const rows = rowsOf(rule);
  const last = parameter(rule, "last");
  const { row, by } = rule.params;
  const fits = { upto: (side) => side <= 0, from: (side) => side >= 0, exact: (side) => side === 0 }[row];
  const fitting = (row === "from" ? rows.reverse() : rows).filter(([at]) => fits(key.compare(at)));
  if (!fitting.length || (last && key.compare(last) > 0)) throw new Unknowable("beyond-table", { fact: by });
  return fitting[0][1];
}

// The kinds that compare with what the part was: deviation, loss, gain.
function changeBounds(rule, limit, watch, at, facts) {
  const start = (rule.kind === "deviation" ? number : positive)(rule.params.from, facts);
  const isShare = rule.kind.endsWith("_percent");
  const share = isShare ? positive(rule.params.of ?? rule.params.from, facts).over(HUNDRED) : whole(1);
  const [size, band] = [limit.times(share), watch && watch.times(share)];
  const down = /^(loss|deviation)/.test(rule.kind);
  const up = /^(gain|deviation)/.test(rule.kind);
  const bounds = new Bounds(down ? start.minus(size) : null, up ? start.plus(size) : null, at, start);
  return withWatch(rule, bounds, band && down ? start.minus(band) : null, band && up ? start.plus(band) : null);
}

// Adds the watch band (given, or a share of the way from the origin) and what cannot be.
function withWatch(rule, bounds, low, high) {
  const { origin } = bounds;
  const share = parameter(rule, "watch_from");
  const onTheWay = (bound) => bound && origin.plus(share.times(bound.minus(origin)));
  const [watchLow, watchHigh] = share && origin ? [onTheWay(bounds.low), onTheWay(bounds.high)] : [low, high];
  let impossibleLow = "signed" in rule.params || AGES.includes(rule.kind) ? null : NOUGHT;
  let impossibleHigh = parameter(rule, "highest");
  if (/^(loss|gain)/.test(rule.kind) && origin) {
    const change = origin.times(parameter(rule, "impossible_percent") ?? IMPOSSIBLE_PERCENT).over(HUNDRED);
    if (rule.kind.startsWith("loss")) impossibleHigh = origin.plus(change);
    else impossibleLow = origin.minus(change);
  }
  const rest = { watchLow, watchHigh, impossibleLow, impossibleHigh };
  return new Bounds(bounds.low, bounds.high, bounds.breachAt, origin, rest);
}

function factOf(name, facts) {
  const text = strip(String(facts[name] ?? ""));
  if (!text) throw new Unknowable("fact-missing", { fact: name });
  return text;
}

function dateOf(name, text) {
  const found = ordinalOf(text);
  if (found === null) throw new Unknowable("fact-unreadable", { fact: name, value: text });
  return found;
}
