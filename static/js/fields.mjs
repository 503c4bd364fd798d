// What a form holds, by unit: an item, or a field that belongs to none.

export const isChoice = (control) => ["radio", "checkbox"].includes(control.type);
export const isTyped = (control) =>
  control.name && !["file", "password", "submit", "button"].includes(control.type) &&
  (control.type !== "hidden" || "kept" in control.dataset);
export const same = (one, other) => JSON.stringify(one) === JSON.stringify(other);

export function unitOf(control) {
  const item = control.closest?.("[data-item]");
  if (item) return `item:${item.dataset.item}`;
  return control.name && isTyped(control) ? `field:${control.name}` : "";
}

export function controlsOf(form, unit) {
  const name = unit.slice(unit.indexOf(":") + 1);
  if (unit.startsWith("field:")) return Array.from(form.elements).filter((one) => one.name === name && isTyped(one));
  const item = form.querySelector(`[data-item="${CSS.escape(name)}"]`);
  return item ? Array.from(item.querySelectorAll("input, select, textarea")).filter(isTyped) : [];
}

// What a hidden field held when the page came: its default goes along with its value.
const came = new WeakMap();
export function noteCame(form) {
  for (const control of form.elements) if (control.type === "hidden") came.set(control, control.value);
}

function fromServer(control) {
  if (control.type === "hidden") return came.get(control) ?? control.value;
  if (!control.options) return control.defaultValue;
  const chosen = Array.from(control.options).find((one) => one.defaultSelected) ?? control.options[0];
  return chosen?.value ?? "";
}

// [[name, value], …] of a unit as it stands, or as the server's page had it.
export const contentOf = (controls, isBefore = false) =>
  controls
    .filter((one) => !isChoice(one) || (isBefore ? one.defaultChecked : one.checked))
    .map((one) => [one.name, isBefore && !isChoice(one) ? fromServer(one) : one.value]);

// Puts fields into controls; returns the controls that this changed.
export function putBack(controls, fields) {
  const values = new Map();
  for (const [name, value] of fields) values.set(name, [...(values.get(name) ?? []), value]);
  return controls.filter((one) => {
    const there = values.get(one.name) ?? [];
    if (isChoice(one)) {
      const isOn = there.includes(one.value);
      return one.checked !== isOn && ((one.checked = isOn), true);
    }
    return there.length && one.value !== there[0] && ((one.value = there[0]), true);
  });
}

// What a person would read of it: the words of what is chosen, and what is typed.
export const said = (control) =>
  isChoice(control) ? control.labels?.[0]?.textContent.replace(/\s+/g, " ").trim() : control.value;
export const saidOf = (controls) =>
  controls.filter((one) => one.type !== "hidden" && (!isChoice(one) || one.checked)).map(said).filter(Boolean).join(", ");

// Opens what is folded up over what has been put back.
export function unfold(controls) {
  for (const control of controls) control.closest("details")?.setAttribute("open", "");
}
