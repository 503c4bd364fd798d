// A form that was signed on this phone and waits to be sent shows what was signed, wherever it is opened again: each
// answer and photo as it was, how many there are, and a sentence why nothing of it can be changed.

import { drawProgress } from "./answer.mjs";
import { isPhoto } from "./held.mjs";
import { controlsOf, isTyped, putBack, unfold, unitOf } from "./fields.mjs";

// What shows the photos of a form comes with another script, before or after this.
let given;
const album = new Promise((done) => (given = done));
export const offerAlbum = (form, own) => given((input, files) => own.put(input, files));

const signed = new WeakMap(); // form -> {id, note, all, faint}

function layFields(form, fields) {
  const units = new Set(Array.from(form.elements).filter(isTyped).map(unitOf));
  units.delete("");
  for (const unit of units) {
    const changed = putBack(controlsOf(form, unit), fields);
    unfold(changed);
    const detail = { isKnown: true, isHeld: true }; // judged here, and told to nobody
    changed[0]?.dispatchEvent(new CustomEvent("change", { bubbles: true, detail }));
  }
}

async function layPhotos(form, fields) {
  const named = new Map();
  for (const [name, { name: file, type, bytes }] of fields.filter(isPhoto))
    named.set(name, [...(named.get(name) ?? []), new File([bytes], file, { type })]);
  if (!named.size) return;
  const put = await album;
  for (const input of form.querySelectorAll("input[type=file]"))
    if (named.has(input.name) && !input.files.length) await put(input, named.get(input.name));
}

// As many as there are: a sheet is signed only when all of it is answered.
function sayAll() {
  const of = Number(document.querySelector("[data-progress] [data-of]")?.textContent);
  if (of) drawProgress({ done: of, of });
}

// What a person would tap or type into looks as it is. What is chosen keeps its tone, so that it can be read.
function shut(form) {
  const fieldsets = Array.from(form.querySelectorAll("fieldset")).filter((one) => !one.disabled);
  const others = Array.from(form.elements).filter(
    (one) => isTyped(one) && one.type !== "hidden" && !one.disabled && !one.closest("fieldset"),
  );
  const all = [...fieldsets, ...others];
  for (const one of all) one.disabled = true;
  const faint = Array.from(form.querySelectorAll("input:not(:checked) + .switch__word"));
  for (const one of faint) one.classList.add("faint");
  return { all, faint };
}

function noteOn(form) {
  const note = Object.assign(document.createElement("div"), { className: "stack stack--tight is-watch" });
  note.dataset.signedHere = "";
  note.append(Object.assign(document.createElement("p"), { className: "notice__title" }));
  form.before(note);
  return note;
}

// `sentence` says since when it waits, and how it comes back.
export function laySigned(form, deed, sentence) {
  if (signed.get(form)?.id !== deed.id) {
    openSigned(form);
    layFields(form, deed.fields.filter((one) => !isPhoto(one)));
    layPhotos(form, deed.fields).catch(() => {}); // a picture that cannot be shown hinders nothing
    sayAll();
    signed.set(form, { id: deed.id, note: noteOn(form), ...shut(form) });
  }
  const said = signed.get(form).note.firstChild;
  if (said.textContent !== sentence) said.textContent = sentence;
}

// It does not wait any more. What stands there stays; where it was taken back it can be changed again.
export function openSigned(form, isSent = false) {
  const known = signed.get(form);
  known?.note.remove();
  if (!known || isSent) return;
  signed.delete(form);
  for (const one of known.all) one.disabled = false;
  for (const one of known.faint) one.classList.remove("faint");
}
