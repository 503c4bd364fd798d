// Takes the pages of a day along: has the worker fetch and keep each, a few at a time.

import { hello, tellHeld } from "./hello.mjs";
import { kept, listed, person } from "./keeping.mjs";
import { refetch } from "./pages.mjs";
import { isOfToday } from "./when.mjs";

const AT_ONCE = 3;
const OLD = 30 * 60000; // ms after which the walk has them taken along anew
const CALM = 4000; // ms after the walk was opened: first comes what one looks at

// From the walk on the day is on this phone. The server is told at once: whoever goes out with it may have no signal in
// a minute, and would not be asked about.
async function tellTaken() {
  const told = await hello();
  if (told?.person) await tellHeld(told);
}

// Tells of each page as it is done: tell(path, why), with an empty why where it is kept now.
export async function takeAlong(paths, tell = () => {}) {
  const left = [...paths];
  const next = async () => {
    for (let path = left.shift(); path; path = left.shift()) {
      const { why = "other" } = await refetch(path);
      await tell(path, why);
      if (!why && path.endsWith("/walk/")) tellTaken().catch(() => {});
      if (["signal", "login"].includes(why)) left.length = 0; // the others would end the same way
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, next));
}

// What a page of a day says is to be taken along.
export const named = (page) => Array.from(page.querySelectorAll("[data-take]"), (one) => one.dataset.take);

const read = async (page) => named(new DOMParser().parseFromString(await page.text(), "text/html"));
const isNoTime = () => document.hidden || navigator.onLine === false || navigator.connection?.saveData;

// Of a day that was taken along, the pages that are not here; `address` is that of its list.
export async function takeMissing(address) {
  const ref = await person();
  const have = await listed(ref);
  if (isNoTime() || !have.has(address) || !isOfToday(have.get(address).here)) return;
  const page = await kept(ref, address);
  if (page) await takeAlong((await read(page)).filter((path) => !have.has(path)));
}

async function quietly(address) {
  if (document.documentElement.dataset.kept || isNoTime()) return;
  const ref = await person();
  const before = (await listed(ref)).get(address);
  if (before && new Date() - before.here < OLD) return;
  if ((await refetch(address)).why !== "") return;
  const page = await kept(await person(), address);
  if (page) await takeAlong(await read(page));
}

const link = globalThis.document?.querySelector("[data-take-quietly]");
if (link && navigator.serviceWorker?.controller)
  setTimeout(() => quietly(new URL(link.href).pathname).catch(() => {}), CALM);
