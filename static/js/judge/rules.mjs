// Rules as the server sends them (engineering.rules.rule_to_dict): numbers are text. The server has refused what could be
// misread; here they are only read.

import { parseExact } from "./exact.mjs";

export const UPPER = [">", ">="];
export const LOWER = ["<", "<="];
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
