// Small helps on every page. Each page works without them.

const root = document.documentElement;

// The ground of the page. Kept in a cookie, so that the server already writes it and nothing flashes.
for (const choice of document.querySelectorAll("[data-theme-choice]")) {
  choice.hidden = false;
  for (const radio of choice.querySelectorAll("input")) {
    radio.checked = radio.value === (root.dataset.theme ?? "");
    radio.addEventListener("change", () => {
      if (radio.value) root.dataset.theme = radio.value;
      else delete root.dataset.theme;
      const age = radio.value ? 31536000 : 0;
      document.cookie = `theme=${radio.value}; path=/; max-age=${age}; samesite=lax`;
    });
  }
}

// A menu closes when one goes on elsewhere, or by Escape.
for (const menu of document.querySelectorAll("details.menu")) {
  document.addEventListener("click", (event) => {
    if (!menu.contains(event.target)) menu.open = false;
  });
  menu.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
}

// After a refused form the summary of what is wrong is read first.
document.querySelector("[data-focus]")?.focus();

// Marked tags are counted while one marks them; a chosen photo is named.
document.addEventListener("change", ({ target }) => {
  const tags = target.closest("[data-tags]");
  const count = tags?.querySelector("[data-tags-count]");
  if (count) count.textContent = tags.querySelectorAll(".tag input:checked").length;
  if (target.type === "file") {
    const name = target.closest(".photo")?.querySelector("[data-photo]");
    if (name) name.textContent = Array.from(target.files, (file) => file.name).join(", ");
  }
});

// A page that comes from this phone is the same for every line and part: what its address names is chosen all the same.
const query = new URLSearchParams(location.search);
for (const [name, end] of [["line", query.get("line")], ["spot", query.has("component") && `|${query.get("component")}`]])
  for (const select of end ? document.querySelectorAll(`form[data-act] select[name=${name}]`) : [])
    if (!select.value) select.value = Array.from(select.options).find((one) => one.value.endsWith(end))?.value ?? "";

// What is to be passed on is copied with one tap, where the browser can.
if (navigator.clipboard)
  for (const button of document.querySelectorAll("[data-copies]")) {
    button.hidden = false;
    button.addEventListener("click", async () => {
      const field = document.getElementById(button.dataset.copies);
      try {
        await navigator.clipboard.writeText(field.value);
        button.textContent = button.dataset.wordsDone;
      } catch {
        field.select();
      }
    });
  }
