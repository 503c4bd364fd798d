// What has to be said or asked before a page goes on: over the page, in its own words, with keys that a glove finds. The
// browser's own windows are none of this, name their keys otherwise, and can be switched off: then they answer "no" in
// silence, and nothing could be signed any more. Nothing is asked under a finger that is still on the glass, nor over a
// page that is locked; a lock that comes closes what is open, as "Back" does.

import { atRest, deafToTheSecond } from "./still.mjs";

const TICK = 250; // ms
const root = globalThis.document?.documentElement;
const template = globalThis.document?.querySelector("[data-say]");

const make = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });

// A part is a sentence, or {head, lines}.
function drawn(part) {
  if (typeof part === "string") return [make("p", part)];
  const list = make("ul", "");
  list.append(...part.lines.map((line) => make("li", line)));
  return [make("p", part.head), list].filter((one) => one.textContent);
}

async function inSight() {
  await atRest();
  while ("locked" in root.dataset) await new Promise((done) => setTimeout(done, TICK));
}

// Answers with what was typed, or "" where nothing is, once it is agreed to; else null.
async function opened(parts, { yes, isGrave, types }) {
  await inSight();
  const box = template.content.firstElementChild.cloneNode(true);
  const part = (name) => box.querySelector(`[data-say-${name}]`);
  part("text").append(...parts.flatMap(drawn));
  const input = part("typed");
  input.hidden = !types;
  part("yes").hidden = !yes;
  part("yes").textContent = yes;
  part("yes").classList.toggle("button--danger", Boolean(isGrave));
  part("yes").classList.toggle("button--primary", !isGrave);
  document.body.append(box);
  box.showModal();
  deafToTheSecond(box);
  (types ? input : part("text")).focus();
  return new Promise((done) => {
    let answer = null;
    const agree = () => ((answer = types ? input.value : ""), box.close());
    part("yes").addEventListener("click", agree);
    part("back").addEventListener("click", () => box.close());
    input.addEventListener("keydown", (event) => {
      if (event.key !== "Enter") return;
      event.preventDefault();
      agree();
    });
    box.addEventListener("close", () => (box.remove(), done(answer)));
  });
}

// One after the other.
let last = Promise.resolve();
const inTurn = (...what) => (last = last.catch(() => {}).then(() => opened(...what)));

export const tell = async (...parts) => void (await inTurn(parts, {}));

// Whether it is agreed to. `yes`: the word on its key; `isGrave`: something is lost by it, or goes out of service.
export const ask = async (parts, yes, isGrave = false) => (await inTurn([parts].flat(), { yes, isGrave })) !== null;

// The figure that is typed, or null.
export const askFigure = (sentence, yes) => inTurn([sentence], { yes, types: true });

export const closeAll = () => document.querySelectorAll("dialog.say[open]").forEach((box) => box.close());
