// Nothing moves under a finger: what is drawn waits until no finger has been on the glass for a moment.

const REST = 250;
let touched = -REST;
let down = 0;
let pressed = {}; // where the glass was touched last
let under = null; // the item that was touched last: it stays where it is while one above it grows
if (globalThis.document) {
  document.addEventListener(
    "pointerdown",
    (event) => ((down += 1), (pressed = event), (under = event.target.closest?.("[data-item]") ?? under)),
    true,
  );
  for (const end of ["pointerup", "pointercancel"])
    document.addEventListener(end, () => ((down = Math.max(0, down - 1)), (touched = performance.now())), true);
}

export async function atRest() {
  for (let turn = 0; turn < 40 && (down || performance.now() - touched < REST); turn += 1)
    await new Promise((done) => setTimeout(done, 50));
}

// What a second tap of the same press would hit is another thing by now: the page has moved.
const NEAR = 48; // px
const AGAIN = 700; // ms in which a tap there is the second one of the same press
export function deafToTheSecond(where = document) {
  const { clientX, clientY } = pressed;
  const swallow = (event) => {
    const isByKey = !event.detail;
    if (isByKey || !(Math.hypot(event.clientX - clientX, event.clientY - clientY) < NEAR)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
  };
  where.addEventListener("click", swallow, true);
  setTimeout(() => where.removeEventListener("click", swallow, true), AGAIN);
}

export const isUnderFinger = (item) => under === item;

// What changes in the item under the finger moves nothing above it, and is not measured: the frame that shows a tap would
// wait for two layouts of the whole page.
export function keepStill(item, change) {
  const other = under !== item && under?.isConnected ? under : null;
  const before = other?.getBoundingClientRect().top;
  change();
  if (isLeftOut(item)) layOutAgain(item);
  if (other?.isConnected) window.scrollBy({ top: other.getBoundingClientRect().top - before, behavior: "instant" });
}

// After the next frame, without a timer that a browser may hold back; at once where none is drawn.
const FRAME = 100; // ms
export function shown() {
  if (document.hidden) return Promise.resolve();
  return new Promise((done) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = () => (port1.close(), done());
    requestAnimationFrame(() => port2.postMessage(null));
    setTimeout(done, FRAME);
  });
}

// Once every item has been laid out and its height is known, those far from the screen are left out of drawing (see
// `.is-laid-out` in forms.css), so that a tap on a long sheet draws what is seen and not sixty items.
const away = new WeakSet();
export async function leaveOut(form) {
  const moved = ({ target, skipped }) => (skipped ? away.add(target) : away.delete(target));
  form.addEventListener("contentvisibilityautostatechange", moved, true);
  await document.fonts.ready;
  await shown();
  await shown();
  form.classList.add("is-laid-out");
}

// The browser says it of an item a little later than it is so.
const isLeftOut = (item) =>
  away.has(item) ||
  (under !== item && item.firstElementChild?.checkVisibility?.({ contentVisibilityAuto: true }) === false);

// A frame that was drawn, however long that takes: a height is known only then.
const drawn = () => new Promise(requestAnimationFrame);

// What changes while it is left out has its new height at once, and not when somebody comes to it.
async function layOutAgain(item) {
  item.classList.add("is-changed");
  await drawn();
  await drawn();
  item.classList.remove("is-changed");
}
