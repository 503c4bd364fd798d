// The README of a bundle: the same for everybody, so that a changed one is noticed. Its text is the program's.

import { worded } from "./canonical.mjs";
import { first } from "./numbers.mjs";

export function readme(name, log, size, signed, span) {
  let what = "This is the inspection record of";
  if (span?.line) what = `This is one line (${span.line}) of the inspection record of`;
  else if (span) {
    const received = `received from ${span.since}\nuntil before ${span.until}`;
    what = `These are the days ${worded(span.from)} to ${worded(span.to)} (${received}) of the inspection record of`;
  }
  const were = size === 1 ? "its only entry was" : `the ${size} entries were`;
  let state = `NOTHING HERE IS SIGNED. Only copies of its papers show whether ${were} changed.`;
  if (signed >= size) {
    const all = size === 1 ? "Its only entry stands" : `All ${size} entries stand`;
    state = `${all} under a signature of the record's own key.`;
  } else if (signed) {
    const are = signed === 1 ? "IS" : "ARE";
    const about = "Nobody's signature stands for what comes after.";
    state = `ONLY ${first(signed, size).toUpperCase()} ${are} SIGNED. ${about}`;
  }
  if (span?.line) {
    state += "\nWHETHER AN ENTRY ABOUT THIS LINE WAS LEFT OUT CANNOT BE SEEN. Days, or the whole record, show it.";
  }
  const title = `INSPECTION RECORD\n\n${what} ${name || "an operator"}\n(record ${log}).\n${state}\n\n`;
  return title + TEXT;
}

const TEXT = `\
WHAT IS IN IT
  log/entries.jsonl   every entry exactly as it was stored, one a line, oldest first
  log/checkpoint.txt  the newest signed state: name of the record, number of entries,
                      fingerprint of all of them, signature
  log/checkpoints/    every state that was signed, named by its number of entries
  disclosures.jsonl   the names and notes that entries stand for, as far as not erased
  photos/  papers/  sources/   files, named by their fingerprint (SHA-256)
  csv/entries.csv     a list of the entries for a spreadsheet
  log/leaves.bin      only where days or a line were chosen: the fingerprints of all
  log/range.json      entries, which prove that those shown stand in the record, and
                      what was chosen; of days also that none of theirs is left out
Every time is in UTC. Names, notes and photos of people are in it: keep it as such.

HOW TO CHECK IT
1. Take the program verify.py and the record's key from another hand than this file:
   from an earlier visit, from the one who orders the audit, from two people
   separately. The program in this file is a convenience. Who could change the
   record could change the program beside it.
2. On a computer with Python 3.9 or newer, without unpacking this file, type
      python verify.py THIS-FILE.zip --key "THE KEY"
   (on Windows: py verify.py ...), and behind it, as far as you have them:
      --prev SAVED.txt           a signed state that you kept: the file of your last
                                 visit, or the lines at the end of a printed day sheet,
                                 typed into a file. Its first three lines are enough.
      --witness "ITS KEY"        if somebody outside countersigns the record
      --max-age-days 30          to be told if an old file is shown again
      --save-checkpoint NEW.txt  to keep the newest state for the next time
3. Read the verdict:
      ALTERED                    something does not agree. Do not rely on it.
      CONSISTENT WITH ITSELF     no fault, but anybody could have made all or part of
                                 it: you gave too little from outside.
      SIGNED BY ITS KEY          the key stands for every entry. Whoever has that key
                                 could have written all of it anew: you gave no state
                                 that was kept, and no witness.
      GENUINE, WITH LIMITS       the key stands for every entry, and what was kept or
                                 witnessed for those up to it. What could not be shown
                                 is listed: read that list.
      GENUINE AND COMPLETE       a witness and a state that you kept agree as well.

WHAT THE CHECK SHOWS
That no entry, photo or paper was changed, removed, put in or moved after it was
signed; and, with a state that you kept or a witness, that nobody made a second
version of the record since. Names, notes, photos and papers that a manager and an
engineer erased together, years later, by entries of the record, are counted; so are
photos that were still on a phone when their entry was made, and are not here.

WHAT NO CHECK CAN SHOW
- That a figure was true when it was typed, that a photo shows the part it is said
  to show, or that somebody really looked.
- What was never entered.
- Who sat at the phone. The verdict counts the entries that are signed by a person's
  own key, and the report lists these keys. That a key is a person's is what the
  server said when it was named: who runs the server could name one in somebody's
  name. Let every person show you the first 8 characters of their keys and compare.
  For all other entries the server alone says who was logged in, and who runs it
  could have written them in somebody's name when they were made.
- That others were not shown another version from the first day on. Compare your
  newest state with theirs: the three lines must be the same.

This record decides nothing. The line's designer of record, the makers' manuals,
local law and licensed practice do.
`;
