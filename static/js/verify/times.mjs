// Instants as entries have them, in milliseconds, and days on the clock of a place.

import { Bad } from "./bytes.mjs";

export const MINUTE = 60_000;
export const DAY = 24 * 60 * MINUTE;
const MONTHS = "January February March April May June July August September October November December".split(" ");
const LAST = Date.UTC(9999, 11, 31, 23, 59, 59);

const two = (number) => String(number).padStart(2, "0");

// Read a time as entries have it. Throws Bad.
export function timeOf(text) {
  if (typeof text === "string" && /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$/.test(text) && !text.startsWith("0000")) {
    const at = Date.parse(text);
    // The 31st of June is read by some as the first of July.
    if (Number.isFinite(at) && new Date(at).toISOString() === text.replace("Z", ".000Z")) return at;
  }
  throw new Bad(`${quoted(text)} is not a time`);
}

export const isTime = (at) => at >= 0 && at <= LAST;

// As the program quotes what stands in a bundle.
export function quoted(value) {
  if (value === undefined) return "None";
  if (typeof value !== "string") return JSON.stringify(value);
  const mark = value.includes("'") && !value.includes('"') ? '"' : "'";
  const inside = value.replaceAll("\\", "\\\\").replaceAll("\n", "\\n").replaceAll("\r", "\\r").replaceAll("\t", "\\t");
  return mark + (mark === "'" ? inside.replaceAll("'", "\\'") : inside) + mark;
}

export function dayWords(at) {
  const when = new Date(at);
  return `${two(when.getUTCDate())} ${MONTHS[when.getUTCMonth()]} ${String(when.getUTCFullYear()).padStart(4, "0")}`;
}

export function timeWords(at) {
  const when = new Date(at);
  return `${dayWords(at)}, ${two(when.getUTCHours())}:${two(when.getUTCMinutes())}`;
}

// The start of a day in UTC as milliseconds, from "2026-06-15". Throws Bad.
export function dayOf(text) {
  if (typeof text !== "string" || !/^\d{4}-\d\d-\d\d$/.test(text)) throw new Bad("it names no days");
  return timeOf(`${text}T00:00:00Z`);
}

// A function that tells how far the clocks of a place are ahead of UTC at an instant; null where this browser does not
// know the place.
function offsetIn(zone) {
  if (!/^[A-Za-z]/.test(zone)) return null;
  let clock;
  try {
    clock = new Intl.DateTimeFormat("en-u-ca-iso8601-nu-latn", {
      timeZone: zone, hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric",
      hour: "numeric", minute: "numeric", second: "numeric",
    });
  } catch {
    return null;
  }
  return (at) => {
    const part = Object.fromEntries(clock.formatToParts(at).map(({ type, value }) => [type, Number(value)]));
    const shown = new Date(0);
    shown.setUTCFullYear(part.year, part.month - 1, part.day);
    shown.setUTCHours(part.hour, part.minute, part.second);
    return shown.getTime() - at;
  };
}

// The instant at which a day begins on the clocks of a place, the first where there are two; the instant of the change
// where midnight is left out. Null where the place is not known.
export function midnight(day, zone) {
  const offset = offsetIn(zone);
  if (!offset) return null;
  const [before, after] = [offset(day - DAY), offset(day + DAY)];
  for (const one of [before, after]) if (offset(day - one) === one) return day - one;
  return day - before;
}
