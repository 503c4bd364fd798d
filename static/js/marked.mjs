// What a draft says of an answer that takes something out of service: enough for it to be sent without its page
// (`sending.mjs`), and to be told of on others (`mine.mjs`).

import { unfolded } from "./held.mjs";
import { answerHere } from "./verdict.mjs";

// With a signal what is insisted on is out of service at once, signed or not: so it does not wait for its page here.
export function outOf(form, [control], fields) {
  const item = control?.closest("[data-item]");
  if (!item?.querySelector("[data-kept]")?.value) return undefined;
  const here = answerHere(item, unfolded(fields)); // null: only the server can say it
  if (here && (here.verdict !== "withdraw" || here.ask)) return undefined;
  const isOwn = (one) => one.type === "hidden" && one.name && !one.disabled && !one.closest("[data-item]");
  return {
    key: item.dataset.item, part: item.querySelector("[data-part]")?.dataset.part ?? "", address: form.dataset.autosave,
    text: item.querySelector("legend")?.textContent.trim() ?? "",
    hidden: Array.from(form.elements).filter(isOwn).map((one) => [one.name, one.value]),
  };
}
