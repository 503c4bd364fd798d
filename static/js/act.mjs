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
  const found = document.getElementById(form.dataset.act ?? "");
  const pattern = found && JSON.parse(found.textContent);
  return pattern && (!pattern.by || pattern.by === submitter?.name) ? pattern : null;
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

export const isKept = (answer) => Boolean(answer.kept) && answer.kept === (answer.text || answer.mark);

export const isEmpty = (answer) => !(answer.mark || answer.text);

// --- what an act says, one way for each kind of form

const spoken = (code) => (code.match(/[a-z]+|[0-9]+/g) ?? []).map((part) => part.replace(/^0+(?=[0-9])/, "")).join("");

// What a form names to be taken out of service: the value of its choice, or nothing. As forms.finding.WithdrawForm.
export function spotOf(pattern, fields) {
  const code = strip(sent(fields.get("code") ?? "")).toLowerCase();
  const chosen = fields.get("spot") ?? "";
  if (!code) return chosen;
  const named = pattern.codes[code] ?? pattern.codes[spoken(code)] ?? "";
  return chosen && chosen !== named ? "" : named;
}

// What was said of a piece of gear; the note for the whole rack where nothing was said of it alone.
export const saidOf = (fields, tag) =>
  ["-" + tag, ""].map((one) => cut(strip(sent(fields.get(`note${one}`) ?? "")), MOST.note)).find(Boolean) ?? "";

function pieceOf(pattern, fields, { tag, out }) {
  if (out) return { mark: "not_done", reason: pattern.out };
  if (fields.getAll("defect").includes(tag)) return { mark: "defect", note: saidOf(fields, tag), kept: "defect" };
  if (fields.getAll("missing").includes(tag)) return { mark: "missing", note: saidOf(fields, tag) };
  return { mark: "sound" };
}

async function readingsOf(pattern, answers, photos, note) {
  const readings = [];
  for (const [item, answer] of answers) {
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
        photos: photos(item, answer).slice(0, MOST_PHOTOS),
        kept: isKept(answer),
        gauge: answer.text ? answer.gauge : "",
        component: item.component,
      }),
    );
  }
  return readings;
}

// A figure that is written plainly, as understood, or nothing: what else one can write only the server understands.
const PLAIN = /^-?(0|[1-9][0-9]{0,4})(\.[0-9]{1,6})?$/;
const plain = (text) => {
  if (!PLAIN.test(text)) return "";
  const short = text.includes(".") ? text.replace(/\.?0+$/, "") : text;
  return short === "-0" ? "0" : short;
};

const typedIn = (fields, name) => strip(sent(fields.get(name) ?? ""));

// The tag code that this phone noted by itself (`scan.mjs`), as inspections.views.here.here_of takes it.
function hereOf(fields) {
  const [code, how, at] = (fields.get("here-noted") ?? "").split("|");
  return at ? { code, how, at } : null;
}

// A figure about a ride as a whole as it is meant: with the unit that its field asks for, where that is not the record's
// own and none was typed. As inspections.forms.ride.
export function rideFigure({ asked = {} }, fields, name) {
  const text = typedIn(fields, name);
  const bare = asked[name] && name === "air" ? strip(text.replace(/°$/, "")) : text;
  return asked[name] && bare && !OWN_UNIT.test(bare) ? `${bare} ${asked[name]}` : text;
}

// How such a figure is understood. `ride.mjs`, on the pages that ask for one, reads whatever one can write.
export const figures = { read: (pattern, fields, name) => plain(rideFigure(pattern, fields, name)) };

