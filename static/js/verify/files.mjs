// What belongs to the entries: photos, papers and sources, names and notes, and that there is nothing else.

import { Bad, hex, unhex, utf8 } from "./bytes.mjs";
import { canonical, parsed } from "./canonical.mjs";
import { counted, told } from "./numbers.mjs";
import { readme } from "./readme.mjs";
import { ENTRIES, LEAVES, LONGEST_LINE, LONGEST_TEXT, RANGE, TABLE } from "./record.mjs";
import { Sha256, sha256 } from "./sha256.mjs";
import { quoted } from "./times.mjs";
import { linesOf } from "./zip.mjs";

const README = "README.txt";
const PROGRAM = "verify.py";
const NAMES = "disclosures.jsonl";
const MOST_BYTES = 64 * 2 ** 30;
const STEEPEST = 200; // times that a file of more than a mebibyte may grow when unpacked; entries grow about tenfold
const KINDS = [0, 0o100000, 0o040000]; // not told, a file, a folder

// Look at the list of files before anything is unpacked; false if it is not to be read on.
export async function container(archive, found) {
  const fault = (sentence) => found.fault("container", sentence);
  const seen = new Set();
  for (const one of archive.list) {
    const name = quoted(one.name);
    const plain = one.name.normalize("NFC").toUpperCase().toLowerCase();
    if (seen.has(plain)) {
      fault(`Two files have the same name: ${name}. Programs differ in which of them they show.`);
    }
    seen.add(plain);
    const parts = one.name.split("/");
    if (parts.includes("..") || !parts[0] || /[\\:\0]/.test(one.whole)) {
      fault(`The name ${name} would be written outside of its folder when it is unpacked.`);
    }
    if (!KINDS.includes(one.mode & 0o170000)) fault(`${name} is a link or a device, not a file.`);
    if (one.flags & 1 || ![0, 8].includes(one.method)) {
      fault(`${name} is encrypted or packed in a way that a bundle never is.`);
    }
    if (one.size > LONGEST_TEXT && one.size > STEEPEST * Math.max(one.packed, 1)) {
      fault(`${name} would grow more than ${STEEPEST}-fold when unpacked: made to choke a computer.`);
    }
  }
  if (archive.list.reduce((sum, one) => sum + one.size, 0) > MOST_BYTES) {
    fault("It would unpack to more than 64 GiB.");
  }
  if (await archive.surrounded()) found.fault("unbound files", "Something was put before or behind the ZIP file.");
  if (!archive.has(ENTRIES)) {
    fault(`There is no ${ENTRIES}: this is not a bundle, or its entries were taken away.`);
  }
  return !found.checks("FAULT").includes("container");
}

export class Files {
  constructor({ archive, asked, found, said, breath }) {
    Object.assign(this, { archive, asked, found, said, breath });
    this.bound = new Set([README, PROGRAM, ENTRIES, TABLE, NAMES]);
    this.opened = new Set(); // the commitments whose names and notes are here
    this.gone = []; // files that are not here and were erased: folder, by which entry
  }

  async folder(folder) {
    const { archive, found, breath } = this;
    const named = new Map();
    for (const name of archive.members.keys()) {
      if (name.startsWith(`${folder}/`)) named.set(name.slice(folder.length + 1).split(".")[0], name);
    }
    const missing = [];
    const owed = [];
    const erased = this.said.erasures.files[folder] ?? new Map();
    let done = 0;
    for (const [digest, seq] of this.said.files[folder]) {
      done += 1;
      const name = named.get(digest);
      if (name === undefined && erased.has(digest)) {
        this.gone.push([folder, erased.get(digest)]);
        continue;
      }
      if (name === undefined) {
        if (folder === "photos" && !this.said.had.has(digest)) owed.push(digest);
        else missing.push(seq);
        continue;
      }
      this.bound.add(name);
      const hash = new Sha256();
      const reader = await archive.open(name);
      for (let chunk = await reader.chunk(); chunk !== null; chunk = await reader.chunk()) {
        hash.add(chunk);
        if (breath.due) await breath.pause(folder, done, this.said.files[folder].size);
      }
      if (hex(hash.end()) !== digest) {
        found.fault(folder, `${name} is not what entry ${seq} names: it was changed or exchanged.`);
      }
    }
    if (missing.length) {
      const are = missing.length === 1 ? "is" : "are";
      found.fault(folder, `${namedBy(folder, missing.length, missing)} ${are} not in the bundle.`);
    }
    if (owed.length) {
      const phones = owed.length === 1 ? "its phone" : "their phones";
      const which = namedBy(folder, owed.length, owed.flatMap((digest) => this.said.owed.get(digest)));
      const sentence = `${which} never arrived from ${phones}, as far as the record says.`;
      found.info.owed = sentence;
      found.limit(folder, sentence);
    }
  }

