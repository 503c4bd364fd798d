// The tag code of the place where one stands: scanned with the phone's camera, where the browser can read codes itself,
// or typed. The page carries which codes belong here (inspections.here.codes_for), so it is read and noted without asking
// anybody, for every sheet at this stop today; the server looks at it again when the sheet arrives.

import { asText, now } from "./clock.mjs";
import { fill } from "./when.mjs";

const EVERY = 250; // ms between two looks at the picture
const KEPT = "lineworthy-here";
const LABEL = /^https?:\/\/[^\s/]+\/(?:[^\s?#]*\/)?tag\/([A-Za-z0-9_-]{22})\/?$/; // as inspections.tags
const TOKEN = 6; // letters of an address that the page knows it by

// What a text is that was scanned or typed: {code} for one from here, {code, where} from elsewhere, or nothing.
export function read(codes, text) {
  const [, token] = LABEL.exec(text.trim()) ?? [];
  const typed = text.trim().toLowerCase();
  const isMeant = ([tag, begins, name]) => (token ? begins === token.slice(0, TOKEN) : (tag || name).toLowerCase() === typed);
  const codeOf = (found) => found[0] || found[2];
  const here = codes.here.find(isMeant);
  if (here) return { code: codeOf(here) };
  for (const [where, there] of Object.entries(codes.elsewhere)) {
    const found = there.find(isMeant);
    if (found) return { code: codeOf(found), where };
  }
  return {};
}

// --- what this phone has noted today

const person = () => document.querySelector("[data-outbox]")?.dataset.person ?? "";

function kept(codes) {
  const found = JSON.parse(localStorage.getItem(KEPT) ?? "null");
  const about = [person(), codes.course, codes.day].join("|");
  return found?.about === about ? found : { about, stops: {} };
}

function keep(codes, noted) {
  const found = kept(codes);
  found.stops[codes.stop] = noted;
  localStorage.setItem(KEPT, JSON.stringify(found));
}

// --- the page

function begin(box) {
  const part = (name) => box.querySelector(`[data-here-${name}]`);
  const [button, camera, said] = [part("scan"), part("camera"), part("said")];
  const video = camera.querySelector("video");
  const field = box.querySelector("[name=here-code]");
  const words = box.dataset;
  const carried = document.getElementById("here-codes");
  const codes = carried && JSON.parse(carried.textContent);
  let stream = null;

  const show = (noted) => {
    const [code, how, at] = noted.split("|");
    const timeZone = document.documentElement.dataset.zone;
    const time = new Date(at).toLocaleTimeString("en-GB", { timeStyle: "short", timeZone });
    const sentence = fill(words.wordsNoted, { code, how: how === "scanned" ? words.wordsScanned : words.wordsTyped, time });
    part("sentence").textContent = sentence;
    const shape = box.querySelector("summary use");
    shape?.setAttribute("href", shape.getAttribute("href").replace(/#.*/, "#tick"));
    part("noted").value = noted;
    part("noted").form.dispatchEvent(new Event("input"));
  };

  // Note what stands in the field, or say where it belongs.
  const note = async () => {
    const { code, where } = read(codes, field.value);
    document.getElementById("here-wrong")?.remove();
    if (!code || where) {
      const sentence = where ? words.wordsElsewhere : field.value.trim() ? words.wordsUnknown : words.wordsEmpty;
      said.textContent = fill(sentence, { code: code ?? field.value.trim(), where, here: codes.place });
      said.classList.add("field__error");
      field.setAttribute("aria-invalid", "true");
      return;
    }
    const noted = [code, part("how").value, asText(await now())].join("|");
    keep(codes, noted);
    said.classList.remove("field__error");
    said.textContent = "";
    field.removeAttribute("aria-invalid");
    field.value = "";
    part("how").value = "typed";
    show(noted);
    box.open = false;
    box.querySelector("summary").focus();
  };

  const stop = () => {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = video.srcObject = null;
    camera.hidden = true;
    button.hidden = false;
  };

  const look = async (detector) => {
    while (stream) {
      const found = await detector.detect(video).catch(() => []);
      const code = found.map(({ rawValue }) => rawValue.trim()).find(Boolean);
      if (code && stream) {
        stop();
        field.value = code;
        part("how").value = "scanned";
        part("note").click();
        return;
      }
      await new Promise((done) => setTimeout(done, EVERY));
    }
  };

  const scan = async () => {
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      camera.hidden = false;
      button.hidden = true;
      said.textContent = said.dataset.wordsLooking;
      await video.play();
      await look(new BarcodeDetector());
    } catch {
      stop();
      said.textContent = said.dataset.wordsRefused;
    }
  };

  // Who types over what was scanned has typed it.
  field.addEventListener("input", () => (part("how").value = "typed"));
  if (codes) {
    part("note").addEventListener("click", (event) => {
      event.preventDefault();
      note();
    });
    const noted = kept(codes).stops[codes.stop];
    // A page that is shown from the phone does not know which label led to it.
    const led = new URLSearchParams(location.search).get("tag");
    if (noted) show(noted);
    else if (led && !field.value) {
      field.value = led;
      part("how").value = "scanned";
      box.open = true;
    }
  }
  if ("BarcodeDetector" in globalThis && navigator.mediaDevices?.getUserMedia) {
    button.addEventListener("click", scan);
    part("stop").addEventListener("click", stop);
    window.addEventListener("pagehide", stop);
    button.hidden = false;
  }
}

if (globalThis.document) for (const box of document.querySelectorAll("[data-here]")) begin(box);
