// Who signed: the states in the bundle, the states that were kept, and witnesses.

import { Bad, hex, textOf } from "./bytes.mjs";
import { worded } from "./canonical.mjs";
import { SLACK } from "./entry.mjs";
import { Key, State } from "./notes.mjs";
import { between, capital, first, numbered } from "./numbers.mjs";
import { LONGEST_TEXT } from "./record.mjs";
import { dayWords, isTime, quoted } from "./times.mjs";

export const HEAD = "log/checkpoint.txt";
const STATES = "log/checkpoints/";
const NUMBERED = /^log\/checkpoints\/[0-9]+\.txt$/;

const bad = (error) => {
  if (!(error instanceof Bad)) throw error;
  return error.message;
};

export class Signed {
  constructor({ archive, asked, found, tree, said, now, breath }) {
    Object.assign(this, { archive, asked, found, tree, said, now, breath });
    this.head = null; // the newest signed state
    this.states = []; // all of them, shortest first
    this.bound = [HEAD];
    this.trusted = asked.keys;
  }

  get origin() {
    return `lineworthy/${this.said.log}`;
  }

  // Whoever made the file chose how many states there are: between two of them a wish to stop is heard.
  async pause() {
    if (this.breath.due) await this.breath.pause("begin", 0, 0);
  }

  agrees(state) {
    const root = this.tree.root(state.size);
    return root !== null && hex(root) === state.root;
  }

  async read() {
    const { archive, found } = this;
    for (const name of [...archive.members.keys()].sort()) {
      if (name !== HEAD && !NUMBERED.test(name)) continue;
      this.bound.push(name);
      await this.pause();
      try {
        const one = State.read(textOf(await archive.data(name, LONGEST_TEXT)));
        if (name !== HEAD && name !== `${STATES}${one.size}.txt`) {
          throw new Bad(`it is a state of ${numbered(one.size)}`);
        }
        this.states.push(one);
        if (name === HEAD) this.head = one;
      } catch (error) {
        found.fault(name === HEAD ? "log signature" : "earlier checkpoints", `${name}: ${bad(error)}.`);
      }
    }
    this.states.sort((one, other) => one.size - other.size);
    const { head, states } = this;
    if (states.length && (head === null || states.at(-1).size > head.size)) {
      found.fault("tree head", `${HEAD} is not the newest of the signed states: something was taken away.`);
    } else if (head !== null && states.some((one) => one.size === head.size && one.note !== head.note)) {
      found.fault("tree head", `${HEAD} and its copy in ${STATES} differ.`);
    }
  }

  async signatures() {
    const { found, head, asked } = this;
    const { size } = this.tree;
    if (head === null) {
      if (asked.keys.length) found.fault("log signature", "You gave a key, and nothing in the bundle is signed.");
      else found.limit("log signature", "Nothing in the bundle is signed.");
      found.leftOut["tree head"] = found.leftOut["earlier checkpoints"] = "nothing is signed";
      return;
    }
    if (this.said.log && head.origin !== this.origin) {
      const about = `The signed state is of the record ${quoted(head.origin)}, the entries are of another.`;
      found.fault("tree head", about);
    }
    if (head.size > size) {
      const are = head.size === 1 ? "is" : "are";
      const about = `${are} signed, the bundle has ${numbered(size)}: some were taken away`;
      found.fault("tree head", `${capital(numbered(head.size))} ${about}.`);
    } else if (!this.agrees(head)) {
      const give = head.size === 1 ? "does not give" : "do not give";
      found.fault("tree head", `${capital(first(head.size))} ${give} the fingerprint that was signed.`);
    } else if (head.size < size) {
      const are = head.size === 1 ? "is" : "are";
      const about = `${are} signed; anybody could have written ${between(head.size, size - 1)}`;
      found.limit("tree head", `Only ${first(head.size, size)} ${about}.`);
    }
    const retired = await this.trust();
    let signers;
    try {
      signers = await head.signers(this.trusted);
    } catch (error) {
      found.fault("log signature", `The newest state: ${bad(error)}.`);
      return;
    }
    if (!believed(head, signers, retired)) {
      const who = head.signatures.map(({ name, id }) => `${name}+${id}`).join(", ");
      const of = asked.keys.length ? "that you gave, or one that it leads to" : "that the record names";
      found.fault("log signature", `The newest state is not signed by a key ${of}, but by ${who}.`);
      if (asked.keys.length) {
        const about = "ask for the new one by another way";
        found.note("log signature", `If the key was exchanged after a loss or theft, ${about}.`);
      }
    } else if (asked.keys.length) found.cover("key", head.size);
    else {
      const about = "the one inside the bundle says nothing of who made the bundle";
      found.limit("log signature", `You gave no key; ${about}.`);
    }
    const named = new Map(this.trusted.map((key) => [key.text, key]));
    for (const [seq, act] of this.said.keys) {
      const key = seq < head.size ? this.keyOf(act, seq) : null;
      if (key) named.set(key.text, key);
    }
    let before = ""; // the newest state stands in two files
    for (const one of this.states) {
      await this.pause();
      const [level, sentence] = await this.earlier(one, named, retired);
      if (sentence && sentence !== before) found.say("earlier checkpoints", level, sentence);
      before = sentence;
    }
  }

