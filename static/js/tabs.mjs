// Two tabs of one phone that show the same form tell each other that something of it was changed, and know of two answers
// whether one was given with the other in sight. Each answer carries the tab that gave it, its number there (`n`), and
// what that tab had seen of the others (`seen`: number by tab).

const CHANNEL = "lineworthy-drafts";

export const TAB = globalThis.crypto?.randomUUID?.() ?? String(Math.random());
let count = 0;

// What an answer that is given now, in this tab, says of itself; `known`: what stood here of it before.
export function stamp(...known) {
  const seen = {};
  for (const one of known.filter(Boolean)) {
    for (const [tab, n] of Object.entries(one.seen ?? {})) seen[tab] = Math.max(seen[tab] ?? 0, n);
    if (one.tab) seen[one.tab] = Math.max(seen[one.tab] ?? 0, one.n);
  }
  count += 1;
  return { tab: TAB, n: count, seen };
}

export const isOneOf = (one, other) => one.tab === other.tab && one.n === other.n && one.at === other.at;

// Whether `one` was given with `other` in sight, or is the same.
export const isAfter = (one, other) =>
  one.tab === other.tab ? (one.n ?? 0) >= (other.n ?? 0) : !other.tab || (one.seen?.[other.tab] ?? 0) >= other.n;

// `heard` is called when another tab has changed something of the same owner, and when this tab comes back after it was
// hidden or frozen, since it may have missed it. Returns what tells the others.
export function listenFor(owner, heard) {
  window.addEventListener("pageshow", ({ persisted }) => persisted && heard());
  document.addEventListener("resume", heard);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && heard());
  if (!globalThis.BroadcastChannel) return () => {};
  const channel = new BroadcastChannel(CHANNEL);
  channel.onmessage = ({ data }) => data === owner && heard();
  return () => channel.postMessage(owner);
}

// A form is signed only once `isReady` says so: by then what other tabs did is known here. Where that cannot be found out,
// `isWanted` says whether it is signed all the same.
export function signOnlyWhen(form, isReady, isWanted) {
  if (!form.requestSubmit) return;
  const freely = ["save", "withdraw"]; // what is kept or taken out of service waits for nothing
  let asked = false;
  let busy = false;
  document.addEventListener(
    "submit",
    (event) => {
      const { submitter, target } = event;
      if (target !== form || asked || freely.includes(submitter?.name)) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      if (busy) return;
      busy = true;
      isReady()
        .catch(isWanted)
        .then((isIt) => {
          if (!isIt) return;
          asked = true;
          form.requestSubmit(submitter);
        })
        .finally(() => (asked = busy = false));
    },
    true,
  );
}
