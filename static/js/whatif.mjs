// A form of figures that is asked as one moves: range inputs beside the number fields, the answer fetched as parts of
// the same page. Without script the form posts as it stands. What is under way is dropped when a newer question comes.

const PAUSE = 90; // ms after the last movement

export function addressOf(base, fields, part) {
  const query = new URLSearchParams(fields);
  if (part) query.set("part", part);
  return `${base}?${query}`;
}

function start(form) {
  const all = document.querySelector("[data-whatif-all]");
  const short = document.querySelector("[data-whatif-short]");
  const say = form.querySelector("[data-whatif-say]");
  const base = location.pathname;
  let asking = null;
  let timer = 0;

  const ask = async (part) => {
    clearTimeout(timer);
    asking?.abort();
    const mine = (asking = new AbortController());
    const fields = new FormData(form);
    const ride = all.querySelector("[data-whatif-ride]");
    if (!ride) part = "all";
    const region = part === "ride" ? ride : all;
    region.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(addressOf(base, fields, part), { redirect: "manual", signal: mine.signal });
      // Logged out, or refused: the page as a whole says what is the matter.
      if (!answer.ok) return void form.requestSubmit();
      const html = await answer.text();
      if (mine !== asking) return;
      const open = Array.from(region.querySelectorAll("details[open][id]"), (details) => details.id);
      region.innerHTML = html;
      for (const id of open) document.getElementById(id)?.setAttribute("open", "");
      short.textContent = all.querySelector("[data-short]").dataset.short;
      if (part === "all") {
        say.textContent = short.textContent;
        history.replaceState(null, "", addressOf(base, fields, ""));
      }
    } catch (problem) {
      // What stands there is of other figures, so it must not stay.
      if (problem.name !== "AbortError" && mine === asking) all.textContent = short.textContent = form.dataset.wordsLost;
    } finally {
      if (mine === asking) for (const one of [all, ride]) one?.removeAttribute("aria-busy");
    }
  };
  const fresh = (field) => {
    field.removeAttribute("aria-invalid");
    field.closest(".field").classList.remove("field--wrong");
    field.closest(".field").querySelector(".field__error")?.remove();
  };
  const soon = (part) => {
    clearTimeout(timer);
    timer = setTimeout(ask, PAUSE, part);
  };

  for (const slide of form.querySelectorAll("[data-whatif-slides]")) {
    const field = form.elements[slide.dataset.whatifSlides];
    const follow = () => {
      if (field.value !== "") slide.value = field.value;
    };
    follow();
    slide.hidden = false;
    slide.addEventListener("input", () => {
      field.value = slide.value;
      fresh(field);
      soon("ride");
    });
    slide.addEventListener("change", () => ask("all"));
    field.addEventListener("input", () => {
      follow();
      fresh(field);
      soon("ride");
    });
    field.addEventListener("change", () => ask("all"));
  }
  for (const radio of form.querySelectorAll("input[type=radio]")) radio.addEventListener("change", () => ask("all"));
}

if (globalThis.document) for (const form of document.querySelectorAll("form[data-whatif]")) start(form);
