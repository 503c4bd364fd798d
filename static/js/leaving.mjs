// The page of the log-out: says what waits to be sent, and takes the pages and what opens the lock off this phone first.
// Where the server does not answer nothing is taken off: the page for no signal says what is done instead.

import { held } from "./held.mjs";
import { hello } from "./hello.mjs";
import { ask } from "./pages.mjs";
import { forgetLock, forgetVerifier, keepLocked, verifierOf } from "./verifier.mjs";
import { fill } from "./when.mjs";

const PATIENCE = 6000; // ms
const wait = (ms) => new Promise((done) => setTimeout(done, ms));
const ref = document.documentElement.dataset.person;
const form = document.querySelector("form[data-leaving]");

// The page for no signal says it (no_signal.mjs); what it locks has to be locked after a battery that died, too.
async function lockInstead() {
  if (await verifierOf(ref).catch(() => undefined)) await keepLocked(ref).catch(() => {});
  location.reload();
}

async function begin() {
  form.addEventListener("submit", async (event) => {
    if (form.dataset.leaving === "sent") return;
    event.preventDefault();
    form.dataset.leaving = "sent";
    if (!(await Promise.race([hello(), wait(PATIENCE)]))) return lockInstead();
    const gone = [ask({ kind: "empty" }), forgetVerifier(ref).catch(() => {}), forgetLock(ref).catch(() => {})];
    await Promise.race([Promise.all(gone), wait(PATIENCE / 2)]);
    for (const name of ["locked", "touched", "tries"]) localStorage.removeItem(`lineworthy-${name}`);
    form.submit();
  });
  const waiting = (await held()).filter((deed) => deed.ref === ref).length;
  const say = document.querySelector("[data-leaving-waiting]");
  say.textContent = fill(say.dataset.words, { count: waiting });
  say.hidden = waiting === 0;
}

if (form && globalThis.indexedDB) begin().catch(() => {});