const BODIES = {
  async sheet(pattern, fields, note, photos) {
    const answers = pattern.items.map((item) => [item, answerOf(fields, item)]);
    const readings = await readingsOf(pattern, answers, ({ key }) => photos[`photo-${key}`] ?? [], note);
    const reason = pattern.reason ? await note(sent(fields.get("reason") ?? "")) : "";
    return { readings, reason, ...(hereOf(fields) && { here: hereOf(fields) }) };
  },

  async rack(pattern, fields, note, photos) {
    const answers = pattern.items.map((item) => [item, pieceOf(pattern, fields, item)]);
    const sentBefore = (tag) => [...new Set(fields.getAll(`kept-${tag}`).filter(Boolean))];
    const own = ({ tag }, { note: said }) => {
      const made = photos[`photo-${tag}`] ?? [];
      return said === undefined ? [] : made.length ? made : sentBefore(tag);
    };
    return { readings: await readingsOf(pattern, answers, own, note) };
  },

  async hold(pattern, fields, note, photos, kind, said) {
    const cause = fields.get("cause");
    // Of one that somebody called since this page was opened only the server knows which it is.
    if (kind !== pattern.kind) return { hold: pattern.renews[cause] ?? said.hold, day: "" };
    const place = pattern.wide.includes(cause) || fields.get("line") === "all" ? "" : fields.get("line");
    return { place, cause, note: await note(sent(fields.get("text") ?? "")) };
  },

  async ride(pattern, fields, note) {
    const ride = {};
    for (const name of ["mass", "wind", "wind_again", "air"]) ride[name] = rideFigure(pattern, fields, name);
    for (const [as, name] of [["mass_kg", "mass"], ["wind_mps", "wind"], ["air_c", "air"]])
      if (ride[name]) ride[as] = figures.read(pattern, fields, name);
    for (const name of ["wind_from", "state", "reached", "kind"]) ride[name] = fields.get(name) ?? "";
    ride.landing_clear = await note(sent(fields.get("landing_clear") ?? ""));
    const answers = pattern.items.map((item) => [item, answerOf(fields, item)]);
    return { fields: filled(ride), readings: await readingsOf(pattern, answers, () => [], note) };
  },

  async withdraw(pattern, fields, note, photos) {
    const [place, slot, component] = spotOf(pattern, fields).split("|");
    const text = await note(sent(fields.get("text") ?? ""));
    const number = typedIn(fields, "tag_number");
    return { place, slot, component, photos: photos.photo ?? [], note: text, tag_number: number };
  },

  async finding(pattern, fields, note, photos) {
    const said = { place: fields.get("place"), title: typedIn(fields, "title"), severity: fields.get("severity") };
    const text = await note(sent(fields.get("text") ?? ""));
    return { ...said, is_watch: fields.has("is_watch"), photos: photos.photo ?? [], note: text };
  },

  async add(pattern, fields, note, photos) {
    const text = await note(sent(fields.get("text") ?? ""));
    return { photos: photos.photo ?? [], note: text, tag_number: typedIn(fields, "tag_number") };
  },
};

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
  ["", false, null, undefined].includes(value) || (typeof value === "object" && !Object.keys(value).length);
const filled = (body) => Object.fromEntries(Object.entries(body).filter(([, value]) => !isNothing(value)));

// The canonical text of the act. `said`: {id, made_at, seed, seen, clock, hold}, the last three as in an act, or nothing;
// `photos`: by the name of their field, the hashes of an item's photos in order; `kind` where a form can do one of two.
export async function build(pattern, fields, said, photos = {}, kind = pattern.kind) {
  const commit = await committing(said.seed, said.id);
  const note = async (text) => (strip(text ?? "") ? commit({ note: strip(text) }) : "");
  const body = { ...pattern.fixed, ...(await BODIES[pattern.make](pattern, fields, note, photos, kind, said)) };
  const signer = { ref: pattern.signer.ref, commit: await commit({ name: pattern.signer.name }) };
  const { id, made_at, seen, clock } = said;
  const act = { id, made_at, signer, ...filled(body), ...(seen && { seen }), ...(clock && { clock }) };
  return canonical(normal(act));
}

// The kinds that a form may be recorded as: a hold for weather that stands already begins its clock anew.
export const kindsOf = (pattern, fields) =>
  pattern.wide?.includes(fields.get("cause")) ? [pattern.kind, "hold-renewed"] : [pattern.kind];
