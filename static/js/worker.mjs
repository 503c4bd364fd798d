// Stands between the pages and the network: a page that is kept on this phone is shown where the network does not give
// one in time, and says so itself. It answers page loads and static files, nothing else: what a script asks for is
// never answered from the phone.

import { askAgain, drop, empty, isOurs, keep, kept, listed, mayKeep, nobody, person, personOf, settle, shown } from "./keeping.mjs";
import { setValue, value } from "./phone.mjs";
import { LOCK, TAG, sendHeld } from "./sending.mjs";

const SHELL = "lineworthy-shell-";
const PATIENCE = 3000; // ms that a page which is kept waits for the network
const LONG = 30000; // ms for one page to be taken along
const GATHER = 60000; // ms that a page which is out of date waits at most for the rest of what is being sent
const SETTLE = 500; // ms until a page has read what was received last
const HASHED = /\.[0-9a-f]{12}\.\w+$/; // the content of such an address never changes
const HARMLESS = new Set(["line", "cause", "place", "slot", "component", "tag"]); // they only fill in, of a page that is kept without

let config;
let emptied = 0; // what was asked for before a log-out is not kept after it

const wait = (ms) => new Promise((done) => setTimeout(done, ms));
const plain = (answer) => {
  const headers = new Headers(answer.headers);
  for (const name of ["Vary", "Content-Encoding", "Content-Length"]) headers.delete(name);
  return answer.blob().then((body) => new Response(body, { headers }));
};

// --- files

const shell = () => caches.open(SHELL + config.version);

const putFile = async (address, answer) => (await shell()).put(address, await plain(answer));

// `until` is given what is still to be written; where there is no room, the file comes from the network all the same.
async function file(address, until) {
  const old = await caches.match(address, { ignoreVary: true });
  if (old && HASHED.test(new URL(address, location.origin).pathname)) return old;
  let answer;
  try {
    answer = await fetch(address);
  } catch (error) {
    if (old) return old;
    throw error;
  }
  if (answer.status === 200 && answer.type === "basic") until(putFile(address, answer.clone()).catch(() => {}));
  return answer;
}

