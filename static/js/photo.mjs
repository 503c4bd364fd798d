// A photo as it is kept: small, upright, and nothing beside the picture. Made so on the phone, its hash is known before it
// is sent, and the server keeps these very bytes (inspections.photos).

import { sha256 } from "./bytes.mjs";

const LONGEST_EDGE = 1600;
const QUALITY = 0.82;

// The picture alone: of the parts that a JPEG can carry beside it only the one that says it is a JPEG.
export function bare(bytes) {
  const kept = [bytes.subarray(0, 2)];
  let at = 2;
  while (at + 4 <= bytes.length && bytes[at] === 0xff) {
    const kind = bytes[at + 1];
    if (kind === 0xda) {
      kept.push(bytes.subarray(at));
      return new Blob(kept, { type: "image/jpeg" });
    }
    const end = at + 2 + bytes[at + 2] * 256 + bytes[at + 3];
    if (!((kind > 0xe0 && kind <= 0xef) || kind === 0xfe)) kept.push(bytes.subarray(at, end));
    at = end;
  }
  return null;
}

const OWN = /^([0-9a-f]{64})\.jpg$/; // named by its hash: one that was made so before

// Returns {file, hash}, or null for what this browser cannot read as a picture. What was made so stays as it is: made a
// second time it would be another picture.
export async function prepared(file) {
  try {
    const [, own] = file.name.match(OWN) ?? [];
    if (own && own === (await sha256(await file.arrayBuffer()))) return { file, hash: own };
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST_EDGE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * scale));
    canvas.height = Math.max(1, Math.round(picture.height * scale));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const drawn = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
    const small = bare(new Uint8Array(await drawn.arrayBuffer()));
    if (!small) return null;
    const hash = await sha256(await small.arrayBuffer());
    return { file: new File([small], `${hash}.jpg`, { type: "image/jpeg" }), hash };
  } catch {
    return null;
  }
}

// Makes every photo that waits in a form so, and returns the hashes by the name of their field: of what waits, after
// those that the server has of the same item already; null where one cannot be made so.
export async function photosOf(form) {
  const found = {};
  for (const input of form.querySelectorAll("input[type=file]")) {
    const links = input.closest("[data-item]")?.querySelectorAll("[data-photos] a") ?? [];
    const hashes = Array.from(links, (link) => link.href.match(/[0-9a-f]{64}/)?.[0]).filter(Boolean);
    const carrier = new DataTransfer();
    for (const file of input.files) {
      const made = await prepared(file);
      if (!made) return null;
      carrier.items.add(made.file);
      hashes.push(made.hash);
    }
    if (carrier.files.length) input.files = carrier.files;
    found[input.name] = [...new Set(hashes)];
  }
  return found;
}
