// Calendar days as ordinals, day 1 being the first of January of the year 1, as the server counts them.

const DAY = 86400000;
const OF_1970 = 719163; // the ordinal of the first of January 1970
const ISO_DAY = /^([0-9]{4})-([0-9]{2})-([0-9]{2})$/;

// The ordinal of a day; null where there is no such day in the years 1 to 9999.
export function ordinal(year, month, day) {
  if (year < 1 || year > 9999) return null;
  const at = new Date(0);
  at.setUTCFullYear(year, month - 1, day);
  return at.getUTCMonth() === month - 1 && at.getUTCDate() === day ? at.getTime() / DAY + OF_1970 : null;
}

// The ordinal of an ISO date; null for anything else.
export function ordinalOf(text) {
  const [found, ...parts] = text.match(ISO_DAY) ?? [];
  return found ? ordinal(...parts.map(Number)) : null;
}

export const isoOf = (day) => new Date((day - OF_1970) * DAY).toISOString().slice(0, 10);

// So many days later; null beyond the calendar.
export function daysLater(start, days) {
  const found = start + days;
  return found >= 1 && found <= 3652059 ? found : null;
}

// The same day some months later, or the month's last day where it has no such day; null beyond the calendar.
export function monthsLater(start, months) {
  const at = new Date((start - OF_1970) * DAY);
  const all = at.getUTCFullYear() * 12 + at.getUTCMonth() + months;
  const [year, month] = [Math.floor(all / 12), (all % 12 + 12) % 12 + 1];
  for (let day = at.getUTCDate(); day > at.getUTCDate() - 4; day -= 1) {
    const found = ordinal(year, month, day);
    if (found !== null) return found;
  }
  return null;
}
