// What a password can be held against without a signal: PBKDF2 with SHA-256 and a salt of its own, never the password.
// It lies on this phone for who is logged in, and is forgotten at the log-out.

import { forget, setInstead, setValue, value } from "./phone.mjs";

const ROUNDS = 600000; // as OWASP's Password Storage Cheat Sheet asks of PBKDF2 with SHA-256 (from memory)
const WAITING = "verifier of the log-in"; // made when the form was sent; whose it is, the next page says
const SOON = 5 * 60000; // ms within which that page comes

async function derived(password, salt, rounds) {
  const key = await crypto.subtle.importKey("raw", new TextEncoder().encode(password), "PBKDF2", false, ["deriveBits"]);
  return new Uint8Array(await crypto.subtle.deriveBits({ name: "PBKDF2", hash: "SHA-256", salt, iterations: rounds }, key, 256));
}

async function made(password) {
  const salt = crypto.getRandomValues(new Uint8Array(16));
  return { salt, rounds: ROUNDS, hash: await derived(password, salt, ROUNDS), at: Date.now() };
}

export const verifierOf = (ref) => value(`verifier:${ref}`);
export const forgetVerifier = (ref) => forget(`verifier:${ref}`);
export const remember = async (ref, password) => setValue(`verifier:${ref}`, await made(password));

export async function isRight(ref, password) {
  const kept = await verifierOf(ref);
  if (!kept) return false;
  const found = await derived(password, kept.salt, kept.rounds);
  return found.every((byte, at) => byte === kept.hash[at]);
}

// --- the lock

// What was last done with it: "locked", "open", or nothing where this person was not here before. Kept here and not in
// localStorage, which a browser writes up to minutes later: a battery that dies would take the lock with it.
export const lockOf = (ref) => value(`lock:${ref}`);
export const keepLocked = (ref) => setValue(`lock:${ref}`, "locked");
export const forgetLock = (ref) => forget(`lock:${ref}`);
// A phone that is full may still take something away.
export const keepOpen = (ref) => setValue(`lock:${ref}`, "open").catch(() => forgetLock(ref));

// --- a log-in

export const rememberLogIn = async (password) => setValue(WAITING, await made(password));
export const forgetLogIn = () => forget(WAITING);

// Says whether this page comes right after a log-in; what was made there is then this person's. Asked on a page of the
// server alone: before one that was kept, any word may have been typed.
export async function cameIn(ref) {
  const waiting = await value(WAITING);
  if (!waiting) return false;
  const age = Date.now() - waiting.at;
  const isSoon = age >= 0 && age < SOON;
  await (isSoon ? setInstead(WAITING, `verifier:${ref}`, waiting) : forgetLogIn());
  return isSoon;
}
