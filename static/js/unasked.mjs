// What was entered here of items that the page does not ask for any more, because somebody else has answered them since:
// it is sent all the same, as it may be a defect, and the page comes anew with it. What is no part of today's inspection
// any more is counted, so that it can be said.

const PART = /^(?:text|second|mark|note|kept|gauge|tool)-(.+)$/;
const GIVEN = /^(?:text|mark)-/;
const DONE = "lineworthy-asked-anew"; // the page that came anew, so that it does so once
const PATIENCE = 15000; // ms

function unasked(form, records) {
  const found = new Map();
  for (const [name, value] of records.flatMap((one) => one.fields ?? [])) {
    const [, key] = name.match(PART) ?? [];
    if (!key || form.querySelector(`[data-item="${CSS.escape(key)}"]`)) continue;
    found.set(key, [...(found.get(key) ?? []), [name, value]]);
  }
  return [...found].filter(([, fields]) => fields.some(([name, value]) => GIVEN.test(name) && value));
}

// The server's answer, or null where none came.
async function told(form, key, fields) {
  const content = new FormData();
  for (const one of form.elements)
    if (one.type === "hidden" && one.name && !one.closest("[data-item]")) content.append(one.name, one.value);
  for (const [name, value] of fields) content.append(name, value);
  content.set("item", key);
  const options = { method: "POST", body: content, headers: { Accept: "application/json" }, redirect: "manual" };
  try {
    return await (await fetch(form.dataset.autosave, { ...options, signal: AbortSignal.timeout(PATIENCE) })).json();
  } catch {
    return null;
  }
}

// `records`: what is kept of this page. Answers how many items are asked for nowhere any more.
export async function askAnew(form, records) {
  let gone = 0;
  let isTaken = false;
  for (const [key, fields] of unasked(form, records)) {
    const answer = await told(form, key, fields);
    if (answer?.gone) gone += 1;
    else if (answer?.item && key in answer.item) isTaken = true;
  }
  if (!isTaken || sessionStorage.getItem(DONE) === location.href) {
    sessionStorage.removeItem(DONE);
    return gone;
  }
  sessionStorage.setItem(DONE, location.href);
  location.reload();
  return new Promise(() => {}); // the page goes
}
