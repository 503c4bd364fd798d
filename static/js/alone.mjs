// A deed signed without a signal: said on the page what that means, signed, and held until it can be sent.

import { OWN_UNIT, answerOf, spotOf, strip } from "./act.mjs";
import { encoded, sha256 } from "./bytes.mjs";
import { asText, offset } from "./clock.mjs";
import { forgetRefused, held, hold, kept, saidIn } from "./held.mjs";
import { holds, lockAgain, send, show } from "./outbox.mjs";
import { ask, askFigure, tell } from "./say.mjs";
import { deafToTheSecond } from "./still.mjs";
import { again, defects, firstWanting, holding, wanting } from "./wanting.mjs";
import { fill as said } from "./when.mjs";

const label = (control) => (control?.textContent ?? "").replace(/\s+/g, " ").trim();

// What was typed, in a person's words, for who looks at what is held.
function answersOf(pattern, form, fields) {
  const found = [];
  for (const item of pattern.items) {
    const answer = answerOf(fields, item);
    const box = form.querySelector(`[data-item="${CSS.escape(item.key)}"]`);
    const mark = box?.querySelector("input[type=radio]:checked ~ .switch__word, .item__cannot:has(:checked) span");
    const unit = OWN_UNIT.test(answer.text) ? "" : label(box?.querySelector(".item__unit"));
    const said = [answer.text && `${answer.text} ${unit}`.trim(), answer.mark && label(mark), answer.note];
    if (said.some(Boolean)) found.push([item.text, said.filter(Boolean).join(". ")]);
  }
  return found;
}

function fieldsOf(form) {
  const found = [];
  for (const one of form.elements) {
    if (!one.name || !one.value || ["hidden", "file", "submit", "button"].includes(one.type)) continue;
    const isChoice = ["radio", "checkbox"].includes(one.type);
    if (isChoice && !one.checked) continue;
    const item = one.closest("[data-item]")?.querySelector(".item__question > span")?.firstChild;
    const question = label(item ? item : isChoice ? one.closest("fieldset")?.querySelector("legend") : one.labels?.[0]);
    found.push([question, isChoice ? label(one.labels?.[0]) : one.selectedOptions ? label(one.selectedOptions[0]) : one.value]);
  }
  return found;
}

// Of a hold, its line or the whole course, and its cause, in words: most of them are called by one tap, with no field.
function holdOf({ wide, places, causes, words }, fields) {
  const cause = fields.get("cause");
  const place = (!wide.includes(cause) && places[fields.get("line")]) || words.whole;
  return { place, cause: causes[cause] ?? "", text: strip(fields.get("text") ?? "") };
}

const heldOf = (pattern, fields) => {
  const { place, cause, text } = holdOf(pattern, fields);
  return [[pattern.words.line, place], [pattern.words.why, cause], [pattern.words.note, text]].filter(([, said]) => said);
};

const TYPED = { sheet: answersOf, hold: (pattern, form, fields) => heldOf(pattern, fields) };
const typedOf = (pattern, form, fields) => (TYPED[pattern.make] ?? (() => fieldsOf(form)))(pattern, form, fields);

// What it is called where it waits: with the line, or the part, that it is about.
function titleOf(pattern, fields) {
  const { make, title, words, places } = pattern;
  if (make === "hold") return said(fields.get("cause") === "person" ? words.person : words.held, holdOf(pattern, fields));
  const about = { withdraw: () => spotOf(pattern, fields), finding: () => fields.get("place") }[make]?.();
  return [title, places?.[about]].filter(Boolean).join(": ");
}

// A form that can be used again is emptied, gives its next deed another identity, and waits until one is wanted; others
// are locked.
function ready(form, pattern, deed) {
  if (deed.locks) return;
  form.reset();
  form.elements.deed_id.value = crypto.randomUUID();
  form.closest("details")?.removeAttribute("open");
  const line = deed.fields.find(([name]) => name === "line");
  lockAgain(form, deed, line && { name: "line", value: line[1] });
}

// Whether it is signed on the day of its page, as far as this phone can tell; where it cannot, its person says so, and
// the record is marked. What only worsens is asked nothing: it counts from whatever page it comes.
async function ofItsDay({ since, until, fixed, words, worsens, timed }, here) {
  const now = asText(here);
  if (worsens || (now >= since && now < until)) return true;
  const { lang, dataset } = document.documentElement;
  const told = (at, options) => at.toLocaleString(lang.replace(/^en$/, "en-GB"), { dateStyle: "long", ...options });
  const clock = told(here, { timeStyle: "short", timeZone: dataset.zone });
  const page = told(new Date(`${fixed.date}T12:00:00Z`), { timeZone: "UTC" });
  // What counts at its time counts on its own day alone.
  if (!timed) return ask(said(words.day, { clock, page }), words.isDay);
  await tell(said(words.anotherDay, { clock, page }));
  return false;
}

