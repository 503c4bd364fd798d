// What was signed on this phone and is not yet known to stand in the history, and the photos of what is, until they are
// there too. Written so that it outlives a battery that runs out; a store of its own, so that no open page of an older
// version stands in the way of a newer one.

import { storeIn } from "./stored.mjs";

const within = storeIn("lineworthy-held", "deeds");

export const hold = (deed) => within("readwrite", (store) => store.put(deed));
export const letGo = (id) => within("readwrite", (store) => store.delete(id));
export const heldDeed = (id) => within("readonly", (store) => store.get(id));

const all = async () =>
  (await within("readonly", (store) => store.getAll())).sort((one, other) => one.order - other.order);
export const held = async () => (await all()).filter((one) => one.received === undefined);

// Deeds that were received as entry `received` and of which a photo is here still: in `fields`, as it was in the deed.
export const photosHeld = async () => (await all()).filter((one) => one.received !== undefined);
export const isPhoto = ([, value]) => typeof value !== "string";

// What was not taken before, of the same page and day, has been put right by what is signed there now, where that names
// every item of it: a page may have come to ask for less, and then a defect would go with what is let go. What was a
// defect, or insisted on, has to be said again. `now`: `saidIn` what is signed now.
export async function forgetRefused({ ref, page, day }, now) {
  const isThere = ({ key, kept, mark, text }) =>
    now.has(key) && ((!kept && mark !== "defect") || now.get(key) === said({ mark, text }));
  for (const one of await held()) {
    const { date, readings = [] } = JSON.parse(one.act);
    const isHere = one.refused && one.ref === ref && one.page === page && date === day;
    if (isHere && readings.every(isThere)) await letGo(one.id);
  }
}
const said = ({ mark = "", text = "" }) => `${mark}|${text}`;
// What an act says of its items: key of an item -> a text that is the same where the same was said.
export const saidIn = (act) => new Map((JSON.parse(act).readings ?? []).map((one) => [one.key, said(one)]));

// A form's fields as they can be kept: files as their bytes, since a phone may take away the file behind one.
export async function kept(fields) {
  const found = [];
  for (const [name, value] of fields) {
    if (name === "csrfmiddlewaretoken") continue;
    if (typeof value === "string") found.push([name, value]);
    else if (value.size) found.push([name, { name: value.name, type: value.type, bytes: await value.arrayBuffer() }]);
  }
  return found;
}

export function unfolded(fields) {
  const data = new FormData();
  for (const [name, value] of fields)
    data.append(name, typeof value === "string" ? value : new File([value.bytes], value.name, { type: value.type }));
  return data;
}
