// What was found, in words: the same lines as the program prints, faults first.

import { worded } from "./canonical.mjs";
import { CHECKS } from "./found.mjs";
import { between, counted, first as firstOf, numbered, numbersOf } from "./numbers.mjs";
import { timeWords } from "./times.mjs";

const WORDS = { FAULT: "Fault", limit: "Limit", note: "Note" };
const VERDICTS = {
  1: [
    "ALTERED, OR NOT WHAT IT IS SAID TO BE.",
    "Do not rely on this bundle. What is wrong stands above under Fault.",
  ],
  2: [
    "CONSISTENT WITH ITSELF ONLY.",
    "Nothing in it contradicts itself, but nothing from outside stands for all of it.",
  ],
  3: [
    "GENUINE, WITH LIMITS.",
    "It is what the holder of the record's key signed. What that does not show stands above under Limit.",
  ],
  4: ["GENUINE AND COMPLETE.", "Nothing was changed, taken away, put in or moved."],
};
const BY_KEY = [
  "SIGNED BY ITS KEY, REWRITING NOT EXCLUDED.",
  "It is what the holder of the record's key signed. Whoever has that key could have written all of it anew: you "
    + "gave neither a state that was kept nor a witness.",
];

const never = (signed) => [
  "That a figure was true when it was typed, that a photo shows what it is said to show, or that somebody looked.",
  "What was never entered.",
  `Who sat at the phone. ${signed} signed by a person's own key. That a key is a person's is what `
    + "the server said when it was named: who runs the server could name one in somebody's name. Compare the first 8 "
    + "characters of the keys listed above with the person. For the other entries the server says who was logged in, and who "
    + "runs the server could have written an entry in somebody's name when it was made.",
  "That others were not shown another version from the first day on: compare the newest state with theirs.",
  "Whether a line may open: that is for its designer, the makers' manuals, local law and licensed practice to say.",
];

// What stands in a bundle may not move the text about, nor write a verdict of its own.
const plain = (text) => text.replace(/[\p{C}\p{Zl}\p{Zp}]|(?! )\p{Zs}/gu, "?");

// The verdict: its level from 1 to 4, a title, sentences, and what no check can show.
export function verdict(found) {
  const { info, level } = found;
  const size = info.size ?? 0;
  const kept = Math.max(found.covered.get("saved state") ?? 0, found.covered.get("witness") ?? 0);
  const byKey = level === 3 && !kept;
  const [title, first] = byKey ? BY_KEY : VERDICTS[level];
  const sentences = [first];
  if (level === 3 && 0 < kept && kept < size) {
    const [were, them] = [kept === 1 ? "was" : "were", kept + 1 === size ? "it" : "them"];
    const shows = `What you kept or a witness saw shows that ${firstOf(kept)} ${were} not written anew since`;
    const could = `whoever has the record's key could have written ${them} anew`;
    sentences.push(`${shows}. It does not reach ${between(kept, size - 1)}: ${could}.`);
  }
  if (level === 4) {
    const at = timeWords(found.seenAt);
    sentences.push(`This holds for the record as a witness saw it on ${at} UTC: ${numbered(size)}.`);
  }
  if (level === 2) {
    for (const [what, covered] of found.covered) {
      sentences.push(`The ${what} stands for ${firstOf(covered, size)}.`);
    }
    if (found.covered.size) {
      const covered = Math.max(...found.covered.values());
      sentences.push(`For ${between(covered, size - 1)} nothing from outside stands.`);
    } else {
      sentences.push("Anybody could have made it, from first to last. Give the key that you got by another way.");
    }
  }
  if (info.span?.line) {
    sentences.push(`It shows ${info.line ?? "no line"} (${info.span.line}) alone: ${info.shown} of ${numbered(size)}.`,
      "Whether an entry about it was left out cannot be seen. Days, or the whole record, show it.");
  } else if (info.span) {
    const { from, to, since, until } = info.span;
    sentences.push(`It shows the days ${worded(from)} to ${worded(to)} alone: ${info.shown} of ${numbered(size)},`
      + ` with all that were received from ${since} until before ${until}.`);
  }
  if (info.erased) sentences.push(info.erased);
  if (info.owed) sentences.push(info.owed);
  const of = info.shown === undefined ? "the entries" : counted(info.shown, "entry", "entries");
  const signed = `${info.own ?? "Not all"} of ${of} ${info.own === 1 ? "is" : "are"}`;
  return { level, title, sentences: sentences.map(plain), never: never(signed).map(plain) };
}

// What the bundle is: [word, text] each.
export function about(found) {
  const { info } = found;
  if (info.log === undefined) return [];
  const last = info.last === null ? "" : `, the last of ${timeWords(info.last)} UTC`;
  return [
    ["Record", `${info.name} (${info.log})`],
    ["Entries", `${info.size}${numbersOf(info.size)}${last}; ${counted(info.states, "signed state", "signed states")}`],
    ["State", info.root],
    ...info.keys.map(({ ref, signs, since, until }, number) => {
      const ended = until === undefined ? "" : `, ended by entry ${until}`;
      const called = info.names.has(ref) ? ` (${[...info.names.get(ref)].slice(0, 60).join("")})` : "";
      return [number ? "" : "Keys", `${ref.slice(0, 60)}${called}: ${signs}, named by entry ${since}${ended}`];
    }),
  ].map(([word, text]) => [word, plain(text)]);
}

// How each check ended, in the order of the program: its word ("FAULT", "limit", "ok", "--") and sentences.
export function outcomes(found) {
  return Object.entries(CHECKS).map(([check, meaning]) => {
    const said = found.said[check].map(({ level, sentence }) => ({ level, sentence: plain(sentence) }));
    const more = found.more[check] ?? 0;
    let word = ["FAULT", "limit"].find((one) => found.levels[check]?.has(one)) ?? "ok";
    let remark = word === "ok" ? meaning : "";
    if (check in found.leftOut && word !== "FAULT") [word, remark] = ["--", `not checked, ${found.leftOut[check]}`];
    else if (found.broken && word === "ok") [word, remark] = ["--", "not reached"];
    return { check, word, remark, said, more };
  });
}

// All of it as plain text.
export function report(found, bundle) {
  const lines = [`Bundle   ${plain(bundle)}`];
  for (const [word, text] of about(found)) lines.push(`${word.padEnd(9)}${text}`);
  lines.push("");
  for (const { check, word, remark, said, more } of outcomes(found)) {
    lines.push(`  ${(WORDS[word] ?? word).padEnd(6)} ${check}: ${remark}`.trimEnd());
    for (const { level, sentence } of said) lines.push(`           ${WORDS[level]}: ${sentence}`);
    if (more) lines.push(`           and ${more} more`);
  }
  const { title, sentences, never: beyond } = verdict(found);
  lines.push("", `VERDICT  ${title}`, ...sentences.map((one) => `  ${one}`), "WHAT NO CHECK CAN SHOW");
  return [...lines, ...beyond.map((one) => `  - ${one}`)].join("\n");
}
