// One entry: its shape, what it names, and what it says of the record so far.

import { Bad, hex, strict64, utf8 } from "./bytes.mjs";
import { canonical, equal, isObject, worded } from "./canonical.mjs";
import { Erasures, ERASING } from "./erasures.mjs";
import { es256 } from "./notes.mjs";
import { capital, counted, told } from "./numbers.mjs";
import { sha256 } from "./sha256.mjs";
import { DAY, MINUTE, timeOf } from "./times.mjs";

export const SLACK = 5 * MINUTE; // by which two honest clocks may differ
const LATER = 11 * MINUTE; // what is signed with a signal reaches the record sooner
const HASH = /^[0-9a-f]{64}$/;
const PARTS = ["v", "log", "seq", "prev", "t", "kind", "act", "auth"];
const MORE = ["judged", "sig"];

const own = (value, name) => (Object.hasOwn(value, name) ? value[name] : undefined);

// Refuse an entry that is not in the form of one. Throws Bad.
export function shaped(record) {
  const { act, auth } = record;
  if (!PARTS.every((one) => Object.hasOwn(record, one))
    || !Object.keys(record).every((one) => PARTS.includes(one) || MORE.includes(one))) {
    throw new Bad("it does not have the parts that an entry has");
  }
  if (record.v !== 1) throw new Bad("its version is not known");
  if (!isObject(act) || !isObject(auth) || typeof record.seq !== "number"
    || ![record.log, record.prev, record.kind].every((one) => typeof one === "string")) {
    throw new Bad("its parts are not what they have to be");
  }
  if (typeof own(act, "id") !== "string" || !isObject(own(act, "signer"))) {
    throw new Bad("it names no deed or nobody who did it");
  }
  if (typeof own(auth, "how") !== "string") throw new Bad("it does not say how its person was known");
  timeOf(record.t);
  timeOf(own(act, "made_at"));
  return record;
}

// Return the hashes of files that an entry binds, and the commitments that stand in it for names and notes, by kind;
// ``beside``: of the commitments those of persons' names, each with the reference. What a deed of erasing is about
// (``what``) it does not name: an entry before it did.
function namedBy(record) {
  const found = { photos: new Set(), papers: new Set(), sources: new Set(), commits: new Set(), beside: [] };
  const take = (kind, hash) => found[kind].add(hash);
  const walk = (value, name, ref) => {
    if (typeof value === "string") {
      if (value.length !== 64 || !HASH.test(value)) return;
      if (name === "photos" || name === "paper" || name === "photo") take("photos", value);
      else if (name === "source_file") take("sources", value);
      else if (name === "sha256") {
        if (record.kind === "paper") take("papers", value); // elsewhere of a content that stands in the record itself
      } else if (name !== "root") { // a root: of the record, as a person's device had seen it
        take("commits", value);
        if (name === "commit" && typeof ref === "string") found.beside.push([ref, value]);
      }
    } else if (Array.isArray(value)) for (const one of value) walk(one, name);
    else if (isObject(value)) {
      for (const key of Object.keys(value)) {
        if (value !== record.act || key !== "what" || !ERASING.includes(record.kind)) walk(value[key], key, own(value, "ref"));
      }
    }
  };
  walk(record.act, "");
  return found;
}

// Return the hashes of the photos that were still on a phone when an entry that names them was recorded.
function owedBy({ judged }) {
  const owed = isObject(judged) ? own(judged, "photos_owed") : undefined;
  return new Set(Array.isArray(owed) ? owed : []);
}

// The true time that an entry was given, null where it was given none. Throws Bad unless it is that of its device by the
// clock that was signed. It is cut where that would be later than its arrival, by two minutes at most.
function trueTime({ act, judged }, made, at) {
  if (!isObject(judged) || !Object.hasOwn(judged, "true_at")) return null;
  const clock = own(act, "clock");
  const offset = isObject(clock) ? own(clock, "offset_s") : undefined;
  const really = timeOf(judged.true_at);
  if (!Number.isInteger(offset) || Math.abs(offset) >= 1e10 || really > at) throw new Bad("it does not follow");
  const cut = made - really + offset * 1000;
  if (cut < 0 || cut > 2 * MINUTE) throw new Bad("it does not follow");
  return really;
}

