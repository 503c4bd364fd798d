// Check a bundle: the same checks as the program verify.py makes, by the same names.

import { Bad, hex } from "./bytes.mjs";
import { Breath } from "./breath.mjs";
import { Said } from "./entry.mjs";
import { container, Files } from "./files.mjs";
import { Found } from "./found.mjs";
import { Tree } from "./merkle.mjs";
import { Key, State, STATES, WITNESS } from "./notes.mjs";
import { Pass } from "./record.mjs";
import { Signed } from "./states.mjs";
import { DAY } from "./times.mjs";
import { Archive } from "./zip.mjs";

// What is held against the bundle, from texts: keys and witnesses (each a list), states that were kept, the age in days
// that the newest evidence may have (null for any), SHA-256 of the program. Throws Bad; ``field`` on it says which.
export function askedOf({ keys = [], witnesses = [], saved = [], days = null, program = "" }) {
  const of = (field, read) => {
    try {
      return read();
    } catch (error) {
      if (error instanceof Bad) error.field = field;
      throw error;
    }
  };
  const ofKind = (text, kind) => {
    const key = Key.read(text);
    if (key.kind === kind) return key;
    throw new Bad(kind === STATES ? "it is the key of a witness" : "it is the key of a record");
  };
  const seen = of("witness", () => witnesses.map((text) => ofKind(text, WITNESS)));
  const names = seen.map(({ name }) => name);
  return {
    keys: of("key", () => keys.map((text) => ofKind(text, STATES))),
    witnesses: seen,
    saved: of("saved", () => saved.map((text) => State.typed(text, names))),
    maxAge: days === null ? null : days * DAY,
    program,
  };
}

// Check a bundle, a Blob. ``now``: milliseconds. Returns what was found, whatever is in it; throws what ``signal`` gives
// as its reason where it breaks off.
export async function verify(blob, asked, { now, signal = null, tell = () => {} }) {
  const found = new Found();
  const breath = new Breath({ signal, tell });
  try {
    const archive = await Archive.of(blob);
    if (await container(archive, found)) await bundle({ archive, asked, found, now, breath });
    else found.broken = true;
  } catch (error) {
    if (!(error instanceof Bad)) throw error;
    found.fault("container", `The file is damaged or cut short, or is no ZIP file: ${error.message}.`);
    found.broken = true;
  }
  return found;
}

async function bundle({ archive, asked, found, now, breath }) {
  const tree = new Tree();
  const said = new Said(found, tree, now);
  const signed = new Signed({ archive, asked, found, tree, said, now, breath });
  const pass = new Pass({ archive, found, tree, said, breath });
  await pass.readSpan();
  await signed.read();
  pass.wanted = new Set([...signed.states, ...asked.saved].map((one) => one.size));
  await pass.entries();
  Object.assign(found.info, {
    name: said.name, log: said.log, size: tree.size, shown: pass.count, root: hex(tree.root()), span: pass.span,
    line: pass.alone?.name ?? null,
    states: new Set(signed.states.map((one) => one.size)).size, last: said.last, head: signed.head,
    own: said.signedActs, keys: said.keysOfPersons(), names: new Map(),
  });
  await signed.signatures();
  await signed.saved();
  await signed.witnesses(pass.times);
  signed.freshness();
  const files = new Files({ archive, asked, found, said, breath });
  for (const name of signed.bound) files.bound.add(name);
  for (const folder of Object.keys(said.files)) await files.folder(folder);
  await files.disclosures();
  files.erased();
  await files.rest({ size: tree.size, signed: signed.head?.size ?? 0, span: pass.span });
}