// Of what is as urgent the one that was signed first is sent first, whatever a clock says.
const next = async () => 1 + Math.max(0, ...(await held()).map((one) => one.order));

async function deedOf(form, address, { pattern, fields, photos }, { kind, act, signed, madeAt }) {
  if (pattern.make === "sheet")
    for (const [name, hashes] of Object.entries(photos))
      for (const one of hashes) fields.append(name.replace("photo-", "had-"), one);
  return {
    id: fields.get("deed_id"), ref: pattern.signer.ref, kind, title: titleOf(pattern, fields), act, signed,
    address, page: location.pathname, locks: pattern.make === "sheet" || pattern.make === "rack", made_at: madeAt,
    order: await next(), typed: typedOf(pattern, form, fields),
    hash: await sha256(encoded(act)), fields: await kept(fields), tried: false, refused: "",
  };
}

// What goes with a signal is held too until the server says that it is there: the network may break in between, and the
// browser then shows a page of its own that knows nothing of it. Whether it arrived or not, it is sent with the next page.
export async function holdMeanwhile(form, address, own, { kind, act }, signature) {
  const { made_at: madeAt } = JSON.parse(act);
  const signed = { ...signature, _date: own.pattern.fixed.date };
  await hold({ ...(await deedOf(form, address, own, { kind, act, signed, madeAt })), tried: true });
}

// Answers "held" where it is signed and held, "left" where something is missing or was not wanted.
export async function signAlone(form, address, own, mine, sign) {
  const { pattern, fields } = own;
  const { words } = pattern;
  const device = new Date();
  const madeAt = asText(device);
  const clock = await offset();
  const here = new Date(device.getTime() + (clock?.offset_s ?? 0) * 1000);
  if (!(await ofItsDay(pattern, here))) return "left";
  const missing = wanting(pattern, fields, here.getTime());
  if (missing.length) {
    await tell({ head: words.missing, lines: missing });
    const item = firstWanting(pattern, form, fields);
    item?.querySelector(".item__note")?.setAttribute("open", "");
    item?.scrollIntoView({ block: "start", behavior: "instant" });
    return "left";
  }
  // What is marked as a defect is asked back, as the server would, before it counts; with it stands what holds a line.
  const found = defects(pattern, fields);
  const lines = holding(pattern, fields);
  const defective = found.map(({ key, text }) => lines.find((one) => one.key === key)?.said ?? text);
  const others = lines.filter(({ key }) => !found.some((one) => one.key === key)).map((one) => one.said);
  const asked = [{ head: words.defects, lines: defective }, { head: "", lines: others }].filter((part) => part.lines.length);
  if (asked.length && !(await ask(asked, found.length ? words.signOut : words.sign, Boolean(found.length)))) return "left";
  for (const item of found) fields.set(`kept-${item.key}`, answerOf(fields, item).mark);
  const twice = again(pattern, fields, here.getTime());
  if (twice) {
    const typed = await askFigure(twice.sentence, words.typed);
    fields.set(twice.name, typed ?? "");
    if (typed === null || !twice.isSame()) return "left";
  }
  if (form.inert) return "left"; // signed in another tab meanwhile
  if (await own.isOld()) return "left";
  const [size, root] = mine.seen ? mine.seen.split(":") : [];
  const act = await own.text({ made_at: madeAt, seen: mine.seen && { size: Number(size), root }, clock });
  const signed = { _key: mine.id, _sig: await sign(pattern.kind, act), _made_at: madeAt, _seed: own.seed };
  signed._date = pattern.fixed.date;
  if (clock) signed._clock = `${clock.offset_s}|${clock.measured_at}`;
  if (mine.seen) signed._seen = mine.seen;
  const deed = await deedOf(form, address, own, { kind: pattern.kind, act, signed, madeAt });
  if (!(await holds(deed))) return "left";
  form.dispatchEvent(new Event("signed"));
  if (deed.locks) await forgetRefused({ ref: deed.ref, page: deed.page, day: pattern.fixed.date }, saidIn(act));
  navigator.storage?.persist?.();
  deafToTheSecond();
  ready(form, pattern, deed);
  await show();
  document.querySelector("[data-outbox]").scrollIntoView({ block: "start", behavior: "instant" });
  send();
  return "held";
}
