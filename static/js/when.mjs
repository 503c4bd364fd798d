// Times as the course's clocks show them, and whether something is of the course's day of now.

const root = globalThis.document?.documentElement;
const language = () => root?.lang || "en";
const zone = () => root?.dataset.zone || undefined;

export const fill = (sentence, values) => sentence.replace(/%\((\w+)\)s/g, (whole, name) => values[name] ?? whole);

const clock = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
export const time = (at) => at.toLocaleTimeString(language(), { ...clock, timeZone: zone() });
export const weekday = (at) => at.toLocaleDateString(language(), { weekday: "long", timeZone: zone() });

// The day of a course may begin after midnight.
function dayOf(at) {
  const begins = Number(root?.dataset.dayStarts ?? 0) * 3600000;
  return new Date(at - begins).toLocaleDateString("en-CA", { timeZone: zone() });
}

// Both times by this phone's clock: where it is wrong, it is wrong for both.
export const isOfToday = (at, now = new Date()) => dayOf(at) === dayOf(now);
