// What a deed will record, made of what its page carries (`inspections.alone`) and of what stands in its form: the very
// bytes that the server makes of them, so that a page can sign without asking it, and sign nothing else when it asks.

import { canonical, encoded, fromHex, sha256 } from "./bytes.mjs";

const MARKS = { sound: "sound", defect: "defect", cannot_check: "not_done" };
const MOST = { note: 2000, text: 60, gauge: 60 };
const MOST_PHOTOS = 12;
// A letter, a figure that is no plain digit, or a sign of a unit: as inspections.measures.has_unit.
export const OWN_UNIT = /[\p{L}\p{Nl}\p{No}"'″′°%]/u;
// What Python takes for a blank, which is not all of what this language takes for one.
const BLANK = "[\\t-\\r\\x1c-\\x20\\x85\\xa0\\u1680\\u2000-\\u200a\\u2028\\u2029\\u202f\\u205f\\u3000]";
const ENDS = new RegExp(`^${BLANK}+|${BLANK}+$`, "g");

export const strip = (text) => text.replace(ENDS, "");
const cut = (text, most) => Array.from(text).slice(0, most).join(""); // signs, not the halves of signs

// A text as a form sends it: every end of a line the same, and no half of a sign.
const sent = (text) => new TextDecoder("utf-8", { ignoreBOM: true }).decode(encoded(text.replace(/\r\n|\r|\n/g, "\r\n")));

// The pattern of the act that a form records when one of its buttons is pressed, or null.
export function patternOf(form, submitter) {
  const found = document.getElementById("act");
  const pattern = found && JSON.parse(found.textContent);
  return pattern && pattern.form === form.id && pattern.by === submitter?.name ? pattern : null;
}

// What stands about an item, on top of what was known of it: as inspections.forms.items.answer_from.
export function answerOf(fields, item) {
  const { key } = item;
  const field = (name) => sent(fields.get(`${name}-${key}`) ?? "");
  const answer = { ...item.had };
  if (fields.has(`note-${key}`)) answer.note = cut(strip(field("note")), MOST.note);
  if (!item.typed) {
    if (fields.has(`mark-${key}`)) answer.mark = MARKS[field("mark")] ?? "";
  } else if (fields.has(`text-${key}`)) {
    const text = [strip(field("text")), strip(field("second"))].filter(Boolean).join(" / ");
    const meant = item.asked && text && !OWN_UNIT.test(text) ? `${text} ${item.asked}` : text;
    answer.text = cut(meant, MOST.text);
    answer.mark = field("mark") === "cannot_check" ? "not_done" : "";
    if (fields.has(`gauge-${key}`)) answer.gauge = cut(strip(field("tool")) || strip(field("gauge")), MOST.gauge);
  }
  if (fields.has(`kept-${key}`)) answer.kept = field("kept");
  return answer;
}

const isEmpty = (answer) => !(answer.mark || answer.text);

export const isKept = (answer) => Boolean(answer.kept) && answer.kept === (answer.text || answer.mark);

// What is still wanted before this can be signed alone: [the item's question, a sentence] each.
export function wanting(pattern, fields) {
  const { words } = pattern;
  const found = [];
  for (const item of pattern.items) {
    if (!item.asks) continue;
    const answer = answerOf(fields, item);
    if (isEmpty(answer)) found.push([item.text, words.empty]);
    else if (answer.note || answer.reason) continue;
    else if (answer.mark === "not_done") found.push([item.text, words.why]);
    else if (answer.mark === "defect") found.push([item.text, words.wrong]);
  }
  if (pattern.reason && !strip(fields.get("reason") ?? "")) found.push(["", words.reason]);
  return found;
}

// What was marked as a defect and not yet insisted on.
export const defects = (pattern, fields) =>
  pattern.items.filter((item) => {
    const answer = answerOf(fields, item);
    return answer.mark === "defect" && !isKept(answer);
  });

// Salts in the order in which the server commits: as ledger.actions.seed_of and salted_by.
async function committing(seed, id) {
  const sign = async (bytes, text) => {
    const key = await crypto.subtle.importKey("raw", bytes, { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
    return new Uint8Array(await crypto.subtle.sign("HMAC", key, encoded(text)));
  };
  const own = await sign(fromHex(seed), `salts/v1\n${id}`);
  let number = 0;
  return async (value) => {
    const salt = (await sign(own, String(number++))).slice(0, 16);
    const parts = [encoded("commit/v1\n"), salt, encoded(canonical(normal(value)))];
    return sha256(await new Blob(parts).arrayBuffer());
  };
}

function normal(value) {
  if (typeof value === "string") return value.normalize("NFC");
  if (Array.isArray(value)) return value.map(normal);
  if (value === null || typeof value !== "object") return value;
  return Object.fromEntries(Object.entries(value).map(([name, one]) => [name, normal(one)]));
}

const isNothing = (value) =>
  value === "" || value === false || value === null || value === undefined || (typeof value === "object" && !Object.keys(value).length);
const filled = (body) => Object.fromEntries(Object.entries(body).filter(([, value]) => !isNothing(value)));

async function readingsOf(pattern, fields, photos, note) {
  const readings = [];
  for (const item of pattern.items) {
    const answer = answerOf(fields, item);
    if (isEmpty(answer)) continue;
    readings.push(
      filled({
        key: item.key,
        slot: item.slot,
        mark: answer.mark,
        text: answer.text,
        unit: answer.text ? item.unit : "",
        note: await note(answer.note),
        reason: await note(answer.reason),
        photos: (photos[item.key] ?? []).slice(0, MOST_PHOTOS),
        kept: isKept(answer),
        gauge: answer.text ? answer.gauge : "",
        component: item.component,
      }),
    );
  }
  return readings;
}

// The canonical text of the act. `said`: {id, made_at, seed, seen}, the last as it stands in an act, or nothing;
// `photos`: the hashes of each item's photos, in order.
export async function build(pattern, fields, said, photos = {}) {
  const commit = await committing(said.seed, said.id);
  const note = async (text) => (strip(text) ? commit({ note: strip(text) }) : "");
  const body = { ...pattern.fixed };
  body.readings = await readingsOf(pattern, fields, photos, note);
  if (pattern.reason) body.reason = await note(sent(fields.get("reason") ?? ""));
  const signer = { ref: pattern.signer.ref, commit: await commit({ name: pattern.signer.name }) };
  const act = { id: said.id, made_at: said.made_at, signer, ...filled(body), ...(said.seen && { seen: said.seen }) };
  return canonical(normal(act));
}
