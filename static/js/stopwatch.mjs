// A stopwatch under one big button: tap as the cable is struck, tap at the last return. The time goes into the first
// empty field. The moment of a tap is the browser's own for the touch, not that of the script getting round to it.

export function shown(ms) {
  return (ms / 1000).toFixed(2);
}

function start(form) {
  const [box, time, tap] = ["box", "time", "tap"].map((name) => form.querySelector(`[data-stopwatch-${name}]`));
  const { wordsStart, wordsStop } = form.dataset;
  let began = null;

  const run = () => {
    if (began === null) return;
    time.textContent = `${shown(performance.now() - began)} s`;
    requestAnimationFrame(run);
  };
  const press = (at) => {
    if (began === null) {
      began = at;
      tap.textContent = wordsStop;
      run();
      return;
    }
    const fields = Array.from(form.querySelectorAll("[name=time]"));
    const field = fields.find((one) => !one.value.trim()) ?? fields.at(-1);
    field.value = shown(at - began);
    time.textContent = `${field.value} s`;
    began = null;
    tap.textContent = wordsStart;
  };
  tap.addEventListener("pointerdown", (event) => event.isPrimary && press(event.timeStamp));
  // By keyboard there is no pointer: a key that is held does not count twice.
  tap.addEventListener("keydown", (event) => {
    if ((event.key === "Enter" || event.key === " ") && !event.repeat) {
      event.preventDefault();
      press(event.timeStamp);
    }
  });
  box.hidden = false;
}

if (globalThis.document) for (const form of document.querySelectorAll("form[data-stopwatch]")) start(form);
