// Entries are read in one form alone: JSON after RFC 8785, narrowed (whole numbers, keys in ASCII, text in NFC, no null).

import { Bad, textOf } from "./bytes.mjs";

const DEEPEST = 500; // an entry has about ten
const ASCII = /^[\x00-\x7f]*$/;

// The canonical text of a value. Throws Bad for what the form does not know.
export function canonical(value, depth = 0) {
  if (depth > DEEPEST) throw new Bad("it is nested too deeply");
  if (typeof value === "string") {
    if (!value.isWellFormed()) throw new Bad("half a sign stands alone");
    return JSON.stringify(value);
  }
  if (typeof value === "number") {
    if (Number.isSafeInteger(value)) return String(value);
    throw new Bad(Number.isInteger(value) || !Number.isFinite(value) ? BEYOND : BROKEN);
  }
  if (value === null || value === undefined) throw new Bad("a value is null");
  if (typeof value === "boolean") return String(value);
  if (Array.isArray(value)) return `[${value.map((one) => canonical(one, depth + 1)).join(",")}]`;
  const keys = Object.keys(value).sort();
  let found = "{";
  for (const key of keys) {
    if (!ASCII.test(key)) throw new Bad("a key is not ASCII");
    found += `${found.length > 1 ? "," : ""}${JSON.stringify(key)}:${canonical(value[key], depth + 1)}`;
  }
  return `${found}}`;
}

const BEYOND = "a number is beyond 2**53 - 1";
const BROKEN = "a number is not whole";
const OTHER = "the bytes are not in canonical form";
const LONGEST_TOLD = 1 << 20; // of longer ones only that it is wrong is told
const TOKEN = /"(?:[^"\\]|\\.)*"|-?\d[\d.eE+-]*|[{}[\]:,]|[a-z]+/g;

// Why a text that can be read is not the canonical one; only for the words, it is refused in any case.
function why(text) {
  if (text.length > LONGEST_TOLD) return OTHER;
  const open = [];
  let before = "";
  for (const [token] of text.matchAll(TOKEN)) {
    if (token === "{") open.push(new Set());
    else if (token === "[") open.push(null);
    else if (token === "}" || token === "]") open.pop();
    else if (token === ":" && open.at(-1)) {
      const key = JSON.parse(before);
      if (open.at(-1).has(key)) return "a key stands twice";
      open.at(-1).add(key);
    } else if (/^-?\d/.test(token)) {
      if (/[.eE]/.test(token)) return BROKEN;
      if (token.length > 17) return BEYOND;
    }
    before = token;
  }
  return OTHER;
}

// Read one object. Throws Bad unless the bytes are exactly its canonical form. What JSON leaves open (a key that stands
// twice, 1.0 for 1, spaces, order) cannot survive being written anew and compared.
export function parsed(bytes) {
  const text = textOf(bytes);
  let value;
  try {
    value = JSON.parse(text);
  } catch {
    throw new Bad("it cannot be read as JSON");
  }
  if (value === null || typeof value !== "object" || Array.isArray(value)) throw new Bad("it is not an object");
  if (canonical(value) !== text) throw new Bad(why(text));
  if (text.length !== bytes.length && text.normalize("NFC") !== text) throw new Bad("text is not in Unicode NFC");
  return value;
}

// Whether two values that were read are the same; undefined where there is none.
export function equal(one, other) {
  if (one === other || one === undefined || other === undefined) return one === other;
  return canonical(one) === canonical(other);
}

// A value that has to be a text, as one: what stands in its place in a bundle may be anything, and what is named
// toString in an object is no function.
export const worded = (value) => (isObject(value) || Array.isArray(value) ? JSON.stringify(value) : String(value));

export const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);