// Whether an entry was signed on a device without a signal. Only such a one has a clock in it; where the clock was never
// compared with the server's, its times tell.
function cameLater(record, made, at) {
  return Object.hasOwn(record.act, "clock")
    || (Object.hasOwn(record, "sig") && (at - made > LATER || made - at > SLACK));
}

// What the entries say, taken one after the other. Kept: hashes and names, never entries.
export class Said {
  constructor(found, tree, now) {
    this.found = found;
    this.tree = tree;
    this.now = now;
    this.log = this.name = this.zone = "";
    this.last = null; // when the last entry was received
    this.deeds = new Set();
    this.keys = []; // of the record: [entry, act]
    this.files = { photos: new Map(), papers: new Map(), sources: new Map() }; // hash: entry
    this.had = new Set(); // photos that were here when some entry that names them was recorded
    this.owed = new Map(); // photos that were not: by which entries
    this.commits = new Map();
    this.erasures = new Erasures(found);
    this.late = [];
    this.ahead = [];
    this.clockOff = []; // entries whose device's clock was wrong; their true time is known
    this.untimed = []; // entries that were signed without a signal, nobody knows when
    this.people = new Map(); // keys of persons: point, reference, entry
    this.callers = new Map(); // whose name stands for a commitment, of persons with keys
    this.ended = new Map(); // by which entry
    this.signedActs = 0;
  }

  async take(record, seq) {
    const { act } = record;
    const fault = (check, sentence) => this.found.fault(check, sentence);
    const at = timeOf(record.t);
    this.log ||= record.log;
    if (record.log !== this.log) fault("chain", `Entry ${seq} belongs to another record.`);
    if (this.last !== null && at < this.last) {
      fault("time order", `Entry ${seq} was received before the entry in front of it.`);
    }
    if (at > this.now + SLACK) {
      const about = "which is still to come (or this computer's clock is wrong)";
      fault("time order", `Entry ${seq} is of ${record.t}, ${about}.`);
    }
    this.last = at;
    const made = timeOf(act.made_at);
    if (at - made > DAY) this.late.push(seq);
    this.clock(record, made, at);
    if (this.deeds.has(act.id)) fault("replay", `Entry ${seq} repeats a deed that stands in the record already.`);
    this.deeds.add(act.id);
    if (!equal(own(act.signer, "ref"), own(record.auth, "ref"))) {
      fault("people", `Entry ${seq} is signed in the name of somebody else than who was logged in.`);
    }
    await this.ownKey(record, seq);
    if (record.kind === "operator-founded" && seq === 0) {
      this.name = worded(own(act, "name") ?? "");
      this.zone = worded(own(act, "tz") ?? "");
    }
    if (record.kind === "log-key") this.keys.push([seq, act]);
    const named = namedBy(record);
    for (const [kind, known] of [...Object.entries(this.files), ["commits", this.commits]]) {
      for (const hash of named[kind]) if (!known.has(hash)) known.set(hash, seq);
    }
    const owed = owedBy(record);
    for (const one of named.photos) {
      if (!owed.has(one)) this.had.add(one);
      else if (this.owed.has(one)) this.owed.get(one).push(seq);
      else this.owed.set(one, [seq]);
    }
    this.erasures.take(record, named, at);
  }

  // Hold the time of an entry's device against that of the server.
  clock(record, made, at) {
    const { seq } = record;
    try {
      const really = trueTime(record, made, at);
      if (really !== null && Math.abs(made - really) > SLACK) {
        this.clockOff.push(seq);
        return;
      }
      if (really === null && cameLater(record, made, at)) this.untimed.push(seq);
    } catch (error) {
      if (!(error instanceof Bad)) throw error;
      this.found.fault("time order", `When entry ${seq} was really signed does not follow from its device's clock.`);
    }
    if (made - at > SLACK) this.ahead.push(seq);
  }

