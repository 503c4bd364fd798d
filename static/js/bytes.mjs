// Bytes and their spellings, as the history has them.

export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  // The order of UTF-16 code units, as RFC 8785 asks for.
  const parts = Object.keys(value).sort().map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`);
  return `{${parts.join(",")}}`;
}

export const encoded = (text) => new TextEncoder().encode(text);

export const base64 = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer)));

export const hex = (buffer) => Array.from(new Uint8Array(buffer), (one) => one.toString(16).padStart(2, "0")).join("");

export const fromHex = (text) => Uint8Array.from(text.match(/../g) ?? [], (two) => parseInt(two, 16));

export const sha256 = async (data) => hex(await crypto.subtle.digest("SHA-256", data));
