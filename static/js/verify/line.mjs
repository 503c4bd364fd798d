// One line alone: which entries are about it, and what is wrong where others are shown with them.

import { Bad } from "./bytes.mjs";
import { ERASING } from "./erasures.mjs";
import { capital, told } from "./numbers.mjs";

const RANGE = "log/range.json";
const ID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/;
const ALWAYS = ["log-key", "person-key", ...ERASING]; // kinds that are shown with whatever was chosen

const text = new TextDecoder();
const named = (act, name) => (Object.hasOwn(act, name) && typeof act[name] === "string" ? act[name] : "");

export class LineAlone {
  // Throws Bad where no line is named.
  constructor({ course, line }, found) {
    if (![course, line].every((one) => typeof one === "string" && ID.test(one))) throw new Bad("it names no line");
    Object.assign(this, { course, line, found });
    this.name = null;
    this.parts = new Set(); // and holds, as the entries fit or call them
    this.strangers = []; // entries that are not about it
    this.loose = new Map(); // entries about parts that no entry so far has fitted to it
  }

  // Whether an entry names the line, is about a part of it, or holds for its whole course.
  has({ act, kind }, data) {
    const about = text.decode(data).includes(this.line) || this.belongs(act, kind);
    if (kind === "component-fitted" && named(act, "place") === this.line) this.parts.add(named(act, "component"));
    else if (kind === "hold" && about) this.parts.add(named(act, "id"));
    return about;
  }

  belongs(act, kind) {
    if (/^(component|hold)-/.test(kind)) return this.parts.has(named(act, kind.slice(0, kind.indexOf("-"))));
    if (named(act, "place")) return false;
    const subject = named(act, "subject");
    if (subject.includes(":")) {
      const about = subject.slice(subject.lastIndexOf(":") + 1);
      return about === this.course || this.parts.has(about);
    }
    return named(act, "course") === this.course;
  }

  take(record, data) {
    const { act, kind, seq } = record;
    if (this.has(record, data)) {
      const added = kind === "place-added" && named(act, "kind") === "line";
      if (added && named(act, "place") === this.line && named(act, "course") === this.course) {
        this.name = named(act, "name");
      }
    } else if (kind.startsWith("component-") || named(act, "subject").startsWith("component:")) {
      // What was entered about a part before it was fitted: the fitting comes later.
      const subject = named(act, "subject");
      const part = named(act, "component") || subject.slice(subject.lastIndexOf(":") + 1);
      if (!this.loose.has(part)) this.loose.set(part, []);
      this.loose.get(part).push(seq);
    } else if (seq && !ALWAYS.includes(kind)) this.strangers.push(seq);
  }

  // Tell what is wrong, and what cannot be seen. The last entry of all shows how long the record is.
  end(shown, size) {
    const loose = [...this.loose].flatMap(([part, seqs]) => (this.parts.has(part) ? [] : seqs));
    const strangers = [...new Set([...this.strangers, ...loose])].filter((seq) => seq !== size - 1);
    if (strangers.length) {
      const which = told(strangers.sort((one, other) => one - other));
      const are = strangers.length === 1 ? "is" : "are";
      this.found.fault("numbering", `${capital(which)} ${are} not about the line that ${RANGE} names.`);
    }
    if (this.name === null) this.found.fault("numbering", `No entry here adds the line that ${RANGE} names.`);
    if (shown < size) {
      const about = "whether one about this line was left out cannot be seen. Days, or the whole record, show it";
      this.found.limit("numbering", `Entries about other things are not shown, and ${about}.`);
    }
  }
}
