// What a phone itself remembers, apart from pages, drafts and deeds: whose pages are kept on it, how it was locked.
// A store of its own, so that no open page of an older version stands in the way of a newer one.

const STORE = "values";

const settled = (request) =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

async function within(mode, use) {
  const opening = indexedDB.open("lineworthy-phone", 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore(STORE);
  const database = await settled(opening);
  try {
    const taken = database.transaction(STORE, mode, { durability: "strict" });
    const finished = new Promise((done, failed) => {
      taken.oncomplete = done;
      taken.onabort = taken.onerror = () => failed(taken.error);
    });
    const result = await settled(use(taken.objectStore(STORE)));
    await finished;
    return result;
  } finally {
    database.close();
  }
}

export const value = (name) => within("readonly", (store) => store.get(name));
export const setValue = (name, what) => within("readwrite", (store) => store.put(what, name));
// One in place of another: both or neither, also where the page is left meanwhile.
export const setInstead = (of, name, what) =>
  within("readwrite", (store) => {
    store.delete(of);
    return store.put(what, name);
  });
export const forget = (name) => within("readwrite", (store) => store.delete(name));
// Everything whose name begins so.
export const forgetAll = (start) => within("readwrite", (store) => store.delete(IDBKeyRange.bound(start, `${start}\uffff`)));
