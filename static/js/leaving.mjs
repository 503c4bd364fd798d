// The page of the log-out: says what waits to be sent, and takes the pages and what opens the lock off this phone first.

import { held } from "./held.mjs";
import { ask } from "./pages.mjs";
import { forgetVerifier } from "./verifier.mjs";
import { fill } from "./when.mjs";

const ref = document.documentElement.dataset.person;
const form = document.querySelector("form[data-leaving]");

async function begin() {
  form.addEventListener("submit", async (event) => {
    if (form.dataset.leaving === "sent") return;
    event.preventDefault();
    form.dataset.leaving = "sent";
    const gone = [ask({ kind: "empty" }), forgetVerifier(ref).catch(() => {})];
    await Promise.race([Promise.all(gone), new Promise((done) => setTimeout(done, 3000))]);
    for (const name of ["locked", "touched", "tries"]) localStorage.removeItem(`lineworthy-${name}`);
    form.submit();
  });
  const waiting = (await held()).filter((deed) => deed.ref === ref).length;
  const say = document.querySelector("[data-leaving-waiting]");
  say.textContent = fill(say.dataset.words, { count: waiting });
  say.hidden = waiting === 0;
}

if (form && globalThis.indexedDB) begin().catch(() => {});
