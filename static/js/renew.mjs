// A page that says how the day stands is asked for anew once something that was signed on this phone has arrived: what
// was reported defective must not stand there as in order. A page that comes from the phone says that it is not of now.

import { replace } from "./board.mjs";
import { hello } from "./hello.mjs";
import { CHANNEL } from "./sending.mjs";
import { atRest } from "./still.mjs";

const regions = globalThis.document ? [...document.querySelectorAll("[data-renew]")] : [];

const isKept = "kept" in (globalThis.document?.documentElement.dataset ?? {});

async function renew() {
  if (isKept && !(await hello())) throw new Error("no signal");
  if (isKept) return atRest().then(() => location.reload()); // the whole of it comes anew
  const response = await fetch(location.href, { cache: "no-store", redirect: "manual" });
  if (!response.ok || !response.headers.has("X-Lineworthy-Person")) throw new Error("not a page of ours");
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  await atRest();
  for (const region of regions) {
    const there = page.querySelector(`[data-renew="${region.dataset.renew}"]`);
    const isInUse = region.querySelector("details.menu[open]") || region.contains(document.activeElement?.closest("form"));
    if (there && !isInUse) replace(region, there.innerHTML);
  }
}

let isNews = false;
function heard({ data: { what } }) {
  if (what === "received") isNews = true;
  if (what !== "done" || !isNews) return;
  isNews = false;
  renew().catch(() => (isNews = true)); // with the next that is sent
}

if (regions.length) new BroadcastChannel(CHANNEL).onmessage = heard;
