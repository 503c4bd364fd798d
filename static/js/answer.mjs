// What an answer says of an item: drawn beside it, asked back, taken away when the item is answered anew.

import { isUnderFinger } from "./still.mjs";
import { fill } from "./when.mjs";

const make = (tag, className, text = "") => Object.assign(document.createElement(tag), { className, textContent: text });

function markOf(verdict, word) {
  const mark = make("span", `mark is-${verdict}`);
  const shape = document.querySelector("svg.shape").cloneNode(true);
  const use = shape.querySelector("use");
  shape.setAttribute("class", "shape");
  use.setAttribute("href", use.getAttribute("href").replace(/#.*/, `#${verdict}`));
  mark.append(shape, " ", make("span", "", word));
  return mark;
}

function drawAsk(item, ask, words, keep) {
  const field = item.querySelector(".item__blank input");
  const box = make("div", "ask");
  box.dataset.ask = "";
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", words.wordsAsk);
  const buttons = make("div", "buttons");
  // A figure is mostly a slip: typing it again comes first. What was seen is mostly meant: neither is put forward.
  const [forYes, forAgain] = ask.said ? ["button button--danger", "button"] : ["button", "button button--primary"];
  const yes = Object.assign(make("button", forYes, ask.keep_word ?? words.wordsKeep), { type: "button" });
  const again = Object.assign(make("button", forAgain, ask.change_word ?? words.wordsRetype), { type: "button" });
  yes.addEventListener("click", () => keep(ask.keep, ask.value));
  again.addEventListener("click", () => (field ? field.select() : item.querySelector("input[type=radio]")?.focus()));
  const figures = Array.from(item.querySelectorAll(".item__blank input"), (input) => input.value).filter(Boolean);
  const figure = make("p", "ask__figure", ask.said ?? figures.join(" / "));
  if (!ask.said) figure.append(make("span", "figure__unit", item.querySelector(".item__unit")?.textContent ?? ""));
  buttons.append(yes, again);
  const sentence = make("p", "", ask.sentence);
  sentence.setAttribute("role", "alert");
  box.append(figure, sentence, buttons);
  item.querySelector("[data-answer]").after(box);
}

// While a figure that was asked back is typed anew, what stands below keeps its place: it would slip away from the finger
// that goes there next. The room is given back with the next answer.
export function putOut(item) {
  const box = item.querySelector("[data-ask]");
  if (!box) return;
  box.classList.add("is-over");
  box.inert = true;
  delete box.dataset.ask;
}
const giveBack = (item) => item.querySelector(".ask.is-over")?.remove();

// Of what was asked back one question stands: the server's takes the place of this phone's. A key that was about to be
// pressed is found in the same place of the new one.
function takeAway(item) {
  const box = item.querySelector("[data-ask]");
  const focused = box ? Array.from(box.querySelectorAll("button, a")).indexOf(document.activeElement) : -1;
  box?.remove();
  return focused;
}

// An answer to an earlier content must not stand beside a new one.
export function blank(item, sentence = "") {
  takeAway(item);
  if (isUnderFinger(item)) giveBack(item); // nobody is below it yet
  item.querySelector("[data-answer]")?.replaceChildren(...(sentence ? [make("p", "item__unsent", sentence)] : []));
}

export function draw(item, answer, words, keep) {
  const place = item.querySelector("[data-answer]");
  if (!place) return;
  // Measured before anything is taken away: the page must not be laid out without it.
  const room = answer.by ? 0 : item.querySelector("[data-ask] [role=alert]")?.offsetHeight;
  keepRoom(place, Boolean(answer.by));
  const focused = takeAway(item);
  giveBack(item);
  const lines = [];
  if (answer.verdict) {
    const line = make("p", answer.verdict === "ok" ? "item__said--ok" : "");
    line.append(markOf(answer.verdict, answer.word), " ", answer.sentence ?? "");
    if (answer.clause) line.append(" ", make("span", "clause", answer.clause));
    lines.push(line);
  }
  const last = [answer.last && fill(words.wordsLast, { last: answer.last })];
  if (answer.difference) last.push(fill(words.wordsDifference, { difference: answer.difference }));
  if (answer.last) lines.push(make("p", "item__last", last.join(" ")));
  if (answer.choices?.length) lines.push(choicesOf(item, answer.choices));
  if (answer.need) lines.push(make("p", "item__need", answer.need));
  if (answer.hold) lines.push(make("p", "item__need", answer.hold));
  if (answer.other) lines.push(make("p", "item__need", answer.other));
  if (answer.by) lines.push(make("p", "item__last", answer.by));
  place.replaceChildren(...lines);
  if (answer.out !== undefined) sayOut(item, answer.out);
  // What is wanted is mostly a word of why: its field stands open.
  if (answer.need) item.querySelector(".item__note")?.setAttribute("open", "");
  if (answer.photos) drawPhotos(item, answer.photos, words);
  const limit = item.querySelector("[data-limit]");
  if (limit && answer.limit) limit.textContent = fill(words.wordsLimit, { limit: answer.limit });
  if (answer.ask) drawAsk(item, answer.ask, words, keep);
  if (answer.ask && room) item.querySelector("[data-ask] [role=alert]").style.minHeight = `${room}px`;
  if (focused >= 0) focusAgain(item, focused);
}

const focusAgain = (item, at) =>
  (item.querySelectorAll("[data-ask] button")[at] ?? item.querySelector(".item__blank input, input[type=radio]:checked"))
    ?.focus({ preventScroll: true });

// The server's answer says a line less than this phone's in whose place it comes: what is asked below stays where it is.
function keepRoom(place, isHere) {
  place.style.minHeight = !isHere && "here" in place.dataset ? `${place.offsetHeight}px` : "";
  if (isHere) place.dataset.here = "";
  else delete place.dataset.here;
}

// What is out of service stays so, whatever is answered of it now. This phone's own answer does not know of it.
function sayOut(item, sentence) {
  const place = item.querySelector("[data-out]");
  if (place) Object.assign(place, { textContent: sentence, hidden: !sentence });
}

// What an unclear figure can have meant, a button each.
function choicesOf(item, choices) {
  const unit = item.querySelector(".item__unit")?.textContent ?? "";
  const buttons = make("div", "buttons");
  for (const choice of choices) {
    const button = Object.assign(make("button", "button", `${choice} ${unit}`.trim()), { type: "button" });
    button.dataset.choose = choice;
    buttons.append(button);
  }
  return buttons;
}

export function drawPhotos(item, photos, words) {
  item.querySelector("[data-photos]")?.replaceChildren(
    ...photos.map((address) => {
      const link = Object.assign(make("a", ""), { href: address });
      link.append(Object.assign(document.createElement("img"), { src: address, alt: words.wordsPhoto ?? "" }));
      const place = make("li", "");
      place.append(link);
      return place;
    }),
  );
  const name = item.querySelector("[data-photo]");
  if (name && photos.length) name.textContent = "";
}

// What is asked back must be seen: the browser keeps clear of the bar (scroll-padding). Who is at another item already
// is not pulled away; the bar says that something is asked.
export function showAsked(item) {
  const elsewhere = document.activeElement?.closest("[data-item]");
  const asked = item.querySelector("[data-ask], [data-choose]:last-of-type");
  if (asked && (!elsewhere || elsewhere === item)) asked.scrollIntoView({ block: "nearest", behavior: "instant" });
}

export function drawProgress({ done, of }) {
  for (const place of document.querySelectorAll("[data-progress]")) {
    place.querySelector("[data-done]").textContent = done;
    place.querySelector("[data-of]").textContent = of;
    Object.assign(place.querySelector("progress"), { max: of, value: done });
  }
}
