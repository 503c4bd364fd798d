// What the server says it has recorded of a form of this browser (a cookie of accounts.receiving): what was typed for it
// is not laid over its page any more, and the page that is kept here is fetched anew.

import { forgetPage, pageOfDeed } from "./drafts.mjs";
import { forgetRefused, letGo, saidIn } from "./held.mjs";
import { refetchAfter } from "./pages.mjs";
import { forgetAll, setValue, value } from "./phone.mjs";
import { keepSent } from "./sent.mjs";

const COOKIE = "lineworthy_received";
const SIGNING = "signing:";

// What is on its way with a signal says of its items: asked when the server says that it was recorded.
export async function noteSigning(act) {
  await setValue(SIGNING + JSON.parse(act).id, saidIn(act));
}

// The walk says what is signed, so it is out of date as well.
export function fetchAnew(page) {
  const [course] = page.match(/^\/course\/[^/]+\//) ?? [];
  for (const path of [page, course && `${course}walk/`]) if (path) refetchAfter(path).catch(() => {});
}

async function take() {
  const [, id, seq] = document.cookie.match(`(?:^|; )${COOKIE}=([0-9a-f-]{36})\\.([0-9]+)`) ?? [];
  if (!id) return;
  await letGo(id).catch(() => {});
  const one = await pageOfDeed(id);
  if (one) {
    const { ref, path: page, day, title, locks } = one;
    const now = (await value(SIGNING + id).catch(() => null)) ?? new Map();
    await forgetAll(SIGNING).catch(() => {});
    await forgetPage(ref, page);
    // Its own page has said so already.
    await keepSent({ id, ref, title, page, day, locks, seq: Number(seq), at: Date.now(), said: true }).catch(() => {});
    if (locks) await forgetRefused({ ref, page, day }, now);
    fetchAnew(page);
  }
  document.cookie = `${COOKIE}=; path=/; max-age=0; samesite=lax`;
}

// Settled before anything is laid over a page.
export const taken = globalThis.document && globalThis.indexedDB ? take().catch(() => {}) : Promise.resolve();
