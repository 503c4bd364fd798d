// What this phone keeps: databases of one store each, opened anew for every use, so that no open page of an older version
// stands in the way of a newer one. What is written outlives a battery that runs out. Works in pages and in the worker.

const settled = (request) =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

// Returns within(mode, use): `use(store)` asks for something of the store, the last of it is what is answered.
export const storeIn = (name, store) =>
  async function within(mode, use) {
    const opening = indexedDB.open(name, 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore(store, { keyPath: "id" });
    const database = await settled(opening);
    try {
      const taken = database.transaction(store, mode, { durability: "strict" });
      const finished = new Promise((done, failed) => {
        taken.oncomplete = done;
        taken.onabort = taken.onerror = () => failed(taken.error);
      });
      const asked = use(taken.objectStore(store));
      const [result] = await Promise.all([asked && settled(asked), finished]);
      return result;
    } finally {
      database.close();
    }
  };

export const isFull = (error) => error?.name === "QuotaExceededError";