// A page is of use only with the files it names, and those with the ones they name.
const IN_PAGE = /(?:src|href)="([^"#]+)/g;
const NAMED = { mjs: /^import [^"]*"([^"]+)";$/gm, css: /url\("?([^")#]+)/g };
const SPARE = /latin-ext/; // letters of few names: kept when a page needs them, so that a first visit is light
const looked = new Set();

async function files(text, base, pattern = IN_PAGE) {
  for (const [, name] of text.matchAll(pattern)) {
    const { href, origin, pathname } = new URL(name, base);
    if (origin !== location.origin || !pathname.startsWith(config.statics) || looked.has(href) || SPARE.test(pathname)) continue;
    looked.add(href);
    try {
      const writing = [];
      const answer = await file(href, (one) => writing.push(one));
      await Promise.all(writing);
      const within = NAMED[pathname.split(".").at(-1)];
      if (answer.status !== 200) looked.delete(href);
      else if (within) await files(await answer.text(), href, within);
    } catch {
      looked.delete(href);
    }
  }
}

// --- pages

// Keep what may be kept of an answer; says why not.
async function store(path, answer, began) {
  const ref = isOurs(answer) ? personOf(answer) : "";
  if (!ref) return "other";
  if (emptied !== began) return "login";
  await settle(ref);
  if ([403, 404, 410].includes(answer.status)) return await drop(ref, path), "gone";
  if (!mayKeep(answer)) return "other";
  const text = answer.headers.get("Content-Type")?.startsWith("text/html") ? await answer.clone().text() : "";
  try {
    await keep(ref, path, answer);
  } catch {
    return "room";
  }
  if (emptied !== began) return await drop(ref, path), "login";
  await files(text, location.origin);
  return "";
}

async function take(path, again = true) {
  const began = emptied;
  let answer;
  try {
    const headers = { Accept: "text/html,application/pdf" };
    const signal = AbortSignal.timeout(LONG);
    answer = await fetch(path, { headers, signal, cache: "no-store", credentials: "same-origin", redirect: "manual" });
  } catch {
    return "signal";
  }
  if (answer.type === "opaqueredirect") return "login";
  if (again && isOurs(answer) && askAgain(answer)) return take(path, false);
  return store(path, answer, began);
}

// A page that what is being sent makes out of date: once for the whole round, after it.
const outdated = new Map(); // path -> what becomes of it

function takeAfterSending(path) {
  if (!outdated.has(path)) {
    const sent = navigator.locks.request(LOCK, { mode: "shared", signal: AbortSignal.timeout(GATHER) }, () => {});
    const through = sent.catch(() => {}).then(() => wait(SETTLE));
    outdated.set(path, through.then(() => (outdated.delete(path), inTurn(path))));
  }
  return outdated.get(path);
}

// One by one: a sentence that is shown once stands on the first of them alone, and only that is asked for again.
let turn = Promise.resolve();
const inTurn = (path) => (turn = turn.then(() => take(path)));

const asked = (path, ms) => fetch(path, { cache: "no-store", credentials: "omit", redirect: "manual", signal: AbortSignal.timeout(ms) });

// Where a redirect leads is not shown to a worker; whether it is our server that answers is.
async function isOurServer() {
  try {
    return isOurs(await asked(config.page, PATIENCE));
  } catch {
    return false;
  }
}

// What the network answers for a page, or nothing where that is no answer of ours.
async function live(event, began, hasCopy) {
  const { request } = event;
  const path = new URL(request.url).pathname;
  let answer;
  try {
    answer = await fetch(request);
  } catch {
    return undefined;
  }
  if ([502, 503, 504].includes(answer.status) && !isOurs(answer)) return undefined;
  if (answer.type === "opaqueredirect") return !hasCopy || (await isOurServer()) ? answer : undefined;
  if (!isOurs(answer)) return hasCopy ? undefined : answer;
  if (askAgain(answer)) event.waitUntil(take(path, false));
  else if (!new URL(request.url).search) event.waitUntil(store(path, answer.clone(), began));
  return answer;
}

async function tellFresh(id, path) {
  const client = id ? await self.clients.get(id) : undefined;
  client?.postMessage({ kind: "fresh", path });
}

// Where a label's address leads by what "Today on this phone" carries (inspections.views.tag.carried), or nothing.
const LABEL = /\/tag\/([A-Za-z0-9_-]{22})\/$/;
const CARRIED = /<script id="labels" type="application\/json">([^<]*)<\/script>/;

async function ledTo(path) {
  const [, token] = LABEL.exec(path) ?? [];
  if (!token) return undefined;
  const ref = await person();
  for (const [address] of await listed(ref)) {
    if (!address.endsWith("/phone/")) continue;
    const [, text] = CARRIED.exec((await (await kept(ref, address))?.text()) ?? "") ?? [];
    const { paths, labels } = JSON.parse(text ?? '{"paths": [], "labels": {}}');
    const [place, query] = labels[token] ?? [];
    if (place !== undefined && (await kept(ref, paths[place]))) return query ? `${paths[place]}?${query}` : paths[place];
  }
  return undefined;
}

async function page(event) {
  const began = emptied;
  const url = new URL(event.request.url);
  const fits = [...url.searchParams.keys()].every((name) => HARMLESS.has(name));
  const copy = fits ? await person().then((ref) => kept(ref, url.pathname)).catch(() => undefined) : undefined;
  const led = copy ? undefined : await ledTo(url.pathname).catch(() => undefined);
  const asking = live(event, began, Boolean(copy || led));
  const isLogOut = url.pathname === config.logout; // who wants it is not kept waiting: the page for no signal locks
  const answer = await (copy || led || isLogOut ? Promise.race([asking, wait(PATIENCE * (isLogOut ? 2 : 1))]) : asking);
  if (answer) return answer;
  if (led) return Response.redirect(new URL(led, location.origin), 302);
  if (copy) {
    event.waitUntil(asking.then((late) => late && tellFresh(event.resultingClientId, url.pathname)));
    return shown(copy);
  }
  return (await caches.match(config.page)) ?? Response.error();
}

async function loggedOut(request) {
  const answer = await fetch(request).catch(() => undefined);
  if (!answer) return (await caches.match(config.page)) ?? Response.error();
  if (answer.type === "opaqueredirect" || isOurs(answer)) await forgetPages();
  return answer;
}

// Who logs in is known when the first page comes: until then nobody's pages are shown.
async function loggedIn(request) {
  const answer = await fetch(request).catch(() => undefined);
  if (!answer) return (await caches.match(config.page)) ?? Response.error();
  if (answer.type === "opaqueredirect") {
    emptied += 1;
    await nobody();
  }
  return answer;
}

async function forgetPages() {
  emptied += 1;
  await empty();
}

// --- what waits to be sent

// With no page open (Background Sync). After an error the browser tries again by itself.
async function sendWaiting() {
  const sent = new Set();
  const { failed, busy } = await sendHeld(({ what, page }) => what === "received" && sent.add(page));
  const open = await self.clients.matchAll({ type: "window" }); // an open page has its own fetched anew
  for (const page of open.length ? [] : sent)
    for (const path of [page, page.replace(/^(\/course\/[^/]+\/).*$/, "$1walk/")]) await take(path);
  if (failed || busy) throw new Error("not everything was sent");
}

// --- the worker itself

async function install() {
  const cache = await shell();
  const made = new Request(config.page, { cache: "reload", credentials: "omit" });
  const page = await fetch(made);
  if (page.status !== 200 || !isOurs(page)) throw new Error("no page for no signal");
  await cache.put(config.page, await plain(page.clone()));
  for (const address of config.shell) {
    const answer = (await caches.match(address, { ignoreVary: true })) ?? (await fetch(address));
    if (answer.status !== 200) throw new Error(`${address}: ${answer.status}`);
    await cache.put(address, await plain(answer));
  }
  await files(await page.text(), location.origin);
}

// The shell before this one stays: pages that are kept may name its files.
async function activate() {
  const before = (await value("shells").catch(() => [])) ?? [];
  const stay = [config.version, ...before.filter((one) => one !== config.version)].slice(0, 2);
  await setValue("shells", stay);
  for (const name of await caches.keys())
    if (name.startsWith(SHELL) && !stay.includes(name.slice(SHELL.length))) await caches.delete(name);
}

const answers = {
  take: async ({ path, isAfter }) => ({ why: await (isAfter ? takeAfterSending(path) : take(path)) }),
  empty: async () => (await forgetPages(), {}),
  person: async ({ ref }) => (await settle(ref), {}),
  "take over": async () => (await self.skipWaiting(), {}),
};

export function serve(given) {
  config = given;
  self.addEventListener("install", (event) => event.waitUntil(install()));
  self.addEventListener("activate", (event) => event.waitUntil(activate()));
  self.addEventListener("message", (event) => {
    const answer = answers[event.data?.kind];
    if (answer) event.waitUntil(answer(event.data).then((said) => event.ports[0]?.postMessage(said)));
  });
  self.addEventListener("sync", (event) => event.tag === TAG && event.waitUntil(sendWaiting()));
  self.addEventListener("fetch", (event) => {
    const { request } = event;
    const { origin, pathname } = new URL(request.url);
    if (origin !== location.origin) return;
    if (request.mode === "navigate" && request.method === "GET") event.respondWith(page(event));
    else if (request.mode === "navigate" && pathname === config.logout) event.respondWith(loggedOut(request));
    else if (request.mode === "navigate" && config.logins.some((one) => pathname.startsWith(one))) event.respondWith(loggedIn(request));
    else if (request.method === "GET" && pathname.startsWith(config.statics))
      event.respondWith(file(request.url, (one) => event.waitUntil(one)));
  });
}
