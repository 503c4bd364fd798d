// A form that is entered as a whole is kept in this tab while it is being filled in: who looks at another page and comes
// back finds it as it was. It is forgotten when it is sent. Nothing leaves the phone.

export function contentOf(form) {
  return Array.from(form.elements)
    .filter((one) => one.name && !["hidden", "file", "password", "submit", "button"].includes(one.type))
    .filter((one) => !["radio", "checkbox"].includes(one.type) || one.checked)
    .map((one) => [one.name, one.value]);
}

export function putBack(form, content) {
  const changed = new Set();
  for (const [name, value] of content)
    for (const one of form.elements) {
      if (one.name !== name || one.type === "hidden") continue;
      if (["radio", "checkbox"].includes(one.type)) {
        if (one.value === value && !one.checked) changed.add(one), (one.checked = true);
      } else if (one.value !== value) changed.add(one), (one.value = value);
    }
  return changed;
}

function start(form) {
  const key = `kept:${form.dataset.stays}`;
  const save = () => sessionStorage.setItem(key, JSON.stringify(contentOf(form)));
  if ("fresh" in form.dataset) {
    const kept = JSON.parse(sessionStorage.getItem(key) ?? "[]");
    // Each control says that it was changed, so that its item is judged again.
    for (const one of putBack(form, kept)) one.dispatchEvent(new Event("change", { bubbles: true }));
  }
  form.addEventListener("input", save);
  form.addEventListener("change", save);
  form.addEventListener("submit", () => sessionStorage.removeItem(key));
}

if (globalThis.document) for (const form of document.querySelectorAll("form[data-stays]")) start(form);
