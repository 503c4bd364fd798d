// What a page can tell by itself before it is signed alone: what is not there yet, and what has to be asked back. The
// server looks at all of it again, and at what only the server knows, when it arrives.

import { answerOf, isEmpty, isKept, saidOf, spotOf, strip } from "./act.mjs";
import { asked } from "./asked.mjs";
import { fill as said } from "./when.mjs";

// By the kind of form: what is missing. `ride.mjs` adds its own. `at`: ms of now, by the server's clock as far as known.
export const WANTING = {
  *sheet({ items, words, reason }, fields) {
    for (const item of items) {
      if (!item.asks) continue;
      const answer = answerOf(fields, item);
      if (isEmpty(answer)) yield `${item.text} ${words.empty}`;
      else if (answer.note || answer.reason) continue;
      else if (answer.mark === "not_done") yield `${item.text} ${words.why}`;
      else if (answer.mark === "defect") yield `${item.text} ${words.wrong}`;
    }
    if (reason && !strip(fields.get("reason") ?? "")) yield words.reason;
  },

  *rack({ items, words }, fields) {
    const defect = fields.getAll("defect");
    const missing = fields.getAll("missing");
    for (const tag of defect) {
      if (missing.includes(tag)) yield said(words.both, { tag });
      if (!saidOf(fields, tag)) yield said(words.wrong, { tag });
    }
    const there = items.filter((item) => !item.out).length - missing.length;
    const count = strip(fields.get("count") ?? "");
    if (!/^[0-9]+$/.test(count) || Number(count) !== there) yield words.count;
  },

  *hold({ wide, whole, words }, fields) {
    const cause = fields.get("cause");
    const line = fields.get("line");
    if (!cause) yield words.cause;
    else if (!wide.includes(cause) && (!line || (line === "all" && !whole.includes(cause)))) yield words.place;
  },

  *withdraw({ words }, fields) {
    if (!spotOf(...arguments)) yield strip(fields.get("code") ?? "") ? words.code : words.place;
    if (!strip(fields.get("title") ?? "")) yield words.what;
  },

  *finding({ words }, fields) {
    if (!fields.get("place")) yield words.where;
    if (!strip(fields.get("title") ?? "")) yield words.what;
    if (!fields.get("severity")) yield words.severity;
    if (fields.get("severity") === "critical" && fields.get("is_watch")) yield words.watched;
  },

  *add({ words }, fields) {
    const photo = fields.get("photo");
    if (!strip(fields.get("text") ?? "") && !strip(fields.get("tag_number") ?? "") && !photo?.size) yield words.nothing;
  },
};

// What a page that judges its items by itself says of them.
const judged = (pattern, fields, what) =>
  ["sheet", "ride"].includes(pattern.make) ? asked.flatMap((one) => one(fields)[what]) : [];

// Sentences that say what is still wanted before this can be signed alone.
export const wanting = (pattern, fields, at) => [
  ...new Set([...WANTING[pattern.make](pattern, fields, at), ...judged(pattern, fields, "open")]),
];

// The item that is wanted first, where the form has items: there one goes on.
export function firstWanting({ make, items }, form, fields) {
  const open = (item) => {
    const answer = answerOf(fields, item);
    const why = answer.note || answer.reason || !["not_done", "defect"].includes(answer.mark);
    return item.asks && (isEmpty(answer) || !why);
  };
  const keys = make === "sheet" ? items.filter(open).map(({ key }) => key) : [];
  const isWanted = (item) => keys.includes(item.dataset.item) || item.querySelector("[data-ask], [data-choose], .item__need");
  return Array.from(form.querySelectorAll("[data-item]")).find(isWanted);
}

// What will hold a line once this is signed: {key, said}, `said` a sentence.
export const holding = (pattern, fields) => judged(pattern, fields, "holds");

// By the kind of form: a figure that has to be typed twice, {name, sentence, isSame()}, or null.
export const AGAIN = {};
export const again = (pattern, fields, at) => AGAIN[pattern.make]?.(pattern, fields, at) ?? null;

// What was marked as a defect and not yet insisted on. A rack's defect is taken as meant, as on the server.
export const defects = (pattern, fields) =>
  (["sheet", "ride"].includes(pattern.make) ? pattern.items : []).filter((item) => {
    const answer = answerOf(fields, item);
    return answer.mark === "defect" && !isKept(answer);
  });
