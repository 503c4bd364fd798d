// A form that can be used again stays locked once it was signed alone, until its person wants to enter another: a second
// tap must neither sign it twice, nor say that something is missing, as if the first had not counted.

const locked = new Map(); // form: {id of its deed, open()}

export const isLocked = (form) => locked.has(form);

// `sentence` says what was signed; `button`, how to go on. Where a form has a button for each line, the other lines can be
// held all the while: nothing stands between a person who is in danger and a hold.
export function lockForm(form, id, sentence, button, pressed) {
  locked.get(form)?.open();
  const all = Array.from(form.elements).filter((one) => one.matches("button, input[type=submit]") && !one.disabled);
  const own = all.filter((one) => one.name && one.name === pressed?.name && one.value === pressed.value);
  const isOneOfMany = own.length > 0 && all.length > own.length;
  const buttons = isOneOfMany ? own : all;
  const setTo = (isShut) => {
    form.inert = isShut && !isOneOfMany;
    for (const one of buttons) one.disabled = isShut;
  };
  const make = (tag, more) => Object.assign(document.createElement(tag), more);
  const note = make("div", { className: "stack stack--tight is-watch" });
  const next = make("button", { type: "button", className: "button", textContent: button });
  note.append(make("p", { className: "notice__title", textContent: sentence }), next);
  const open = () => {
    setTo(false);
    note.remove();
    locked.delete(form);
  };
  next.addEventListener("click", (event) => {
    event.stopPropagation(); // the menu that it may stand in would take it for a click elsewhere
    open();
    form.querySelector("input:not([type=hidden]), select, textarea, button")?.focus();
  });
  setTo(true);
  form.before(note);
  locked.set(form, { id, open });
}

// What has arrived, or was taken back, locks no form. `held`: identities of what is held still.
export function openForms(held) {
  for (const { id, open } of [...locked.values()]) if (!held.includes(id)) open();
}
