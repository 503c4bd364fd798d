// What the entries so far decided to forget, and what of these decisions cannot be right.

import { equal, isObject, worded } from "./canonical.mjs";
import { DAY } from "./times.mjs";

export const ERASING = ["erasure-asked", "erasure-withdrawn", "erasure"];
const HASH = /^[0-9a-f]{64}$/;
const KEPT = 5 * 365 * DAY; // before that nothing is erased; five years have a day or two more
const WORDS = [["names", "name"], ["notes", "note"], ["photos", "photo"], ["papers", "paper"]];

const own = (value, name) => (isObject(value) && Object.hasOwn(value, name) ? value[name] : undefined);
const rolesOf = (record) => {
  const roles = own(record.judged, "roles");
  return Array.isArray(roles) ? roles : [];
};
const listIn = (what, name) => own(what, name) ?? [];

// Whether it says one thing to erase: a person, or a list of notes, photos or papers.
function isWhat(what) {
  if (!isObject(what) || Object.keys(what).length !== 1) return false;
  const [[name, one]] = Object.entries(what);
  if (name === "person") return typeof one === "string";
  return ["notes", "photos", "papers"].includes(name) && Array.isArray(one) && one.every((part) => typeof part === "string");
}

export class Erasures {
  constructor(found) {
    this.found = found;
    this.commits = new Map(); // erased: word and entry
    this.files = { photos: new Map(), papers: new Map() }; // erased: by which entry
    this.asked = new Map();
    this.of = new Map(); // person: the commitments of the name
    this.last = new Map(); // person: when last named
    this.first = new Map(); // commitment or hash of a file: when first named
  }

  // Take what one entry names, and what it decides about what was named before it. ``named``: sets of hashes by kind,
  // and ``beside``, pairs of a person's reference and a commitment.
  take(record, named, at) {
    const { act, kind, seq } = record;
    if (kind === "erasure-asked") this.asked.set(act.id, record);
    else if (kind === "erasure-withdrawn") this.asked.delete(worded(own(act, "asked")));
    else if (kind === "erasure") {
      const asked = this.asked.get(worded(own(act, "asked")));
      this.asked.delete(worded(own(act, "asked")));
      const wrong = asked ? [...this.wrong(asked, record)] : ["erases what no entry before it asks for"];
      if (!wrong.length) wrong.push(...this.early(act.what, at));
      for (const about of wrong) this.found.fault("erasures", `Entry ${seq} ${about}.`);
      if (!wrong.length) this.erase(act.what, seq);
    }
    for (const folder of ["photos", "papers"]) {
      for (const one of [...named[folder]].filter((hash) => this.files[folder].has(hash)).sort()) {
        const before = this.files[folder].get(one);
        this.found.fault("erasures", `Entry ${seq} names a file that entry ${before} erased before.`);
      }
      for (const one of named[folder]) if (!this.first.has(one)) this.first.set(one, at);
    }
    const names = new Set();
    for (const [ref, commit] of named.beside) {
      if (!this.of.has(ref)) this.of.set(ref, []);
      this.of.get(ref).push(commit);
      this.last.set(ref, at);
      names.add(commit);
    }
    for (const commit of named.commits) if (!names.has(commit) && !this.first.has(commit)) this.first.set(commit, at);
  }

  * wrong(asked, record) {
    const { act } = record;
    const what = own(act, "what");
    if (!isWhat(what)) yield "does not say what it erases";
    else if (!equal(what, own(asked.act, "what")) || own(act, "asked_entry") !== asked.seq) {
      yield "erases something else than what was asked for";
    }
    if (equal(own(act.signer, "ref"), own(asked.act.signer, "ref"))) yield "was asked for and confirmed by one person";
    const [one, other] = [rolesOf(asked), rolesOf(record)];
    const both = (a, b) => one.includes(a) && other.includes(b);
    if (!both("manager", "engineer") && !both("engineer", "manager")) yield "was not decided by a manager and an engineer";
  }

  // Tell of what was named too short a time before, as far as entries that name it are shown.
  * early(what, at) {
    const hashes = ["notes", "photos", "papers"].flatMap((name) => listIn(what, name));
    const times = [this.last.get(own(what, "person")), ...hashes.map((one) => this.first.get(one))];
    if (times.some((one) => one !== undefined && at - one < KEPT)) yield "erases what was entered less than five years before";
  }

  erase(what, seq) {
    const person = own(what, "person");
    for (const one of this.of.get(person) ?? []) this.commits.set(one, ["names", seq]);
    this.of.delete(person);
    for (const one of listIn(what, "notes")) {
      if (HASH.test(one) && !this.commits.has(one)) this.commits.set(one, ["notes", seq]);
    }
    for (const [folder, known] of Object.entries(this.files)) {
      for (const one of listIn(what, folder)) if (!known.has(one)) known.set(one, seq);
    }
  }

  // Count what is not here by a decision in the record, and what is here in spite of one. ``gone``: files that are not
  // here and were erased, [folder, entry]; ``said``: what entries name; ``opened``: what names and notes are here;
  // ``told``: numbers of entries as words.
  count({ gone, said, opened, told }) {
    const check = "erasures";
    const all = [...gone];
    let again = 0;
    for (const [commit, [word, seq]] of this.commits) {
      if (opened.has(commit)) again += 1;
      else if (said.commits.has(commit)) all.push([word, seq]);
    }
    for (const [folder, erased] of Object.entries(this.files)) {
      again += [...erased.keys()].filter((one) => said.files[folder].has(one)).length;
      again -= gone.filter(([one]) => one === folder).length;
    }
    if (again) {
      const about = again === 1 ? "is in the bundle all the same" : "are in the bundle all the same";
      this.found.note(check, `Of what was erased ${again} ${about}. Ask the operator to take that away.`);
    }
    if (!all.length) return;
    const parts = [];
    for (const [words, word] of WORDS) {
      const count = all.filter(([one]) => one === words).length;
      if (count) parts.push(`${count} ${count === 1 ? word : words}`);
    }
    const listed = [parts.slice(0, -1).join(", "), parts.at(-1)].filter(Boolean).join(" and ");
    const entries = [...new Set(all.map(([, seq]) => seq))].sort((one, other) => one - other);
    const decided = entries.length === 1 ? "a decision" : "decisions";
    const were = all.length === 1 ? "was" : "were";
    const sentence = `${listed} ${were} erased by ${decided} in the record (${told(entries)}).`;
    this.found.info.erased = sentence;
    this.found.limit(check, `${sentence} That they stood there can be seen, what they said or showed cannot.`);
  }
}
