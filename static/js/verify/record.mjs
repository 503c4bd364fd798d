// The entries of a bundle in one pass: their form, numbers, chain, table, and of days alone the list of all fingerprints.

import { Bad, hex, same } from "./bytes.mjs";
import { parsed } from "./canonical.mjs";
import { shaped } from "./entry.mjs";
import { LineAlone } from "./line.mjs";
import { leafHash } from "./merkle.mjs";
import { between, capital } from "./numbers.mjs";
import { COLUMNS, tableLine, tableRow } from "./table.mjs";
import { DAY, dayOf, midnight, quoted, timeOf, timeWords } from "./times.mjs";
import { linesOf } from "./zip.mjs";

export const ENTRIES = "log/entries.jsonl";
export const LEAVES = "log/leaves.bin";
export const RANGE = "log/range.json";
export const TABLE = "csv/entries.csv";
export const LONGEST_LINE = 16 << 20; // bytes; the longest entries, whole checklists, have some ten thousand
export const LONGEST_TEXT = 1 << 20;
const SLACK_OF_ZONES = 14 * 60 * 60_000;

export class Pass {
  constructor({ archive, found, tree, said, wanted, breath }) {
    Object.assign(this, { archive, found, tree, said, wanted, breath });
    this.span = null; // which days or which line are shown, null for all
    this.since = this.until = null;
    this.alone = null; // the line that is shown alone
    this.times = new Map(); // size: when its last entry was received
    this.count = 0;
    this.leaf = new Uint8Array(0);
    this.left = null; // what was passed over last: its first and last entry, and what was received before it
  }

  // Read which days or which line are shown. Throws Bad.
  async readSpan() {
    const { archive, found } = this;
    if (archive.has(RANGE) !== archive.has(LEAVES)) {
      found.fault("container", `Of ${RANGE} and ${LEAVES} only one is there; days and lines need both.`);
    }
    if (!archive.has(RANGE) || !archive.has(LEAVES)) return;
    try {
      const data = await archive.data(RANGE, LONGEST_TEXT);
      const end = data.indexOf(10);
      const span = parsed(end < 0 ? data : data.subarray(0, end));
      if (end !== data.length - 1) throw new Bad("it is not one line");
      if (Object.keys(span).sort().join() === "course,line") {
        this.alone = new LineAlone(span, found);
        this.span = span;
        return;
      }
      [this.since, this.until] = [timeOf(span.since), timeOf(span.until)];
      if (Object.keys(span).sort().join() !== "from,since,to,until" || this.since >= this.until) {
        throw new Bad("it names no days");
      }
      this.span = span;
    } catch (error) {
      throw error instanceof Bad ? new Bad(`${RANGE}: ${error.message}`) : error;
    }
  }

  async entries() {
    const { archive, found, tree, breath } = this;
    const of = archive.members.get(ENTRIES).size;
    this.leaves = this.span ? await archive.open(LEAVES) : null;
    this.table = archive.has(TABLE) ? await archive.open(TABLE) : null;
    this.sameTable = this.table !== null;
    if (this.table) await this.compare(tableLine(COLUMNS));
    else found.limit("spreadsheet", `There is no ${TABLE}.`);
    this.previous = new Uint8Array(0);
    this.expected = 0;
    let done = 0;
    for await (const lines of linesOf(await archive.open(ENTRIES), LONGEST_LINE)) {
      for (const line of lines) {
        this.count += 1;
        done += line.length + 1;
        if (breath.due) await breath.pause("entries", done, of);
        await this.line(line);
      }
    }
    if (this.leaves) {
      await this.passOver(null);
      await this.leaves.close();
    }
    if (this.table) {
      if (this.sameTable && (await this.table.read(1)).length) {
        this.tableDiffers("It has more lines than there are entries.");
      }
      await this.table.close();
    }
    if (!this.count) found.fault("numbering", "There is not one entry.");
    if (this.alone) this.alone.end(this.count, tree.size);
    else if (this.span) this.bounds();
    if (this.span) this.unseen();
    this.said.clocks();
  }

