// The page for no signal: leads to what is kept on this phone. In place of the log-out, which is the server's to do, it
// locks the phone.

import { held } from "./held.mjs";
import { kept, listed, person } from "./keeping.mjs";
import { keepLocked, verifierOf } from "./verifier.mjs";
import { fill, isOfToday } from "./when.mjs";

// The page is kept without anybody's cookies; the ground that was chosen is in one.
const theme = document.cookie.match(/(?:^|; )theme=(light|dark)/)?.[1];
if (theme) document.documentElement.dataset.theme = theme;

const place = document.querySelector("[data-kept-pages]");

// What an address is a page of, in the order in which one looks for it.
const KINDS = [
  ["walk", /^\/course\/[^/]+\/walk\/$/],
  ["phone", /^\/course\/[^/]+\/phone\/$/],
  ["board", /^\/course\/[^/]+\/$/],
  ["hold", /^\/course\/[^/]+\/hold\/$/],
  ["withdraw", /^\/course\/[^/]+\/out-of-service\/$/],
  ["findings", /^\/course\/[^/]+\/findings\/$/],
];

const ref = await person();

// Only what can be opened again without a signal is locked.
async function lockInstead(box) {
  document.querySelector("[data-is-page]").hidden = true;
  box.hidden = false;
  const isLocked = Boolean(ref && (await verifierOf(ref).catch(() => undefined)));
  if (isLocked) await keepLocked(ref).catch(() => {});
  if (isLocked) localStorage.setItem("lineworthy-locked", ref);
  box.querySelector(isLocked ? "[data-log-out-locked]" : "[data-log-out-open]").hidden = false;
  const count = (await held()).filter((deed) => deed.ref === ref).length;
  const waiting = box.querySelector("[data-log-out-waiting]");
  waiting.textContent = fill(waiting.dataset.words, { count });
  waiting.hidden = count === 0;
}

// Whoever comes here from a page that had just held something does not wonder where it is.
async function sayUnsent(box) {
  const count = (await held()).filter((deed) => deed.ref === ref).length;
  box.textContent = `${fill(box.dataset.words, { count })} ${box.dataset.wordsGoes}`;
  box.hidden = !ref || count === 0;
}
await sayUnsent(document.querySelector("[data-unsent]")).catch(() => {});

const logOut = document.querySelector("[data-log-out]");
if (location.pathname === logOut.dataset.logOut) await lockInstead(logOut).catch(() => {});

const found = await listed(ref);
for (const [kind, address] of KINDS)
  for (const path of found.keys()) {
    if (!address.test(path)) continue;
    const link = Object.assign(document.createElement("a"), { className: "rows__link", href: path });
    link.append(Object.assign(document.createElement("span"), { className: "rows__title", textContent: place.dataset[kind] }));
    const row = document.createElement("li");
    row.append(link);
    place.append(row);
  }

// Who opens the app where there is no signal is not told first that something is missing.
const walk = KINDS.find(([kind]) => kind === "walk")[1];
const [toWalk] = [...found].find(([path, one]) => walk.test(path) && isOfToday(one.here)) ?? [];
if (location.pathname === "/" && toWalk) {
  const go = document.querySelector("[data-go-walk]");
  const list = await (await kept(ref, toWalk.replace(/walk\/$/, "phone/")))?.text();
  const wanted = Array.from((list ?? "").matchAll(/data-take="([^"]+)"/g), ([, path]) => path);
  const isHere = (path) => found.has(path) && isOfToday(found.get(path).here);
  const isWhole = wanted.length > 0 && wanted.every(isHere);
  document.querySelector("[data-is-page]").textContent = isWhole ? go.dataset.words : go.dataset.wordsSome;
  document.querySelector("[data-again]").classList.remove("button--primary");
  Object.assign(go, { href: toWalk, hidden: false });
}
document.querySelector(place.children.length ? "[data-some]" : "[data-none]").hidden = false;
document.querySelector("[data-again]").href = location.href;
