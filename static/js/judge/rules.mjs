// Rules as the server sends them (engineering.rules.rule_to_dict): numbers are text. The server has refused what could be
// misread; here a rule is refused that this script does not know all of, as one of a newer server than its own.

import { parseExact } from "./exact.mjs";

const UPPER = [">", ">="];
const LOWER = ["<", "<="];
const LIMIT = ["limit_of", "table", "by", "row", "last", "watch"];
const PLAIN = ["signed", "highest"];

// The closed list of kinds: [parameters that a rule of the kind may have, its comparisons].
const KINDS = {
  max: [["limit", ...LIMIT, ...PLAIN, "watch_from", "origin"], UPPER],
  min: [["limit", ...LIMIT, ...PLAIN, "watch_from", "origin"], LOWER],
  range: [["min", "max", ...PLAIN, "watch_from"], UPPER],
  deviation: [["limit", "from", ...LIMIT, ...PLAIN, "watch_from"], UPPER],
  deviation_percent: [["limit", "from", ...LIMIT, ...PLAIN, "watch_from", "of"], UPPER],
  loss: [["limit", "from", ...LIMIT, "watch_from", "impossible_percent"], UPPER],
  loss_percent: [["limit", "from", ...LIMIT, "watch_from", "of", "impossible_percent"], UPPER],
  gain_percent: [["limit", "from", ...LIMIT, "watch_from", "of", "impossible_percent"], UPPER],
  remaining_percent: [["limit", "of", "watch", "watch_from"], LOWER],
  age_days: [["limit", "from", "watch", "watch_from"], UPPER],
  age_months: [["limit", "from", "watch", "watch_from"], UPPER],
  equals: [["to"], ["!="]],
  answer: [[], ["is"]],
};
const KEYS = ["id", "kind", "params", "compare", "unit", "verdict", "when", "law", "source", "on", "text", "got", "set"];

// Throws RangeError for a rule with anything that nobody here reads: a misread limit is worse than none.
export function known(rule) {
  const [params, compares] = (Object.hasOwn(KINDS, rule.kind) && KINDS[rule.kind]) || [[], []];
  const isKnown =
    compares.includes(rule.compare) &&
    ["withdraw", "watch"].includes(rule.verdict) &&
    Object.keys(rule.params).every((name) => params.includes(name)) &&
    Object.keys(rule.when ?? {}).every((name) => Object.hasOwn(FACT_VALUES, name)) &&
    Object.keys(rule).every((name) => KEYS.includes(name));
  if (!isKnown) throw new RangeError(`a rule that is not known here: ${rule.id}`);
  return rule;
}

export const AGES = ["age_days", "age_months"];
export const VERDICTS = ["ok", "watch", "unknown", "withdraw"]; // badness rises; the last two hold
export const badness = (verdict) => VERDICTS.indexOf(verdict);

// Facts that choose between rules, with the only values they can have.
export const FACT_VALUES = {
  rope_class: ["standing", "running"],
  rotation_resistant: ["yes", "no"],
  stranded: ["yes", "no"],
  lay: ["ordinary", "lang"],
  rope_core: ["fibre", "steel"],
  clip_type: ["drop_forged", "malleable_en", "other"],
  primary_brake: ["hand", "spring", "eddy", "cord", "gravity"],
  emergency_brake: ["yes", "no"],
  engineered_landing: ["yes", "no"],
  annual_extension: ["yes", "no"],
};

// A numeric parameter, or null when the rule does not have it.
export const parameter = (rule, name) => (name in rule.params ? parseExact(rule.params[name]) : null);

// The rows [key, value] of a table parameter, in rising order; none without one.
export const rowsOf = (rule) =>
  (rule.params.table ?? "")
    .split(/\s+/)
    .filter(Boolean)
    .map((pair) => pair.split(":").map(parseExact));
