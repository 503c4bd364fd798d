// Figures in the units that a course speaks, as inspections.measures tells them.

import { parseExact, rounded, shown } from "./exact.mjs";
import { convert, withUnit } from "./units.mjs";

const US = { mm: "in", cm: "in", m: "ft", kg: "lb", "m/s": "mph", kN: "lbf", Nm: "ft-lb", degC: "degF" };
const PLACES = { in: 3, ft: 2, lb: 1, mph: 1, lbf: 0, "ft-lb": 1, degF: 1 };
const MOST_PLACES = 3;

// A stored figure in the course's unit with the metric one behind it. `toward` is that of rounded().
export function inBoth(number, unit, units, toward = "nearest") {
  const asked = (units === "us" && US[unit]) || unit;
  if (asked === unit) return withUnit(number, unit);
  const exact = parseExact(number);
  const value = rounded(convert(exact, unit, asked), PLACES[asked], toward);
  // What was typed in the course's own unit has a long tail of decimals in the other.
  const isShort = (number.split(".")[1] ?? "").length <= MOST_PLACES;
  const plain = isShort ? number : shown(exact, MOST_PLACES, { toward });
  return `${withUnit(shown(value, PLACES[asked]), asked)} (${withUnit(plain, unit)})`;
}
