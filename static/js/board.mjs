// A board that refreshes itself: the inside of [data-refresh=URL] is fetched anew every [data-every] seconds. The line
// beside it says of when the page is. Of an old board it stays in view, and no mark has the tone of now: an old board must
// not look like a new one.

const CHANNEL = "lineworthy-outbox"; // as in sending.mjs, which a board on a wall does not load
const MISSED = 2; // turns without an answer after which the board is stale

function fill(sentence, values) {
  return sentence.replace(/%\((\w+)\)s/g, (whole, name) => values[name] ?? whole);
}

// The course's clock, not the device's: the page says in which zone its times are.
const clock = (date) =>
  date.toLocaleTimeString("en-GB", { timeStyle: "medium", timeZone: document.documentElement.dataset.zone });

// Where the focus is, in words that lead to the same thing in the new content.
function pathTo(element, region) {
  if (!element || !region.contains(element)) return null;
  if (element.id) return `#${CSS.escape(element.id)}`;
  const href = element.getAttribute("href");
  if (href) return `${element.localName}[href="${CSS.escape(href)}"]`;
  const owner = element.closest("[id]");
  return owner && region.contains(owner) ? `#${CSS.escape(owner.id)} ${element.localName}` : null;
}

const held = new WeakMap(); // region -> the text it was last filled with

export function replace(region, html) {
  if (held.get(region) === html) return;
  const focus = pathTo(document.activeElement, region);
  const open = Array.from(region.querySelectorAll("details[open][id]"), (details) => details.id);
  const { scrollX, scrollY } = window;
  region.innerHTML = html;
  held.set(region, html);
  for (const id of open) region.querySelector(`#${CSS.escape(id)}`)?.setAttribute("open", "");
  if (focus) region.querySelector(focus)?.focus({ preventScroll: true });
  window.scrollTo({ left: scrollX, top: scrollY, behavior: "instant" });
  region.dispatchEvent(new CustomEvent("refreshed", { bubbles: true }));
}

function start(region) {
  const every = Number(region.dataset.every || 20) * 1000;
  const line = document.querySelector("[data-refreshed]");
  const place = document.createComment("refreshed"); // where the line stands while nothing is amiss
  line.after(place);
  const kept = document.documentElement.dataset.kept; // the page comes from this phone: it is as old as it says
  let fresh = new Date(kept ?? Date.now());
  let loggedOut = false;
  let lost = false; // the browser knows of no network
  let busy = false;
  let isNews = false; // something that was signed on this phone has arrived since the board was asked for

  const say = () => {
    const stale = loggedOut || lost || new Date() - fresh > MISSED * every;
    const words = loggedOut ? line.dataset.wordsLogin : stale ? line.dataset.wordsStale : line.dataset.wordsFresh;
    line.classList.toggle("is-stale", stale);
    line.setAttribute("role", stale ? "alert" : "none");
    const sentence = fill(words, { time: clock(fresh) });
    if (line.textContent !== sentence) line.textContent = sentence;
    if (stale === "stale" in document.documentElement.dataset) return;
    document.documentElement.toggleAttribute("data-stale", stale);
    if (stale) region.before(line);
    else place.before(line);
  };

  const turn = async () => {
    // Nothing is pulled away under someone who is filling something in.
    const typing = region.contains(document.activeElement) && document.activeElement.matches("input, select, textarea");
    if (busy || document.hidden || typing) return say();
    busy = true;
    isNews = false;
    say();
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), every);
    try {
      const response = await fetch(region.dataset.refresh, { cache: "no-store", redirect: "manual", signal: patience.signal });
      loggedOut = response.type === "opaqueredirect" || [401, 403].includes(response.status);
      // A guest network answers for everything; a page of ours says whose it is.
      if (response.ok && response.headers.has("X-Lineworthy-Person") && response.headers.get("Content-Type")?.startsWith("text/html")) {
        if (kept) return location.reload(); // there is a signal again: the whole board comes anew
        replace(region, await response.text());
        fresh = new Date();
        lost = false;
      }
    } catch {
      // No answer: the line says how old the board is.
    } finally {
      clearTimeout(timer);
      busy = false;
      say();
    }
    if (isNews) await turn();
  };

  // What has just arrived from this phone must not stand there as not arrived. Of a board that comes from the phone the
  // next turn has it loaded anew, when it could be read that something was received.
  const arrived = ({ data }) => {
    if (kept || data.what !== "received") return;
    isNews = true;
    turn();
  };

  setInterval(turn, every);
  if (globalThis.BroadcastChannel) new BroadcastChannel(CHANNEL).onmessage = arrived;
  document.addEventListener("visibilitychange", () => document.hidden || turn());
  window.addEventListener("offline", () => ((lost = true), say()));
  window.addEventListener("online", turn);
  say();
}

if (globalThis.document) for (const region of document.querySelectorAll("[data-refresh]")) start(region);
