// What is typed and not signed yet, kept on this phone item by item: it is there again after a dead battery. Each entry
// is one item, one field or one photo of a page, of a person, of a day: {id, owner, ref, path, day, unit, deed, title,
// fields, base, at, confirmed}. `fields`: what it holds; `base`: what the server's page held before; `confirmed`: when the
// server was known to have it, or 0. A photo has {name, hash, type, bytes} in place of fields. `tab`, `n`, `seen`: which
// tab wrote it, and what it knew then (`tabs.mjs`). The unit "signing" holds nothing: it says whose page a deed is of.
// `out`: {key, text, part, address, hidden} of an answer that takes something out of service as soon as the server knows.

import { storeIn } from "./stored.mjs";

const within = storeIn("lineworthy-drafts", "drafts");
const LONGEST = 3 * 86400000; // ms

export const ownerOf = (ref, page, day) => `${ref}|${page}|${day}`;
export const idOf = (owner, unit) => `${owner}|${unit}`;

export const putDrafts = (records) =>
  within("readwrite", (store) => void records.forEach((one) => store.put(one)));
export const removeDrafts = (ids) => within("readwrite", (store) => void ids.forEach((id) => store.delete(id)));
export const draftsOf = (owner) =>
  within("readonly", (store) => store.getAll(IDBKeyRange.bound(`${owner}|`, `${owner}|\uffff`)));

// Pages of a person and a day of which something is typed and not signed: told by the names of the entries, so that no
// photo is read for it.
export async function begunPages(ref, day) {
  const ids = await within("readonly", (store) => store.getAllKeys(IDBKeyRange.bound(`${ref}|`, `${ref}|\uffff`)));
  const parts = ids.map((id) => id.split("|")).filter(([, , of, unit]) => of === day && unit !== "signing");
  return new Set(parts.map(([, page]) => page));
}

// What is out of service by an answer that the server is not known to have, of a person, or of anybody; no photo is
// read for it.
export async function outHere(ref) {
  const range = ref && IDBKeyRange.bound(`${ref}|`, `${ref}|\uffff`);
  const ids = await within("readonly", (store) => store.getAllKeys(range));
  const found = [];
  for (const id of ids) if (!id.split("|")[3].startsWith("photo:")) found.push(await draft(id));
  return found.filter((one) => one?.out && !one.confirmed);
}
export const draft = (id) => within("readonly", (store) => store.get(id));

// Held by a page while it is open: what is filled in there is sent by itself.
export const OPEN = "lineworthy-open|";

const all = () => within("readonly", (store) => store.getAll());
const removeThose = async (are) => {
  const ids = (await all()).filter(are).map((one) => one.id);
  if (ids.length) await removeDrafts(ids);
};

// The deed of a page is signed and held here, or was received.
export const forgetPage = (ref, path) => removeThose((one) => one.ref === ref && one.path === path);

// Of what was typed for a deed: {ref, path, day, title}, or undefined.
export const pageOfDeed = async (deed) => (await all()).find((one) => one.deed === deed);

// What can be spared when the phone is full: photos that the server has already.
export const sparePhotos = () => removeThose((one) => one.hash && one.confirmed);

export const clearDrafts = (now) => removeThose((one) => now - one.at > LONGEST);

// What was typed for a deed that is held, as a draft of its page again: to put right what was not taken.
export async function asDraft(deed) {
  const { ref, page: path, title } = deed;
  const day = JSON.parse(deed.act).date ?? "";
  const owner = ownerOf(ref, path, day);
  const at = Date.parse(deed.made_at);
  const same = { owner, ref, path, day, title, deed: deed.id, at, confirmed: 0 };
  const isPhoto = ([, value]) => typeof value !== "string";
  const photos = deed.fields.filter(isPhoto).map(([name, { name: file, type, bytes }], number) => {
    const hash = file.match(/^[0-9a-f]{64}/)?.[0] ?? ""; // photo.mjs names them so
    const unit = `photo:${name}:${hash || number}`;
    return { ...same, id: idOf(owner, unit), unit, name, hash, type, bytes };
  });
  const fields = deed.fields.filter((one) => !isPhoto(one));
  await putDrafts([{ ...same, id: idOf(owner, "all"), unit: "all", fields }, ...photos]);
}
