// Lets the server know that this phone is in use, and what is held on it: when a page is opened, and while one is looked at.

import { hello, tellHeld } from "./hello.mjs";

const EVERY = 120000; // ms
const CALM = 1500; // ms: first comes what the page itself asks for

async function say() {
  if (document.visibilityState !== "visible" || navigator.onLine === false) return;
  const told = await hello();
  if (told?.person) await tellHeld(told);
}

if (globalThis.indexedDB && navigator.locks) {
  setTimeout(say, CALM);
  setInterval(say, EVERY);
  document.addEventListener("visibilitychange", say);
  window.addEventListener("online", say);
}
