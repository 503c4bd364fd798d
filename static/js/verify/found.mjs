// What was found, by check: faults, limits (what was not shown) and notes; and what follows from it.

export const CHECKS = {
  "container": "the ZIP file is whole and nothing in it can harm this computer",
  "canonical form": "every entry is written in the one form that is allowed",
  "numbering": "entries are numbered without a gap",
  "chain": "every entry names the fingerprint of the one before it",
  "replay": "no deed stands in the record twice",
  "time order": "no entry is older than the one before it, or from the future",
  "people": "who signed an entry is who was logged in",
  "own keys": "whatever a person signed with a key of their own is as it was signed",
  "tree head": "the entries give the signed fingerprint of the whole",
  "log signature": "that fingerprint is signed by the record's key",
  "earlier checkpoints": "every state that was signed before is still the beginning of this record",
  "saved checkpoint": "the state that you kept is still the beginning of this record",
  "witness": "a witness outside the operator's reach saw this state",
  "freshness": "the newest evidence is not older than you allow",
  "photos": "every photo is the one that its entry names",
  "papers": "every paper is the one that its entry names",
  "sources": "every source of a limit is the one that its entry names",
  "personal data": "every name and note is the one that its entry stands for",
  "erasures": "whatever was erased, a manager and an engineer decided together, years after it was entered",
  "spreadsheet": "the table says what the entries say",
  "unbound files": "nothing else was put into the bundle",
};

const MOST_SHOWN = 8; // sentences of one kind; of more only the number is kept, however many there are

export class Found {
  constructor() {
    this.said = Object.fromEntries(Object.keys(CHECKS).map((check) => [check, []]));
    this.more = {};
    this.levels = {};
    this.leftOut = {}; // check: why it was not made
    this.info = {};
    this.broken = false; // not all checks were made
    this.covered = new Map(); // what stands for the record from outside: for how many entries
    this.seenAt = null; // by a witness, all of it
  }

  fault(check, sentence) {
    this.say(check, "FAULT", sentence);
  }

  limit(check, sentence) {
    this.say(check, "limit", sentence);
  }

  note(check, sentence) {
    this.say(check, "note", sentence);
  }

  say(check, level, sentence) {
    (this.levels[check] ??= new Set()).add(level);
    if (this.said[check].length < MOST_SHOWN) this.said[check].push({ level, sentence });
    else this.more[check] = (this.more[check] ?? 0) + 1;
  }

  cover(what, size) {
    this.covered.set(what, Math.max(size, this.covered.get(what) ?? 0));
  }

  checks(level) {
    return Object.keys(CHECKS).filter((check) => this.levels[check]?.has(level));
  }

  // 1 altered, 2 consistent with itself only, 3 genuine with limits, 4 genuine and complete.
  get level() {
    if (this.checks("FAULT").length) return 1;
    if (Math.max(0, ...this.covered.values()) < Math.max(this.info.size ?? 0, 1)) return 2;
    return this.checks("limit").length ? 3 : 4;
  }
}
