// Before anything is drawn: a page is covered, and stays so until it is known that it was neither locked nor left alone for
// too long. The lock is kept in the database, which outlives a battery that dies; localStorage is written later and may be older
// after that: it can cover, and never uncovers alone. Whether it can be opened here, and with what, is lock.mjs's to say.
(() => {
  const root = document.documentElement;
  const ref = root.dataset.person;

  // `last` is what was last kept of the lock (verifier.mjs); nothing where nobody was here before.
  function isOpen(last) {
    if (last === "locked" || localStorage.getItem("lineworthy-locked") === ref) return false;
    const touched = localStorage.getItem("lineworthy-touched");
    if (touched === null) return last === undefined;
    return Date.now() - Number(touched) <= Number(localStorage.getItem("lineworthy-lock-minutes") ?? 15) * 60000;
  }

  try {
    if (!globalThis.crypto?.subtle || !localStorage) return;
    const opening = indexedDB.open("lineworthy-phone", 1);
    root.dataset.locked = "";
    opening.onupgradeneeded = () => opening.result.createObjectStore("values"); // as phone.mjs has it
    opening.onsuccess = () => {
      const asked = opening.result.transaction("values").objectStore("values").get(`lock:${ref}`);
      opening.result.close(); // once it has answered
      asked.onsuccess = () => {
        if (isOpen(asked.result)) delete root.dataset.locked;
      };
    };
  } catch {
    // A browser that keeps nothing is not locked.
  }
})();
