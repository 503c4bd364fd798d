// Pages kept on this phone: each person's in a cache of their own, as the server gave them, with when that was. What may
// be kept is said by the server (inspections.kept_pages); no other answer gets in here.

import { forget, forgetAll, setValue, value } from "./phone.mjs";

const PAGES = "lineworthy-pages-";
const PERSON = "X-Lineworthy-Person"; // on every page of ours; a guest network's page has none
const KEEP = "X-Lineworthy-Keep";
const SERVED = "X-Lineworthy-Served"; // by the server's clock: what is said
const HERE = "X-Lineworthy-Here"; // by this phone's: how old it is
const BYTES = "X-Lineworthy-Bytes";
const UNTIL = "X-Lineworthy-Until"; // on a paper: the end of its day, by the server's clock

export const isOurs = (answer) => answer.headers.has(PERSON);
export const mayKeep = (answer) => answer.status === 200 && answer.headers.get(KEEP) === "1";
// A sentence that is shown once stood on it: the page is asked for again, to be kept without.
export const askAgain = (answer) => answer.headers.get(KEEP) === "again";
export const personOf = (answer) => (answer.headers.get(PERSON) ?? "-").replace(/^-$/, "");

export const person = async () => (await value("person").catch(() => "")) || "";
const own = (ref) => caches.open(PAGES + ref);

// The pages of whoever was here before are nobody else's business.
export async function settle(ref) {
  if (!ref || (await person()) === ref) return;
  for (const name of await caches.keys()) if (name.startsWith(PAGES) && name !== PAGES + ref) await caches.delete(name);
  await setValue("person", ref);
}

// At a log-in: nobody is here until a page says who. Forgotten, not written anew: a full phone can do that too; where
// it cannot, the pages go.
export async function nobody() {
  await forget("person").catch(dropAll);
}

async function dropAll() {
  for (const name of await caches.keys()) if (name.startsWith(PAGES)) await caches.delete(name);
}

// At the log-out: no page of anybody stays, nor what a password can be held against. What waits to be sent does.
export async function empty() {
  await dropAll();
  await forget("person");
  await forgetAll("verifier:");
}

export async function keep(ref, path, answer) {
  const body = await answer.arrayBuffer();
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length", "Vary", KEEP]) headers.delete(name);
  const here = new Date();
  const served = new Date(headers.get("Date") ?? here);
  headers.set(SERVED, (Number.isNaN(served.getTime()) ? here : served).toISOString());
  headers.set(HERE, here.toISOString());
  headers.set(BYTES, body.byteLength);
  await (await own(ref)).put(path, new Response(body, { headers }));
}

export const drop = async (ref, path) => (await own(ref)).delete(path);

const isPaper = (copy) => copy.headers.get("Content-Type")?.startsWith("application/pdf");

// A paper cannot say itself that it is old: it is kept for its day. How long ago it came, this phone's clock says.
function isOver({ headers }) {
  const age = Date.now() - Date.parse(headers.get(HERE));
  return !(age >= 0 && age < Date.parse(headers.get(UNTIL)) - Date.parse(headers.get(SERVED)));
}

export async function kept(ref, path) {
  const copy = ref ? await (await own(ref)).match(path) : undefined;
  return copy && isPaper(copy) && isOver(copy) ? undefined : copy;
}

// The page as it is shown without a signal: it says of itself since when it is kept.
export async function shown(copy) {
  if (isPaper(copy)) return copy;
  const marks = ` data-kept="${copy.headers.get(SERVED)}" data-kept-here="${copy.headers.get(HERE)}"`;
  return new Response((await copy.text()).replace("<html", () => `<html${marks}`), { headers: copy.headers });
}

// What is kept: path -> {served, here, bytes}.
export async function listed(ref) {
  const found = new Map();
  if (!ref) return found;
  const cache = await own(ref);
  for (const request of await cache.keys()) {
    const copy = await cache.match(request);
    if (!copy) continue;
    const { headers } = copy;
    found.set(new URL(request.url).pathname, {
      served: new Date(headers.get(SERVED)), here: new Date(headers.get(HERE)), bytes: Number(headers.get(BYTES)),
    });
  }
  return found;
}
