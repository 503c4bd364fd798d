// Units as engineering.units has them: what they measure, how they are written, exact factors between them.

import { NOUGHT, parseExact } from "./exact.mjs";

// Name, dimension, factor to the dimension's base unit; then other ways to write it, how it stands after a figure, offset.
const ROWS = [
  ["mm", "length", "0.001"],
  ["cm", "length", "0.01"],
  ["m", "length", "1"],
  ["in", "length", "0.0254", ["inch", "inches", '"', "″", "''"]],
  ["ft", "length", "0.3048", ["foot", "feet", "'", "′"]],
  ["g", "mass", "0.001", ["gram", "grams"]],
  ["kg", "mass", "1", ["kgs", "kilo", "kilos"]],
  ["lb", "mass", "0.45359237", ["lbs", "pound", "pounds"]],
  ["N", "force", "1"],
  ["daN", "force", "10"],
  ["kN", "force", "1000"],
  ["lbf", "force", "4.4482216152605"],
  ["Nm", "torque", "1", ["N m", "N·m", "N*m", "Newton metre"]],
  ["ft-lb", "torque", "1.3558179483314004", ["ft lb", "ftlb", "ft·lb", "ft-lbf", "ft lbf", "lb-ft", "lbf-ft"]],
  ["in-lb", "torque", "0.1129848290276167", ["in lb", "inlb", "in·lb", "in-lbf", "lbf-in"]],
  ["m/s", "speed", "1", ["mps"]],
  ["km/h", "speed", "5/18", ["kmh", "kph"]],
  ["mph", "speed", "0.44704"],
  ["kn", "speed", "1852/3600", ["kt", "kts", "knots"]],
  ["s", "time", "1", ["sec", "seconds"]],
  ["min", "time", "60", ["minutes"]],
  ["h", "time", "3600", ["hours"]],
  ["deg", "angle", "1", ["°", "degrees"], "°"],
  ["degC", "temperature", "1", ["°C", "C"], " °C"],
  ["degF", "temperature", "5/9", ["°F", "F"], " °F", "-160/9"],
  ["g0", "acceleration", "9.80665", ["g"], " g"],
  ["m/s2", "acceleration", "1", ["m/s²", "m/s^2"]],
  ["kg/m", "mass per length", "1"],
  ["lb/ft", "mass per length", "0.45359237/0.3048", ["lbs/ft"]],
  ["N/m", "stiffness", "1"],
  ["N/mm", "stiffness", "1000"],
  ["kN/m", "stiffness", "1000"],
  ["lbf/in", "stiffness", "4.4482216152605/0.0254", ["lb/in", "lbs/in"]],
  ["m2", "area", "1", ["m²", "sq m"], " m²"],
  ["ft2", "area", "0.09290304", ["ft²", "sq ft"], " ft²"],
  ["Pa", "pressure", "1"],
  ["hPa", "pressure", "100", ["mbar", "mb"]],
  ["inHg", "pressure", "3386.388640341", ["in Hg"]],
  ["1/K", "expansion", "1"],
  ["ppm/K", "expansion", "0.000001", ["ppm/°C", "ppm/C", "µm/m/K"], " ppm/K"],
  ["ppm/degF", "expansion", "0.0000018", ["ppm/°F", "ppm/F"], " ppm/°F"],
  ["%", "share", "1", ["percent", "per cent"], " %"],
  ["count", "count", "1"],
  ["1", "ratio", "1"],
  ["-", "none", "1"],
  ["days", "days", "1", ["day"]],
  ["months", "months", "1", ["month"]],
];

function factorOf(text) {
  const [above, below = "1"] = text.split("/");
  return parseExact(above).over(parseExact(below));
}

const TABLE = ROWS.map(([name, dimension, factor, aliases = [], label = ` ${name}`, offset = ""]) => ({
  name, dimension, aliases, label, factor: factorOf(factor), offset: offset ? factorOf(offset) : NOUGHT,
}));
export const UNITS = new Map(TABLE.map((unit) => [unit.name, unit]));
export const BARE = new Set(["count", "1", "-"]); // written without a unit

// Written by some for one thing and by others for another; never guessed.
export const AMBIGUOUS = {
  ton: "t of 1000 kg, long ton or short ton",
  tons: "t of 1000 kg, long ton or short ton",
  oz: "ounce of weight or of volume",
  gal: "US or imperial",
  kgf: "kg or kN",
  kp: "kg or kN",
};

// The unit that was typed, first letter for letter, then without regard to capitals. A sign that names units of two
// dimensions is taken in the one asked for; otherwise whatever was found, so that the caller can say why it does not fit.
export function unitNamed(text, dimension) {
  for (const fold of [(one) => one, (one) => one.toLowerCase()]) {
    const found = TABLE.filter((unit) => [unit.name, ...unit.aliases].some((name) => fold(name) === fold(text)));
    if (found.length) return found.find((unit) => unit.dimension === dimension) ?? found[0];
  }
  return null;
}

// Converts exactly. Throws RangeError when the two units do not measure the same thing.
export function convert(value, from, to) {
  const [source, target] = [UNITS.get(from), UNITS.get(to)];
  if (source.dimension !== target.dimension) throw new RangeError(`${from} and ${to} do not measure the same thing`);
  return value.times(source.factor).plus(source.offset).minus(target.offset).over(target.factor);
}

// A number and its unit for people.
export const withUnit = (number, unit) =>
  BARE.has(unit) || !unit ? number : number + (UNITS.get(unit)?.label ?? ` ${unit}`);