  keyOf(act, seq) {
    try {
      return Key.read(worded(act.key ?? ""));
    } catch (error) {
      bad(error);
      this.found.fault("log signature", `Entry ${seq} names a key that is none.`);
      return null;
    }
  }

  // Work out the keys to be believed, and return after how many entries each is no more.
  //
  // It begins with the keys that were given (without any: the first that the record names). Another is added only by an
  // entry that stands under a signature of one that is believed already.
  async trust() {
    const { keys } = this.said;
    const trusted = new Map(this.asked.keys.map((key) => [key.text, key]));
    if (!trusted.size && keys.length) {
      const first = this.keyOf(keys[0][1], keys[0][0]);
      if (first) trusted.set(first.text, first);
    }
    const retired = new Map();
    for (let again = true; again; ) {
      again = false;
      for (const state of this.states) {
        await this.pause();
        let signers;
        try {
          signers = await state.signers(trusted.values());
        } catch (error) {
          bad(error);
          continue;
        }
        if (!this.agrees(state) || !believed(state, signers, retired)) continue;
        for (const [seq, act] of keys) {
          if (seq >= state.size || act.op !== "rotate") continue;
          const old = worded(act.retires);
          if (!retired.has(old) && typeof act.retire_after === "number") {
            retired.set(old, act.retire_after);
            again = true;
          }
          const key = this.keyOf(act, seq);
          if (key && !trusted.has(key.text) && trusted.has(old)) {
            trusted.set(key.text, key);
            again = true;
          }
        }
      }
    }
    this.trusted = [...trusted.values()];
    return retired;
  }

  // What is to be said of a signed state: as what, and the sentence; none where it is as it has to be.
  async earlier(state, named, retired) {
    const where = `The state of ${numbered(state.size)}`;
    if (!this.agrees(state)) return ["FAULT", `${where} that was signed is not the beginning of this record.`];
    let signers;
    try {
      signers = await state.signers(named.values());
    } catch (error) {
      return ["FAULT", `${where}: ${bad(error)}.`];
    }
    if (!signers.size) return ["FAULT", `${where} is not signed by a key of this record.`];
    if (believed(state, signers, retired) || state === this.head) return ["", ""];
    const about = "bears only the signature of a key that was retired before; it agrees all the same";
    return ["note", `${where} ${about}.`];
  }

