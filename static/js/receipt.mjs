// What the server says it has recorded of a form of this browser (a cookie of accounts.receiving): what was typed for it
// is not laid over its page any more, and the page that is kept here is fetched anew.

import { forgetPage, itemsOfDeed, pageOfDeed } from "./drafts.mjs";
import { forgetRefused } from "./held.mjs";
import { refetchAfter } from "./pages.mjs";
import { keepSent } from "./sent.mjs";

const COOKIE = "lineworthy_received";

// The walk says what is signed, so it is out of date as well.
export function fetchAnew(page) {
  const [course] = page.match(/^\/course\/[^/]+\//) ?? [];
  for (const path of [page, course && `${course}walk/`]) if (path) refetchAfter(path).catch(() => {});
}

async function take() {
  const [, id, seq] = document.cookie.match(`(?:^|; )${COOKIE}=([0-9a-f-]{36})\\.([0-9]+)`) ?? [];
  if (!id) return;
  const one = await pageOfDeed(id);
  if (one) {
    const { ref, path: page, day, title, locks } = one;
    const keys = await itemsOfDeed(id);
    await forgetPage(ref, page);
    // Its own page has said so already.
    await keepSent({ id, ref, title, page, day, locks, seq: Number(seq), at: Date.now(), said: true }).catch(() => {});
    if (locks) await forgetRefused({ ref, page, day }, keys);
    fetchAnew(page);
  }
  document.cookie = `${COOKIE}=; path=/; max-age=0; samesite=lax`;
}

// Settled before anything is laid over a page.
export const taken = globalThis.document && globalThis.indexedDB ? take().catch(() => {}) : Promise.resolve();
