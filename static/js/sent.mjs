// What was received of this phone in the last days: so that a page that was kept before does not offer its form again, nor
// speak as if nothing of it were known.

import { storeIn } from "./stored.mjs";

const within = storeIn("lineworthy-sent", "deeds");
const LONGEST = 3 * 86400000; // ms

// {id, ref, title, page, day, locks, seq, at, said}, and {kind, act, made_at, signed} of what had waited here; `said`: its
// person has been told.
export const keepSent = (one) => within("readwrite", (store) => store.put(one));

export const sent = async () =>
  (await within("readonly", (store) => store.getAll())).sort((one, other) => one.at - other.at);

export async function clearSent(now) {
  const old = (await sent()).filter((one) => now - one.at > LONGEST);
  if (old.length) await within("readwrite", (store) => void old.forEach((one) => store.delete(one.id)));
}
