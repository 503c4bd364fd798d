// A deed signed without a signal: said on the page what that means, signed, and held until it can be sent.

import { OWN_UNIT, answerOf, defects, wanting } from "./act.mjs";
import { encoded, sha256 } from "./bytes.mjs";
import { held, hold, kept, letGo } from "./held.mjs";
import { send, show } from "./outbox.mjs";

const told = (head, lines) => [head, ...lines].join("\n");

// What was typed, in a person's words, for who looks at what is held.
function typedOf(pattern, form, fields) {
  const found = [];
  for (const item of pattern.items) {
    const answer = answerOf(fields, item);
    const box = form.querySelector(`[data-item="${CSS.escape(item.key)}"]`);
    const mark = box?.querySelector("input[type=radio]:checked ~ .switch__word, .item__cannot:has(:checked) span");
    const unit = OWN_UNIT.test(answer.text) ? "" : (box?.querySelector(".item__unit")?.textContent ?? "");
    const said = [answer.text && `${answer.text} ${unit}`.trim(), answer.mark && mark?.textContent.trim(), answer.note];
    if (said.some(Boolean)) found.push([item.text, said.filter(Boolean).join(". ")]);
  }
  return found;
}

// Answers "sent" where it is signed and held, "left" where something is missing or was not wanted.
export async function signAlone(form, address, own, mine, sign) {
  const { pattern, fields } = own;
  const { words } = pattern;
  const madeAt = `${new Date().toISOString().slice(0, 19)}Z`;
  if (madeAt < pattern.since || madeAt >= pattern.until) return window.alert(words.day), "left";
  const missing = wanting(pattern, fields);
  if (missing.length) {
    window.alert(told(words.missing, missing.map((one) => `• ${one.filter(Boolean).join(" ")}`)));
    return "left";
  }
  // Nobody judges it here: what is marked as a defect is asked back, as the server would, before it counts.
  const found = defects(pattern, fields);
  if (found.length && !window.confirm(told(words.defects, found.map((one) => `• ${one.text}`)))) return "left";
  for (const { key } of found) fields.set(`kept-${key}`, answerOf(fields, pattern.items.find((one) => one.key === key)).mark);
  const [size, root] = mine.seen ? mine.seen.split(":") : [];
  const seen = mine.seen && { size: Number(size), root };
  const act = await own.text({ made_at: madeAt, seen });
  const signed = { _key: mine.id, _sig: await sign(pattern.kind, act), _made_at: madeAt, _seed: own.seed };
  if (mine.seen) signed._seen = mine.seen;
  for (const [key, hashes] of Object.entries(own.photos)) for (const one of hashes) fields.append(`had-${key}`, one);
  const deed = {
    id: fields.get("deed_id"), ref: pattern.signer.ref, kind: pattern.kind, title: pattern.title, act, signed, address,
    page: location.pathname, made_at: madeAt, order: Date.now(), typed: typedOf(pattern, form, fields),
    hash: await sha256(encoded(act)), fields: await kept(fields), tried: false, refused: "",
  };
  await hold(deed);
  // What was not taken before, of the same page, has been put right by this.
  for (const one of await held()) if (one.refused && one.ref === deed.ref && one.page === deed.page) await letGo(one.id);
  navigator.storage?.persist?.();
  await show();
  document.querySelector("[data-outbox]").scrollIntoView({ block: "start", behavior: "instant" });
  send();
  return "held";
}
