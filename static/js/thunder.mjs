// The thunder clock: a tap at the flash, a tap at the thunder. It says how far that was and when the wait after the last
// thunder is over, and goes on when the page is loaded again. It counts on this phone alone; only a hold counts for all.

import { offset } from "./clock.mjs";
import { held } from "./held.mjs";
import { sent } from "./sent.mjs";
import { fill } from "./when.mjs";

const KEPT = "lineworthy-thunder:";
const HOLD_AT = 30; // s from flash to thunder: R-501
const KM_PER_MILE = 1.609344;
const MINUTE = 60000;
const SECOND = 1000;

// Metres in a second through air of so many degrees Celsius; common physics, from memory.
export const soundSpeed = (celsius) => 331.3 + 0.606 * celsius;

export const distanceKm = (seconds, celsius) => (seconds * soundSpeed(celsius)) / 1000;

// What was typed as a temperature, in degrees Celsius; 20 where it is none that air has.
export function celsiusOf(text, isFahrenheit) {
  const number = text.trim() ? Number(text.trim().replace(",", ".").replace("−", "-")) : NaN;
  const celsius = isFahrenheit ? ((number - 32) * 5) / 9 : number;
  return celsius >= -40 && celsius <= 50 ? celsius : 20;
}

// By the server's clock as far as this phone knows it, since a hold that stands is by that.
let ahead = 0;
const time = () => Date.now() + ahead;

// The moment of a tap is the browser's own for the touch, not that of the script getting round to it.
const momentOf = (event) => time() - Math.max(0, performance.now() - event.timeStamp);

function kept(course) {
  try {
    return JSON.parse(localStorage.getItem(KEPT + course) ?? "{}");
  } catch {
    return {};
  }
}

const keep = (course, state) => localStorage.setItem(KEPT + course, JSON.stringify(state));

function clock(at) {
  const timeZone = document.documentElement.dataset.zone;
  return new Date(at).toLocaleTimeString("en-GB", { timeStyle: "short", timeZone });
}

// --- what is left of the wait, on every page that shows it

// Holds for thunder that this phone has called since its page came, whether they have arrived or not.
async function calledHere(course) {
  const deeds = [...(await held().catch(() => [])), ...(await sent().catch(() => []))].filter((one) => one.kind === "hold");
  const thunder = deeds.filter(({ act }) => act && JSON.parse(act).cause === "thunder" && JSON.parse(act).course === course);
  return Math.max(0, ...thunder.map(({ made_at, signed }) => Date.parse(made_at) + 1000 * (parseInt(signed?._clock, 10) || 0)));
}

function sayLeft(box) {
  const { course, minutes, since, wordsLeft, wordsOver } = box.dataset;
  const wait = Number(minutes) * MINUTE;
  let called = 0;
  const tell = () => {
    const heard = Math.max(kept(course).heard ?? 0, Date.parse(since || "") || 0, called);
    const left = heard + wait - time();
    // What is long past says nothing about today.
    box.hidden = !heard || left < -wait;
    if (box.hidden) return;
    const values = { minutes, heard: clock(heard), over: clock(heard + wait), left: Math.ceil(left / MINUTE) };
    const sentence = fill(left > 0 ? wordsLeft : wordsOver, values);
    const place = box.querySelector("[data-thunder-left-said]");
    if (place.textContent !== sentence) place.textContent = sentence;
  };
  tell();
  calledHere(course).then((at) => ((called = at), tell()));
  setInterval(tell, SECOND);
  document.addEventListener("thunder", tell);
  window.addEventListener("storage", tell);
}

// --- the clock itself

function start(box) {
  const part = (name) => box.querySelector(`[data-thunder-${name}]`);
  const [shown, tap, heard, none, said, air] = ["time", "tap", "heard", "none", "said", "air"].map(part);
  const { course, unit, wordsFlash, wordsThunder, wordsNear, wordsFar, wordsUnseen } = box.dataset;
  let state = kept(course);

  const change = (next) => {
    state = { ...state, ...next };
    keep(course, state);
    draw();
    document.dispatchEvent(new Event("thunder"));
  };

  const far = (seconds) => {
    const km = distanceKm(seconds, celsiusOf(air.value, unit === "mi"));
    return (unit === "mi" ? km / KM_PER_MILE : km).toFixed(1);
  };

  function draw() {
    tap.textContent = state.flash ? wordsThunder : wordsFlash;
    none.hidden = !state.flash;
    const { seconds } = state;
    if (state.flash) said.textContent = "";
    else if (seconds === null) said.textContent = wordsUnseen;
    else if (seconds !== undefined)
      said.textContent = fill(seconds <= HOLD_AT ? wordsNear : wordsFar, { seconds: seconds.toFixed(1), far: far(seconds) });
    if (!state.flash) shown.textContent = `${(seconds ?? 0).toFixed(1)} s`;
    else run();
  }

  function run() {
    if (!state.flash) return;
    shown.textContent = `${Math.max(0, (time() - state.flash) / SECOND).toFixed(1)} s`;
    requestAnimationFrame(run);
  }

  const press = (event) => {
    const at = momentOf(event);
    if (!state.flash) change({ flash: at, seconds: undefined });
    else change({ flash: 0, heard: at, seconds: Math.max(0, at - state.flash) / SECOND });
    if (!state.flash) said.scrollIntoView({ block: "center", behavior: "instant" }); // above the bar, before anything else
  };
  tap.addEventListener("pointerdown", (event) => event.isPrimary && press(event));
  tap.addEventListener("keydown", (event) => {
    if ((event.key === "Enter" || event.key === " ") && !event.repeat) {
      event.preventDefault();
      press(event);
    }
  });
  heard.addEventListener("click", (event) => change({ flash: 0, heard: momentOf(event), seconds: null }));
  none.addEventListener("click", () => change({ flash: 0 }));
  air.addEventListener("input", draw);
  // The cause and the whole course are chosen by this tap alone, and nothing is sent by it: who holds the course presses the button below.
  part("hold").addEventListener("click", (event) => {
    const cause = document.querySelector('#hold [name=cause][value="thunder"]');
    if (!cause) return;
    event.preventDefault();
    cause.checked = true;
    cause.dispatchEvent(new Event("change", { bubbles: true }));
    const line = document.querySelector("#hold [name=line]");
    if (line?.querySelector('[value="all"]')) {
      line.value = "all";
      line.dispatchEvent(new Event("change", { bubbles: true }));
    }
    document.querySelector('[type=submit][form="hold"]')?.focus();
  });
  part("box").hidden = false;
  if (state.flash || (state.heard && time() - state.heard < Number(box.dataset.minutes) * MINUTE)) box.open = true;
  else if (state.seconds !== undefined) state = { heard: state.heard };
  draw();
}

async function begin() {
  ahead = ((await offset())?.offset_s ?? 0) * SECOND;
  for (const box of document.querySelectorAll("[data-thunder]")) start(box);
  for (const box of document.querySelectorAll("[data-thunder-left]")) sayLeft(box);
}

if (globalThis.document) begin();
