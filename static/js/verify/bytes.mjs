// Bytes and their texts, read strictly.

// What was read is not what it has to be; the message says why.
export class Bad extends Error {}

const encoder = new TextEncoder();
// A mark at the beginning is part of the text: what is signed is every byte.
const decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });
const PAIRS = Array.from({ length: 256 }, (_, one) => one.toString(16).padStart(2, "0"));

export const utf8 = (text) => encoder.encode(text);

export function textOf(bytes) {
  try {
    return decoder.decode(bytes);
  } catch {
    throw new Bad("it is not text in UTF-8");
  }
}

export function hex(bytes) {
  let found = "";
  for (const one of bytes) found += PAIRS[one];
  return found;
}

export const unhex = (text) => Uint8Array.from(text.match(/../g) ?? [], (pair) => parseInt(pair, 16));

export function same(one, other) {
  if (one.length !== other.length) return false;
  for (let at = 0; at < one.length; at += 1) if (one[at] !== other[at]) return false;
  return true;
}

export function joined(parts) {
  if (parts.length === 1) return parts[0];
  const found = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    found.set(part, at);
    at += part.length;
  }
  return found;
}

const LONGEST = 1 << 16; // signs; keys and signatures have some hundred, and a browser chokes on millions
const WHOLE = /^(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?$/;

// The bytes of base64 with its padding, or null.
export function loose64(text) {
  return text.length <= LONGEST && WHOLE.test(text) ? Uint8Array.from(atob(text), (one) => one.charCodeAt(0)) : null;
}

// The same, and nothing in the last sign that nobody reads: each bytes have one text.
export function strict64(text) {
  const found = loose64(text);
  return found && btoa(String.fromCharCode(...found)) === text ? found : null;
}