  async line(line) {
    const { found, tree } = this;
    const leaf = leafHash(line);
    const where = `Line ${this.count}`;
    let record = null;
    let listed = null;
    try {
      record = shaped(parsed(line));
    } catch (error) {
      if (!(error instanceof Bad)) throw error;
      found.fault("canonical form", `${where}: ${error.message}.`);
    }
    if (this.leaves) {
      if (record === null || !(await this.passOver(record.seq))) return;
      [this.previous, this.expected] = [this.leaf, tree.size];
      listed = await this.listed();
      if (listed.length < 32) found.fault("tree head", `${LEAVES} is cut short.`);
      else if (!same(listed, leaf)) {
        found.fault("chain", `Entry ${this.expected} does not have the fingerprint that is listed.`);
      }
    }
    if (record !== null) {
      const { seq } = record;
      if (seq !== this.expected) {
        found.fault("numbering", `${where} carries number ${seq}; it must be ${this.expected}.`);
      }
      if (record.prev !== hex(this.previous)) {
        found.fault("chain", `Entry ${seq} does not name the entry before it.`);
      }
      this.passed(timeOf(record.t));
      await this.said.take(record, seq);
      this.alone?.take(record, line);
      if (this.sameTable) await this.compare(tableLine(tableRow(record, leaf)));
    }
    // Of days or a line alone, the list is what was signed; it goes on where an entry does not agree with it.
    this.add(listed?.length === 32 ? listed : leaf, record === null ? null : this.said.last);
    this.previous = leaf;
    this.expected = (record === null ? this.expected : record.seq) + 1;
  }

  add(leaf, at) {
    this.tree.add(leaf);
    this.leaf = leaf;
    if (at !== null && this.wanted.has(this.tree.size)) this.times.set(this.tree.size, at);
  }

  // The next fingerprint of the list.
  async listed() {
    return (this.leaves.take(32) ?? (await this.leaves.read(32))).slice();
  }

  // Take fingerprints up to entry ``to``, or all; none that is passed over may be of the days shown, if it is days.
  async passOver(to) {
    const { found, tree } = this;
    const [start, before] = [tree.size, this.said.last];
    if (to !== null && to < start) {
      found.fault("numbering", `Entry ${to} stands after entry ${start - 1}, or twice.`);
      return false;
    }
    while (to === null || tree.size < to) {
      const leaf = await this.listed();
      if (leaf.length < 32) {
        if (leaf.length || to !== null) found.fault("tree head", `${LEAVES} is cut short.`);
        break;
      }
      this.add(leaf, null);
      if (this.breath.due) await this.breath.pause("entries", 0, 0);
    }
    this.left = null;
    if (tree.size > start && !this.alone) {
      this.left = { start, end: tree.size - 1, before };
      if (to === null && (before === null || before < this.until)) {
        this.notShown(start, tree.size - 1);
      }
    }
    return to === null || tree.size === to;
  }

  // What was passed over before an entry of this time lies before the days that are shown, or behind them.
  passed(at) {
    if (this.left === null) return;
    const { start, end, before } = this.left;
    if (at >= this.since && (before === null || before < this.until)) {
      this.notShown(start, end);
    }
    this.left = null;
  }

  notShown(start, end) {
    const are = start === end ? "is" : "are";
    this.found.fault("numbering", `${capital(between(start, end))} ${are} not shown and may be of the days shown.`);
  }

  // Hold the instants between which entries are shown against the days, on the clock of the first entry.
  bounds() {
    const { found, span, said } = this;
    let first;
    let after;
    try {
      [first, after] = [dayOf(span.from), dayOf(span.to) + DAY];
      if (span.to === "9999-12-31") throw new Bad("nothing comes after it");
    } catch (error) {
      if (!(error instanceof Bad)) throw error;
      found.fault("numbering", `${RANGE} names no days.`);
      return;
    }
    const known = midnight(first, said.zone) !== null;
    if (!known) {
      const about = "it was not checked whether the days begin at midnight there";
      found.limit("numbering", `This computer does not know the time zone ${quoted(said.zone)}: ${about}.`);
    }
    for (const [day, at] of [[first, this.since], [after, this.until]]) {
      const off = Math.abs((known ? midnight(day, said.zone) : day) - at);
      if (off > (known ? 0 : SLACK_OF_ZONES)) {
        found.fault("numbering", `The days do not begin or end where it says: at ${timeWords(at)} UTC.`);
      }
    }
  }

  // Tell what cannot be seen where only days or a line are shown.
  unseen() {
    if (this.count >= this.tree.size) return;
    const { found } = this;
    const [what, where] = this.alone ? ["line", "entries"] : ["days", "days"];
    found.limit("replay", `Whether an act was entered twice cannot be seen outside of the ${where} shown.`);
    const about = `whether one was left out, as the end of a key, cannot be seen outside of the ${where} shown`;
    found.limit("own keys", `Entries that name or end a key belong to any ${what}; ${about}.`);
  }

  async compare(line) {
    const read = this.table.take(line.length) ?? (await this.table.read(line.length));
    if (!same(read, line)) {
      this.tableDiffers(`It differs from the entries, first at entry ${this.tree.size} or before it.`);
    }
  }

  tableDiffers(sentence) {
    this.sameTable = false;
    this.found.fault("spreadsheet", sentence);
  }
}
