// What is made of entries for people who read: the rows of the spreadsheet and the README. Both are the same for
// everybody, so that a changed one is noticed.

import { hex, utf8 } from "./bytes.mjs";
import { worded } from "./canonical.mjs";

export const COLUMNS = [
  "number", "received_utc", "kind", "day", "made_at_utc", "signed_by", "known_by", "deed", "place", "component",
  "meaning", "fingerprint",
];

function cell(value) {
  // An entry has texts and numbers in these places; of anything else the program's way to write it is not imitated.
  let text = value === true ? "True" : value === false ? "False" : worded(value);
  if (/^[=+\-@\t\r]/.test(text)) text = `'${text}`; // a spreadsheet would take it for a formula
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

export const tableLine = (row) => utf8(`${row.map(cell).join(",")}\r\n`);

export function tableRow(record, leaf) {
  const { act, auth } = record;
  return [
    record.seq, record.t, record.kind, act.date ?? "", act.made_at, act.signer.ref ?? "",
    `${auth.how}${record.sig === undefined ? "" : ", own key"}`, act.id, act.place ?? "", act.component ?? "",
    act.meaning ?? "", hex(leaf),
  ];
}
