// Before anything is drawn: a page that is locked, or was left alone for too long, is covered at once. Whether it can be
// opened here, and with what, is lock.mjs's to say.
(() => {
  const root = document.documentElement;
  try {
    const idle = Date.now() - Number(localStorage.getItem("lineworthy-touched") ?? Date.now());
    const minutes = Number(localStorage.getItem("lineworthy-lock-minutes") ?? 15);
    if (localStorage.getItem("lineworthy-locked") === root.dataset.person || idle > minutes * 60000) root.dataset.locked = "";
  } catch {
    // A browser that keeps nothing is not locked.
  }
})();
