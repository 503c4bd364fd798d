// What is signed on this phone, said where it matters: on the rows of the lines that it would hold, on the walk, at a test
// ride. While it is not sent others cannot know of it; the phone that it lies on must not speak as if it did not either,
// nor, once it was received, a page that is older than that.

import { begunPages, outHere } from "./drafts.mjs";
import { named } from "./hello.mjs";
import { held } from "./held.mjs";
import { CHANNEL } from "./sending.mjs";
import { sent } from "./sent.mjs";
import { takeMissing } from "./taking.mjs";
import { fill, time } from "./when.mjs";

const HOLDS = ["hold", "hold-renewed"];
const OUT = "finding-opened";
const SIGNED = ["sheet", "amendment", "ride"];

const words = document.querySelector("[data-mine]")?.dataset;
const ways = JSON.parse(document.getElementById("ways")?.textContent ?? "null");
const all = (what) => document.querySelectorAll(what);

// --- what a deed is about

const takesOut = ({ kind, out }) => kind === OUT || out;

// As inspections.riding.barred: what was found by hand bars no ballast unless it is critical.
const bars = (told) => takesOut(told) && [undefined, "critical"].includes(told.severity) && !told.is_watch;

// As inspections.phones.holding: where it is not known which place it is about, every line is meant.
function holds(told, line) {
  const { kind, place, part } = told;
  const isHold = HOLDS.includes(kind);
  if (!isHold && !takesOut(told) && !told.unknown) return false;
  if (!place) return true;
  if (ways.gear.includes(place)) return isHold || (kind === OUT && !part);
  const isOfLines = Object.values(ways.lines).some(([, places]) => places.includes(place));
  return !isOfLines || ways.lines[line][1].includes(place);
}

const pathOf = (link) => new URL(link.href).pathname;
const pageOf = (row) => row.dataset.page ?? pathOf(row.querySelector("a") ?? location);
const isEmergency = ({ act }) => JSON.parse(act).fields?.kind === "emergency";

// What is signed of a page, as far as it does what its row asks for: its deeds, by the page's path.
function signedOf(deeds) {
  const found = new Map();
  const ref = document.documentElement.dataset.person;
  for (const one of deeds) {
    if (one.ref !== ref || one.refused || !SIGNED.includes(one.kind) || isEmergency(one)) continue;
    found.set(one.page, [...(found.get(one.page) ?? []), one]);
  }
  return found;
}

// --- drawing: all of it can be taken back, since it goes when it has been sent

let undo = [];

function put(after, ...nodes) {
  after.after(...nodes);
  undo.push(() => nodes.forEach((one) => one.remove()));
}

function hide(one) {
  if (one.hidden) return;
  one.hidden = true;
  undo.push(() => (one.hidden = false));
}

function show(one) {
  one.hidden = false;
  undo.push(() => (one.hidden = true));
}

function say(one, ...what) {
  const before = [...one.childNodes];
  one.replaceChildren(...what);
  undo.push(() => one.replaceChildren(...before));
}

const make = (tag, className, text) => Object.assign(document.createElement(tag), { className, textContent: text });

