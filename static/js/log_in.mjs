// The log-in page: what the idle lock holds the password against without a signal is made here, while it is sent.

import { forgetLogIn, rememberLogIn } from "./verifier.mjs";

const PATIENCE = 4000; // ms: nobody waits for it longer, and without it the lock asks the server

const form = document.querySelector("form[data-log-in]");

async function begin() {
  await forgetLogIn(); // a log-in that was refused is nobody's
  form.addEventListener("submit", async (event) => {
    const password = form.querySelector("input[type=password]")?.value;
    if (!password || form.dataset.logIn === "sent") return;
    event.preventDefault();
    form.dataset.logIn = "sent";
    const enough = new Promise((done) => setTimeout(done, PATIENCE));
    await Promise.race([rememberLogIn(password).catch(() => {}), enough]);
    form.submit();
  });
  window.addEventListener("pageshow", () => (form.dataset.logIn = ""));
}

if (form && globalThis.crypto?.subtle && globalThis.indexedDB) begin().catch(() => {});