  // Tell of the times by devices' clocks what a reader has to know; none of it is a fault.
  clocks() {
    const { late, ahead, clockOff, untimed } = this;
    const note = (sentence) => this.found.note("time order", sentence);
    if (late.length) {
      const were = late.length === 1 ? "it was" : "they were";
      note(`${capital(told(late))} reached the record more than a day after ${were} made, by the time of the device.`);
    }
    if (ahead.length) {
      const carry = ahead.length === 1 ? "carries" : "carry";
      const about = "a device's time that is later than the server's: that device's clock was wrong";
      note(`${capital(told(ahead))} ${carry} ${about}.`);
    }
    if (clockOff.length) {
      const [was, it] = clockOff.length === 1 ? ["was", "it"] : ["were", "each of them"];
      const about = `signed without a signal on a phone whose clock was off by more than 5 minutes: ${told(clockOff)}`;
      const counts = `What counts is the true time, which stands in ${it} (judged.true_at)`;
      note(`${counted(clockOff.length, "entry", "entries")} ${was} ${about}. ${counts}.`);
    }
    if (untimed.length) {
      const [was, counts] = untimed.length === 1 ? ["was", "It counts"] : ["were", "They count"];
      const about = `signed without a signal, and when is not known: ${told(untimed)}`;
      const why = "The phone's clock was changed in between, or never compared with the server's";
      note(`${counted(untimed.length, "entry", "entries")} ${was} ${about}. ${why}. ${counts} as received.`);
    }
  }

  // Hold what a person signed against the keys that the record named before, and what the device had seen.
  async ownKey(record, seq) {
    const { act } = record;
    const fault = (sentence) => this.found.fault("own keys", sentence);
    const ref = own(act.signer, "ref");
    const signed = async (point, text, message) =>
      typeof text === "string" && es256(point, strict64(text) ?? new Uint8Array(0), message);

    if (record.sig !== undefined) {
      this.signedActs += 1;
      const sig = isObject(record.sig) ? record.sig : {};
      const name = worded(own(sig, "key"));
      const known = this.people.get(name);
      if (own(sig, "alg") !== "es256" || !known) {
        fault(`Entry ${seq} is signed by a key that the record did not name before.`);
      } else if (this.ended.has(name)) fault(`Entry ${seq} is signed by a key that was ended before.`);
      else if (!equal(known.ref, ref)) fault(`Entry ${seq} is signed by the key of another person.`);
      else if (!(await signed(known.point, own(sig, "sig"), utf8(`act/v1\n${record.kind}\n${canonical(act)}`)))) {
        fault(`Entry ${seq} is not what its person signed.`);
      }
    }
    const seen = own(act, "seen");
    if (isObject(seen)) {
      const size = typeof own(seen, "size") === "number" ? seen.size : -1;
      const root = size <= seq ? this.tree.root(size) : null;
      if (root === null || hex(root) !== own(seen, "root")) {
        fault(`When entry ${seq} was made, its person's device had seen another record.`);
      }
    }
    if (record.kind !== "person-key") return;
    const name = worded(own(act, "key"));
    const known = this.people.get(name);
    if (own(act, "op") === "revoke") {
      const person = own(act, "person") ?? ref;
      if (!known) fault(`Entry ${seq} ends a key that was never named.`);
      else if (!equal(person, known.ref)) fault(`Entry ${seq} ends the key of somebody whom it does not name.`);
      if (!this.ended.has(name)) this.ended.set(name, seq);
      return;
    }
    if (own(act, "op") !== "enrol") {
      fault(`What entry ${seq} does with a key is not known.`);
      return;
    }
    const shown = own(act, "public");
    const point = strict64(worded(shown)) ?? new Uint8Array(0);
    const proof = utf8(`key/v1\n${this.log}\n${worded(ref)}\n${worded(shown)}`);
    if (hex(sha256(point)).slice(0, 32) !== name || !(await signed(point, own(act, "proof"), proof))) {
      fault(`The key in entry ${seq} did not sign that it belongs to this person.`);
    } else if (known) fault(`The key in entry ${seq} was named before.`);
    else {
      this.people.set(name, { point, ref, seq });
      this.callers.set(worded(own(act.signer, "commit")), worded(ref));
    }
  }

  // The keys of persons by person: reference, first signs, named by and ended by which entry.
  keysOfPersons() {
    return [...this.people]
      .map(([name, { ref, seq }]) => ({ ref: worded(ref), signs: name.slice(0, 8), since: seq, until: this.ended.get(name) }))
      .sort((one, other) => (one.ref < other.ref ? -1 : one.ref > other.ref ? 1 : one.since - other.since));
  }
}
