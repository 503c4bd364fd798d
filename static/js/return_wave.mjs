// What the times of the return wave say without a signal: the sag, as engineering.return_wave.stopwatch_sag. The tension
// needs the line's mechanics, and waits for the server.

import { fill } from "./judge/text.mjs";
import { Unclear, readFigure } from "./judge/typed.mjs";
import { inBoth } from "./judge/measures.mjs";

const mean = (values) => values.reduce((sum, one) => sum + one, 0) / values.length;

// Of times in s of the same number of returns: {sag, half, time, apart} in m and s, or {why, ...} for what tells nothing.
// `known`: span in m or null, and the figures of engineering.return_wave.
export function sagOf(times, returns, { span, gravity, hand, widest, lost, student, shares, most, range }) {
  if (!(returns >= 1) || returns % 1 || returns > most) return { why: "returns" };
  if (!times.length) return { why: "time-missing" };
  const odd = times.find((one) => !(one >= range[0] && one <= range[1]));
  if (odd !== undefined) return { why: "time-impossible", value: odd };
  const time = mean(times);
  const apart = Math.max(...times) - Math.min(...times);
  if (apart > time / returns / 2) return { why: "times-differ", value: apart };
  if ((2 * hand) / time > widest) return { why: "time-short", returns: Math.ceil((returns * 2 * hand) / (widest * time)) };
  const spread = Math.sqrt(times.reduce((sum, one) => sum + (one - time) ** 2, 0) / (times.length - 1));
  const scatter = times.length < 2 ? 0 : (student[times.length - 2] * spread) / Math.sqrt(times.length);
  const half = Math.hypot(hand, scatter);
  if ((2 * half) / time > lost) return { why: "times-scatter", value: apart };
  const sag = (gravity * (time / returns) ** 2) / 32;
  const [low, high] = shares;
  if (span !== null && sag > high * span) return { why: "wave-slow", value: (100 * sag) / span, limit: 100 * high };
  if (span !== null && sag < low * span) return { why: "wave-fast", value: (100 * sag) / span, limit: 100 * low };
  return { sag, half: ((2 * half) / time) * sag, time, apart: apart > 2 * hand ? apart : 0 };
}

function timesOf(form) {
  const found = [];
  for (const { value } of form.querySelectorAll("[name=time]")) {
    if (!value.trim()) continue;
    const { above, below } = readFigure(value, "s").value;
    found.push(Number(above) / Number(below));
  }
  return found;
}

// What is said, and whether it is a figure that a sheet may take.
function told(form, { known, words, units }) {
  let found;
  try {
    found = sagOf(timesOf(form), Number(form.elements.returns.value.trim() || NaN), known);
  } catch (question) {
    if (!(question instanceof Unclear)) throw question;
    return { lines: [`${question.sentence} ${question.suggestion ?? ""}`.trim()] };
  }
  const plain = (value) => String(Number(value.toFixed(2)));
  if (found.why)
    return { lines: [fill(words[found.why], { ...found, value: plain(found.value ?? 0), limit: plain(found.limit ?? 0) })] };
  const both = (value, toward) => inBoth(value.toFixed(2), "m", units, toward);
  const sag = fill(words.sag, { sag: both(found.sag), half: both(found.half, "up"), time: found.time.toFixed(2) });
  const apart = found.apart ? fill(words.apart, { apart: plain(found.apart) }) : "";
  return { lines: [sag, apart, words.tension].filter(Boolean), isFigure: true };
}

function start(form, place) {
  const page = JSON.parse(document.getElementById("sag").textContent);
  form.addEventListener("submit", (event) => {
    if (document.documentElement.dataset.kept === undefined && navigator.onLine !== false) return;
    event.preventDefault(); // the server cannot be asked, and the times must not be lost by asking
    const { lines, isFigure } = told(form, page);
    const drawn = lines.map((text) => Object.assign(document.createElement("p"), { textContent: text }));
    place.querySelector("[data-sag-said]").replaceChildren(...drawn);
    for (const link of place.querySelectorAll("[data-sag-enter]")) link.hidden = !isFigure;
    place.hidden = false;
    place.scrollIntoView({ block: "nearest", behavior: "instant" });
  });
}

const form = globalThis.document?.querySelector("form[data-stopwatch]");
if (form) start(form, document.querySelector("[data-sag]"));
