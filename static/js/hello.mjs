// Says hello to the server: who is logged in here, the token that forms go with, and the time; tells what is held, so
// that others know what this phone owes (inspections.views.hello). Works in pages and in the worker.

import { measured } from "./clock.mjs";
import { held } from "./held.mjs";
import { listed } from "./keeping.mjs";
import { setValue, value } from "./phone.mjs";

const ADDRESS = "/phone/hello/";
const PATIENCE = 15000; // ms
const LONGEST = 120; // characters of a title

async function asked(options) {
  try {
    const more = { headers: { Accept: "application/json", ...options.headers }, signal: AbortSignal.timeout(PATIENCE) };
    const since = Date.now();
    const answer = await fetch(ADDRESS, { cache: "no-store", redirect: "manual", ...options, ...more });
    const told = await answer.json();
    if (told?.now && told.csrf) await measured(told.now, since, Date.now()).catch(() => {});
    // A guest network that answers for everything names no person and no token.
    return typeof told?.person === "string" && told.csrf && told.now ? told : null;
  } catch {
    return null;
  }
}

// {person, csrf, now}, or null where the server does not answer.
export const hello = () => asked({});

async function phone() {
  const known = await value("phone");
  const name = known ?? crypto.randomUUID();
  if (!known) await setValue("phone", name);
  return name;
}

// The day that is kept on this phone, or "".
async function dayKept(ref) {
  const walks = [...(await listed(ref))].filter(([path]) => path.endsWith("/walk/"));
  const newest = Math.max(0, ...walks.map(([, page]) => page.here.getTime()));
  return newest ? new Date(newest).toLocaleDateString("en-CA") : "";
}

const SHEETS = ["sheet", "amendment"];

// A deed as the server is told of it: nothing of what was typed, but whose it is, where it is about, and whether it takes
// something out of service or leaves something unchecked.
export function named({ id, kind, title, made_at, page, ref, act }) {
  const { place, component, readings } = JSON.parse(act);
  const out = Boolean(readings?.some((one) => one.kept));
  const unknown = SHEETS.includes(kind) && Boolean(readings?.some((one) => one.mark === "not_done"));
  return { id, kind, title: title.slice(0, LONGEST), made_at, page, ref, place, part: component, out, unknown };
}

// Tells the server all that is held on this phone, whoever signed it. One at a time: what is told last is the newest.
export const tellHeld = (told) =>
  navigator.locks.request("lineworthy-hello", async () => {
    const said = { phone: await phone(), held: (await held()).map(named), has: await dayKept(told.person) };
    const headers = { "Content-Type": "application/json", "X-CSRFToken": told.csrf };
    return asked({ method: "POST", body: JSON.stringify(said), headers });
  });
