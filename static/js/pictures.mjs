// The photos that wait in a form: made small at once, shown, and standing in its fields again when they come back.

import { prepared } from "./photo.mjs";

const EDGE = 112; // CSS pixels of a small picture, as .photos img
const own = new WeakSet(); // fields that say by themselves that they were changed

const make = (tag, more, ...inside) => {
  const made = Object.assign(document.createElement(tag), more);
  made.append(...inside);
  return made;
};

async function small(file, name) {
  const canvas = make("canvas", { width: 2 * EDGE, height: 2 * EDGE });
  canvas.setAttribute("role", "img");
  canvas.setAttribute("aria-label", name);
  const picture = await createImageBitmap(file);
  const edge = Math.min(picture.width, picture.height); // the middle of it, as object-fit: cover
  const [left, top] = [(picture.width - edge) / 2, (picture.height - edge) / 2];
  canvas.getContext("2d").drawImage(picture, left, top, edge, edge, 0, 0, 2 * EDGE, 2 * EDGE);
  picture.close();
  return canvas;
}

// `changed(input, photos)` is called with [{file, hash}] as they stand in a field, before the field says that it was
// changed. Returns {put(input, files)}: files of before, put back.
export function pictures(form, words, changed) {
  const standing = new WeakMap();

  const listOf = (input) => {
    const label = input.closest(".photo") ?? input;
    const found = label.parentElement.querySelector(`[data-waiting="${CSS.escape(input.name)}"]`);
    if (found) return found;
    const list = make("ul", { className: "photos photos--waiting" });
    list.dataset.waiting = input.name;
    label.after(list);
    return list;
  };

  async function show(input, photos) {
    const items = await Promise.all(
      photos.map(async (one) => {
        const away = make("button", { type: "button", className: "button", textContent: words.wordsAway });
        away.addEventListener("click", () => set(input, standing.get(input).filter((other) => other !== one)));
        return make("li", {}, await small(one.file, words.wordsPhotoHere), away);
      }),
    );
    if (standing.get(input) === photos) listOf(input).replaceChildren(...items);
  }

  async function set(input, photos, quiet = false) {
    const carrier = new DataTransfer();
    for (const { file } of photos) carrier.items.add(file);
    input.files = carrier.files;
    standing.set(input, photos);
    await show(input, photos);
    if (!quiet) await changed(input, photos);
    own.add(input);
    input.dispatchEvent(new Event("change", { bubbles: true }));
    own.delete(input);
    const name = input.closest(".photo")?.querySelector("[data-photo]"); // the picture itself stands there
    if (name) name.textContent = "";
  }

  function say(input, sentence) {
    const list = listOf(input);
    list.parentElement.querySelector("[data-photo-said]")?.remove();
    if (!sentence) return;
    const said = make("p", { className: "field__error", textContent: sentence });
    said.dataset.photoSaid = "";
    said.setAttribute("role", "alert");
    list.after(said);
  }

  // What stands in a field now: one that was emptied, because the server has it, has nothing waiting any more.
  const waiting = (input) => (input.files.length ? (standing.get(input) ?? []) : []);

  async function add(input, files, before, quiet) {
    const found = [...before];
    let unread = 0;
    for (const file of files) {
      const made = await prepared(file);
      if (!made) unread += 1;
      else if (!found.some((one) => one.hash === made.hash)) found.push(made);
    }
    say(input, unread ? words.wordsUnread : "");
    await set(input, found, quiet);
  }

  // Before anything else learns of it: what waits there already stays, and what is new becomes small.
  const before = new WeakMap();
  form.addEventListener("click", ({ target }) => target.type === "file" && before.set(target, waiting(target)), true);
  form.addEventListener(
    "change",
    (event) => {
      const input = event.target;
      if (input.type !== "file" || own.has(input)) return;
      event.stopImmediatePropagation();
      add(input, Array.from(input.files), before.get(input) ?? standing.get(input) ?? []).catch(() => {});
    },
    true,
  );
  // The server has it: what is shown is what it has.
  form.addEventListener("confirmed", ({ detail }) => {
    for (const input of detail.item.querySelectorAll("input[type=file]"))
      if (!input.files.length) standing.delete(input), before.delete(input), listOf(input).replaceChildren();
  });
  form.addEventListener("reset", () => {
    for (const list of form.querySelectorAll("[data-waiting]")) list.replaceChildren();
    for (const input of form.querySelectorAll("input[type=file]")) standing.delete(input), before.delete(input);
  });

  return { put: (input, files) => add(input, files, waiting(input), true) };
}
