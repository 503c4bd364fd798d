// Keys and signed states: signed notes, checkpoints and cosignatures of C2SP with Ed25519 (RFC 8032), and what persons
// sign with P-256 (ECDSA with SHA-256, r and s of 32 bytes each). The signatures are checked by the browser's own hands.

import { Bad, hex, loose64, strict64, utf8 } from "./bytes.mjs";
import { sha256 } from "./sha256.mjs";

const DASH = "\u2014";
const ED25519 = { name: "Ed25519" };
const P256 = { name: "ECDSA", namedCurve: "P-256" };
const imported = new Map(); // public key in hexadecimal: the browser's key, or null where it is none

async function key(algorithm, bytes) {
  const name = hex(bytes);
  if (!imported.has(name)) {
    const made = crypto.subtle.importKey("raw", bytes, algorithm, false, ["verify"]).catch(() => null);
    imported.set(name, await made);
  }
  return imported.get(name);
}

export async function ed25519(bytes, signature, message) {
  if (bytes.length !== 32 || signature.length !== 64) return false;
  const found = await key(ED25519, bytes);
  return found !== null && (await crypto.subtle.verify(ED25519, found, signature, message));
}

export async function es256(bytes, signature, message) {
  if (bytes.length !== 65 || bytes[0] !== 4 || signature.length !== 64) return false;
  const found = await key(P256, bytes);
  return found !== null && (await crypto.subtle.verify({ name: "ECDSA", hash: "SHA-256" }, found, signature, message));
}

// The public key, message and signature of RFC 8032, section 7.1, test 2.
const KNOWN = [
  "PUAXw+hDiVqStwqnTRt+vJyYLM8uxJaMwM1V8Sr0Zgw=", "cg==",
  "kqAJqfDUyrhyDoILX2QlQKKye1QWUD+Ps3YiI+vbadoIWsHkPhWZbkWPNhPQ8R2MOHsurrQwKu6wDSkWErsMAA==",
].map(loose64);

// Whether this browser can check what has to be checked; tried, not asked.
export async function able() {
  try {
    if (typeof DecompressionStream === "undefined" || typeof "".isWellFormed !== "function") return false;
    new DecompressionStream("deflate-raw");
    const [bytes, message, signature] = KNOWN;
    return (await ed25519(bytes, signature, message)) && !(await ed25519(bytes, signature, utf8("s")));
  } catch {
    return false;
  }
}

export const STATES = 1; // kinds of keys: signs states
export const WITNESS = 4;

export class Key {
  // Read the text of a key. Throws Bad.
  static read(given) {
    const text = given.trim();
    const [, name, ident, packed] = /^([^+]*)\+([^+]*)\+([^]*)$/.exec(text) ?? [];
    const raw = packed === undefined ? null : loose64(packed);
    if (!raw) throw new Bad("it is not the text of a key");
    if (raw.length !== 33 || ![STATES, WITNESS].includes(raw[0]) || !name || /\s/.test(name)) {
      throw new Bad("it is not the text of a key of a kind that is known");
    }
    const id = hex(sha256(utf8(`${name}\n`), raw)).slice(0, 8);
    if (id !== ident) throw new Bad("it is damaged: its short name is not that of its bytes");
    return Object.assign(new Key(), { text, name, id, kind: raw[0], bytes: raw.subarray(1) });
  }
}

const strictly = (text) => {
  const found = strict64(text);
  if (!found) throw new Bad("something in it is not base64");
  return found;
};

const signatureOf = (name, raw) => ({ name, id: hex(raw.subarray(0, 4)), data: raw.subarray(4) });

// A signed state: so many entries, with this root.
export class State {
  // Read a state in its exact form. Throws Bad.
  static read(note) {
    const cut = note.lastIndexOf("\n\n");
    const text = note.slice(0, Math.max(cut, 0));
    const rest = note.slice(cut + 2);
    const lines = text.split("\n");
    if (cut < 0 || !rest.endsWith("\n") || lines.length < 3 || /[\x00-\x09\x0b-\x1f]/.test(note)) {
      throw new Bad("it is not a signed state");
    }
    const found = rest.slice(0, -1).split("\n").map((line) => {
      const parts = line.split(" ");
      const raw = strictly(parts.at(-1));
      if (parts.length !== 3 || parts[0] !== DASH || raw.length < 5) {
        throw new Bad("a signature line is not in its form");
      }
      return signatureOf(parts[1], raw);
    });
    return State.of(lines[0], lines[1], lines[2], `${text}\n`, found, note);
  }

  // Read a state that somebody typed off a paper: spaces and line ends may be anywhere, signatures may lack.
  static typed(given, names) {
    const text = given.replace(/^\ufeff+/, "");
    try {
      return State.read(text.replaceAll("\r\n", "\n"));
    } catch (error) {
      if (!(error instanceof Bad)) throw error;
    }
    const lines = text.split(/[\n\r\v\f\x1c-\x1e\x85\u2028\u2029]/).map((line) => line.trim()).filter(Boolean);
    if (lines.length < 3) throw new Bad("it has fewer than three lines");
    const bare = (part) => part.replace(/\s/g, "");
    const [body, ...more] = lines.slice(2).join("\n").replace(/\n[-\u2013\u2014] */g, `\n${DASH}`).split(DASH);
    const root = bare(body);
    const signatures = [];
    for (const part of more.join(DASH).split(`\n${DASH}`).map(bare).filter(Boolean)) {
      const name = [lines[0], ...names].find((one) => part.startsWith(one)) ?? "";
      const raw = strict64(part.slice(name.length));
      if (name && raw && raw.length >= 5) signatures.push(signatureOf(name, raw));
    }
    const size = bare(lines[1]);
    return State.of(lines[0], size, root, `${lines[0]}\n${size}\n${root}\n`, signatures, text);
  }

  static of(origin, size, root, text, signatures, note) {
    if (!/^(?:0|[1-9][0-9]{0,14})$/.test(size)) throw new Bad("its second line is not a number of entries");
    const bytes = strictly(root);
    if (bytes.length !== 32) throw new Bad("its third line is not a fingerprint of 44 characters");
    const found = { origin, size: Number(size), root: hex(bytes), text, signatures, note };
    return Object.assign(new State(), found);
  }

  // Which keys signed, by their text, with a witness's time in seconds. Throws Bad if the signature of one is false.
  async signers(keys) {
    const known = new Map([...keys].map((one) => [`${one.name}\n${one.id}`, one]));
    const found = new Map();
    const looked = new Set(); // the same line a thousand times is one
    for (const { name, id, data } of this.signatures) {
      const one = known.get(`${name}\n${id}`);
      const line = one && `${one.text}\n${hex(data)}`;
      if (!one || looked.has(line)) continue;
      looked.add(line);
      let [message, signature, seenAt] = [this.text, data, 0n];
      if (one.kind === WITNESS) {
        seenAt = BigInt(`0x${hex(data.subarray(0, 8)) || 0}`);
        signature = data.subarray(8);
        message = `cosignature/v1\ntime ${seenAt}\n${message}`;
      }
      if (!(await ed25519(one.bytes, signature, utf8(message)))) throw new Bad(`the signature of ${name} on it is false`);
      found.set(one.text, seenAt);
    }
    return found;
  }
}