  async disclosures() {
    const { archive, found, breath } = this;
    const { commits, erasures } = this.said;
    const check = "personal data";
    const { opened } = this;
    if (!archive.has(NAMES)) {
      found.limit(check, `There is no ${NAMES}: no name and no note is shown.`);
      return;
    }
    let number = 0;
    for await (const lines of linesOf(await archive.open(NAMES), LONGEST_LINE)) {
      for (const line of lines) {
        number += 1;
        if (breath.due) await breath.pause("names", number, commits.size);
        let about = "";
        try {
          const one = parsed(line);
          const entry = commits.get(one.commit);
          about = entry === undefined ? "" : `, for entry ${entry}`;
          const commit = opening(one);
          if (!commits.has(commit)) throw new Bad("no entry here stands for it");
          if (opened.has(commit)) throw new Bad("it stands twice");
          opened.add(commit);
          const ref = this.said.callers.get(commit);
          const called = ref === undefined ? undefined : one.value?.name;
          if (typeof called === "string") found.info.names.set(ref, called);
        } catch (error) {
          if (!(error instanceof Bad)) throw error;
          found.fault(check, `Line ${number} of ${NAMES}${about}: ${error.message}.`);
        }
      }
    }
    let lacking = 0;
    for (const one of commits.keys()) lacking += !opened.has(one) && !erasures.commits.has(one);
    if (lacking) {
      const [are, them] = lacking === 1 ? ["is", "it"] : ["are", "them"];
      const about = `${are} not shown, and no decision in the record erased ${them}: left out, or taken away`;
      found.limit(check, `${lacking} of ${commits.size} names and notes ${about}.`);
    }
  }

  // Count what is not here by a decision in the record, and what is here in spite of one.
  erased() {
    this.said.erasures.count({ gone: this.gone, said: this.said, opened: this.opened, told });
  }

  async rest({ size, signed, span }) {
    const { archive, found, said } = this;
    const check = "unbound files";
    if (span) for (const name of [RANGE, LEAVES]) this.bound.add(name);
    for (const name of [...archive.members.keys()].filter((one) => !this.bound.has(one)).sort()) {
      if (!(name.endsWith("/") && archive.members.get(name).size === 0)) {
        found.fault(check, `${quoted(name)} is named by no entry.`);
      }
    }
    const digest = async (name) => (archive.has(name) ? hex(sha256(await archive.data(name, LONGEST_TEXT))) : "");
    if ((await digest(README)) !== hex(sha256(utf8(readme(said.name, said.log, size, signed, span))))) {
      const about = "it is of another version, or was changed. Do not go by what it says";
      found.note(check, `${README} is not the text that this page knows: ${about}.`);
    }
    if ((await digest(PROGRAM)) !== this.asked.program) {
      const about = "it is of another version, or was changed. Do not use it";
      found.note(check, `The ${PROGRAM} in the bundle is not the program that this page offers: ${about}.`);
    }
  }
}

// So many photos, papers or sources with the entries that name them.
function namedBy(folder, count, seqs) {
  const entries = [...new Set(seqs)].sort((one, other) => one - other);
  return `${counted(count, folder.slice(0, -1), folder)} named by ${told(entries)}`;
}

// The commitment that a name or note opens. Throws Bad where it opens none.
function opening({ commit, salt, value, ...more }) {
  if (typeof salt !== "string" || typeof commit !== "string" || value === undefined) {
    throw new Bad("it is not what its entry stands for");
  }
  const bytes = /^[0-9a-f]{32}$/.test(salt) ? unhex(salt) : null;
  const made = bytes && hex(sha256(utf8("commit/v1\n"), bytes, utf8(canonical(value))));
  if (Object.keys(more).length || made !== commit) throw new Bad("it is not what its entry stands for");
  return commit;
}