  async saved() {
    const [check, { size }, { found, asked, said }] = ["saved checkpoint", this.tree, this];
    if (!asked.saved.length) {
      found.leftOut[check] = "you gave none";
      const about = "nothing shows whether the record was rewritten since";
      found.limit(check, `You gave no state kept from before: ${about}.`);
    }
    for (const one of asked.saved) {
      if (said.log && one.origin !== this.origin) {
        found.fault(check, `What you kept is of the record ${quoted(one.origin)}, and this is another.`);
      } else if (one.size > size) {
        const about = "some were taken away, or an old bundle is shown again";
        const sizes = `You kept a state of ${numbered(one.size)}, the bundle has ${numbered(size)}`;
        found.fault(check, `${sizes}: ${about}.`);
      } else if (!this.agrees(one)) {
        const are = one.size === 1 ? "is not the one" : "are not those";
        found.fault(check, `${capital(first(one.size))} ${are} whose state you kept: rewritten.`);
        found.note(check, "If you typed the state off a paper, look first whether you typed it rightly.");
        await this.twiceSigned(one);
      } else if (!one.size) found.limit(check, "A state of no entries shows nothing.");
      else found.cover("saved state", one.size);
    }
  }

  // Tell where a kept state bears the record's own signature: then two different records were signed.
  async twiceSigned(state) {
    try {
      if (!(await state.signers(this.trusted)).size) return;
    } catch (error) {
      bad(error); // mistyped, or never signed
      return;
    }
    const about = "whoever holds it signed two different records. Keep both";
    this.found.note("saved checkpoint", `What you kept is signed by the record's own key: ${about}.`);
  }

  async witnesses(times) {
    const [check, { size }, { found, asked }] = ["witness", this.tree, this];
    if (!asked.witnesses.length) {
      found.leftOut[check] = "you gave no key of one";
      const about = "could have made a second version of what is newer than the state that you kept";
      found.limit(check, `You gave no witness's key: who has the record's key ${about}.`);
    }
    const good = [...this.states, ...asked.saved].filter((one) => one.size && this.agrees(one));
    for (const key of asked.witnesses) {
      const seen = new Map();
      const wrong = new Set(); // the newest state stands in two files
      for (const state of good) {
        await this.pause();
        try {
          for (const at of (await state.signers([key])).values()) {
            if (at > (seen.get(state.size) ?? -1n)) seen.set(state.size, at);
          }
        } catch (error) {
          wrong.add(`The state of ${numbered(state.size)}: ${bad(error)}.`);
        }
      }
      for (const sentence of wrong) found.fault(check, sentence);
      if (!seen.size) {
        found.fault(check, `${key.name} countersigned no state of this record that is here.`);
        continue;
      }
      const most = Math.max(...seen.keys());
      const when = Number(seen.get(most)) * 1000;
      if (!isTime(when)) {
        found.fault(check, `${key.name} gives a time that is none.`);
        continue;
      }
      found.cover("witness", most);
      if (most === size) found.seenAt = Math.max(when, found.seenAt ?? 0);
      else found.limit(check, `${key.name} saw only ${first(most, size)}, on ${dayWords(when)}.`);
      for (const [known, at] of [...seen].sort(([one], [other]) => one - other)) {
        if (!times.has(known) || times.get(known) <= Number(at) * 1000 + SLACK) continue;
        const about = `before ${known === 1 ? "it" : "the last of them"} was received: a clock was set`;
        found.fault("time order", `${key.name} saw ${numbered(known)} ${about}.`);
      }
    }
  }

  freshness() {
    const { found, asked, said } = this;
    if (asked.maxAge === null) {
      found.leftOut.freshness = "you did not say how old the newest evidence may be";
      return;
    }
    const newest = found.seenAt ?? said.last;
    if (newest === null || this.now - newest > asked.maxAge) {
      const at = newest === null ? "no time at all" : dayWords(newest);
      const about = "older than you allow: an old bundle may be shown again";
      found.fault("freshness", `The newest evidence is of ${at}, ${about}.`);
    }
  }
}

// Whether one of those who signed was not retired before.
const believed = (state, signers, retired) =>
  [...signers.keys()].some((one) => state.size <= (retired.get(one) ?? state.size));