function markOf(state, word) {
  const mark = make("span", `mark is-${state} is-mine`, "");
  const shape = document.querySelector("svg.shape").cloneNode(true);
  const use = shape.querySelector("use");
  shape.setAttribute("class", state === "held" ? "shape shape--wide" : "shape");
  use.setAttribute("href", use.getAttribute("href").replace(/#.*/, `#${state}`));
  mark.append(shape, " ", make("span", "", word));
  return mark;
}

function insteadOf(mark, own) {
  hide(mark);
  put(mark, own);
}

// When it was signed, by the server's clock as far as this phone knows it.
const signedAt = ({ made_at, signed }) => time(new Date(Date.parse(made_at) + 1000 * (parseInt(signed?._clock, 10) || 0)));
const isSent = ({ at }) => at !== undefined;
const timeOf = (told) => (isSent(told) ? time(new Date(told.at)) : signedAt(told));
const whatOf = (told) => {
  const what = told.isMarked ? words.wordsWhatMarked : isSent(told) ? words.wordsWhatSent : words.wordsWhat;
  return fill(what, { title: told.title, time: timeOf(told) });
};
const heldBy = (deeds) => (deeds.every(isSent) ? words.wordsHeldSent : words.wordsHeld);

// At what is asked of a part on a sheet: that it is out of service by what waits here, or was received since.
function drawParts(deeds) {
  for (const told of deeds)
    if (told.part && told.kind === OUT && !told.isMarked)
      for (const out of all(`[data-out][data-part="${CSS.escape(told.part)}"]`)) put(out, make("p", "item__need", whatOf(told)));
}

// The status of a line, on the board and on its own page.
function drawLine(row, deeds) {
  const mark = row.querySelector(".board__name > .mark, .head__mark > .mark");
  if (!mark) return;
  insteadOf(mark, markOf("held", heldBy(deeds)));
  const lines = deeds.map((one) => make("p", "toned is-held", whatOf(one)));
  put(row.querySelector("[data-mine-why]"), ...lines);
}

// What is half filled in on this phone, where the page does not say it already.
function drawBegun(rows, begun) {
  for (const row of rows) {
    if ("begun" in row.dataset || !begun.has(pageOf(row))) continue;
    const said = make("b", "", words.wordsBegun);
    row.querySelector(".rows__more").append(said);
    undo.push(() => said.remove());
  }
}

function drawWalk(signed, begun) {
  const rows = [...all("li[data-row]")];
  drawBegun(rows, begun);
  const signedIn = (row) => signed.get(pageOf(row)) ?? [];
  const isSigned = (row) => signedIn(row).length >= Number(row.dataset.row);
  const left = rows.filter((row) => "open" in row.dataset && !isSigned(row));
  for (const row of rows) {
    const deeds = signedIn(row);
    if (!deeds.length) continue;
    const newest = deeds.at(-1);
    const word = fill(isSent(newest) ? words.wordsSignedSent : words.wordsSigned, { time: timeOf(newest) });
    const isOut = deeds.some((one) => named(one).out);
    insteadOf(row.querySelector(".mark"), isOut ? markOf("withdraw", word) : make("span", "mark is-mine", word));
  }
  const place = document.querySelector("[data-left]");
  if (!place || left.length === rows.filter((row) => "open" in row.dataset).length) return;
  say(place, left.length ? fill(words.wordsLeft, { count: left.length }) : words.wordsNothing);
  for (const link of all("[data-left] + .reasons a")) {
    const row = rows.find((one) => "open" in one.dataset && one.querySelector("a")?.href === link.href);
    if (row && isSigned(row)) hide(link.closest("li"));
  }
  const go = document.querySelector("[data-next]");
  const [next] = left;
  if (!go) return;
  if (!next) return hide(go);
  const title = next.querySelector(".rows__title").textContent;
  say(go.querySelector("span"), fill("ride" in next.dataset ? go.dataset.nextRide : go.dataset.next, { title }));
  const before = go.href;
  go.href = next.querySelector("a").href;
  undo.push(() => (go.href = before));
}

// At a test ride: what is signed here goes before it, and what is out of service here bars it.
function drawRide(line, signed, deeds) {
  const out = document.querySelector("[data-mine-out]");
  if (!out) return;
  if (deeds.some(bars)) show(out);
  const called = deeds.filter(({ kind }) => HOLDS.includes(kind));
  const [place] = all("[data-mine-hold]");
  if (called.length) {
    show(place);
    say(place.querySelector(".notice__title"), heldBy(called));
    say(place.querySelector("[data-mine-what]"), called.map(whatOf).join(" "));
  }
  if (signed.has(location.pathname)) all("[data-mine-lead]").forEach(hide); // what was to be sent is signed here
  const early = document.querySelector("[data-early]");
  const links = [...(early?.querySelectorAll("a") ?? [])];
  const here = links.filter((link) => signed.has(pathOf(link)));
  for (const link of here) hide(link.closest("li"));
  if (!here.length || here.length < links.length) return;
  say(early.querySelector(".notice__title"), words.wordsBefore);
  for (const one of early.querySelectorAll("p:not(.notice__title), ul")) hide(one);
}

// What a sheet that is not signed takes out of service, and nobody else knows.
const markedAs = ({ path, at, title, out }) => ({
  kind: OUT, place: path.match(/\/(?:sheet|rack)\/([0-9a-f-]{36})\//)?.[1], part: out.part, isMarked: true,
  title: `${title}: ${out.text}`, made_at: new Date(at).toISOString(),
});

// What the page does not know of: what is held here, and what was received since it is as it is.
const keptAt = Date.parse(document.documentElement.dataset.keptHere ?? "");
let known = null; // of a page that the server gave: what was received when it came

async function unknownHere() {
  const [waiting, received] = await Promise.all([held().catch(() => []), sent().catch(() => [])]);
  known ??= new Set(received.map((one) => one.id));
  const isNew = (one) => (keptAt ? one.at >= keptAt : !known.has(one.id));
  return [...received.filter((one) => one.act && isNew(one)), ...waiting];
}

const none = new Set();
async function draw() {
  const ref = document.documentElement.dataset.person;
  const [deeds, begun] = await Promise.all([unknownHere(), ways && ref ? begunPages(ref, ways.day).catch(() => none) : none]);
  const marked = ways && ref ? await outHere(ref).catch(() => []) : [];
  for (const back of undo.reverse()) back();
  undo = [];
  const told = deeds.map((one) => ({ ...JSON.parse(one.act), ...named(one), title: one.title, signed: one.signed, at: one.at }));
  told.push(...marked.map(markedAs));
  drawParts(told);
  if (!ways || !(told.length || begun.size)) return;
  const signed = signedOf(deeds);
  const [list] = all("[data-mine-lines]");
  const lines = { here: [], sent: [] };
  for (const line of Object.keys(ways.lines)) {
    const those = told.filter((one) => holds(one, line));
    if (those.length) lines[those.every(isSent) ? "sent" : "here"].push(ways.lines[line][0]);
    for (const row of all(`[data-line="${line}"]`)) {
      if (those.length) drawLine(row, those);
      drawRide(line, signed, those);
    }
  }
  const marks = [[lines.here, words.wordsLines], [lines.sent, words.wordsLinesSent]]
    .filter(([names]) => names.length)
    .map(([names, word]) => markOf("held", fill(word, { lines: names.join(", ") })));
  if (list && marks.length) {
    show(list);
    say(list, ...marks);
  }
  drawWalk(signed, begun);
}

// --- when

const received = new Set(); // pages whose deeds were received since the last sending was over

function heard({ data }) {
  draw();
  if (data.what === "received") received.add(data.page);
  if (data.what !== "done") return;
  const courses = new Set([...received].map((page) => page.match(/^\/course\/[^/]+\//)?.[0]).filter(Boolean));
  received.clear();
  for (const course of courses) takeMissing(`${course}phone/`).catch(() => {});
}

if (words && globalThis.indexedDB) {
  draw();
  new BroadcastChannel(CHANNEL).onmessage = heard;
  document.addEventListener("refreshed", () => {
    known = null;
    draw();
  });
  window.addEventListener("pageshow", ({ persisted }) => persisted && draw());
}
