// The tree over all entries (RFC 6962, section 2.1, over SHA-256).

import { sha256 } from "./sha256.mjs";

const LEAF = Uint8Array.of(0);
const NODE = Uint8Array.of(1);

export const leafHash = (data) => sha256(LEAF, data);

// Hashes behind each other, in a buffer that grows.
class Row {
  constructor() {
    this.data = new Uint8Array(32 * 64);
    this.count = 0;
  }

  push(hash) {
    if (32 * (this.count + 1) > this.data.length) {
      const wider = new Uint8Array(2 * this.data.length);
      wider.set(this.data);
      this.data = wider;
    }
    this.data.set(hash, 32 * this.count);
    this.count += 1;
  }

  at(number) {
    return this.data.subarray(32 * number, 32 * number + 32);
  }
}

// Keeps the roots of all complete subtrees, about 64 bytes an entry, so that the root after any number of entries is
// told with a few hashes: persons' devices name roots that they have seen.
export class Tree {
  constructor() {
    this.size = 0;
    this.rows = [new Row()];
  }

  add(leaf) {
    this.rows[0].push(leaf);
    this.size += 1;
    for (let level = 0; this.rows[level].count % 2 === 0; level += 1) {
      const row = this.rows[level];
      this.rows[level + 1] ??= new Row();
      this.rows[level + 1].push(sha256(NODE, row.at(row.count - 2), row.at(row.count - 1)));
    }
  }

  // The root over the first entries; null where there are not so many.
  root(size = this.size) {
    if (!Number.isInteger(size) || size < 0 || size > this.size) return null;
    if (size === 0) return sha256();
    let found = null;
    for (let level = 0, left = size; left > 0; level += 1, left = Math.floor(left / 2)) {
      if (left % 2 === 0) continue;
      const peak = this.rows[level].at(left - 1);
      found = found ? sha256(NODE, peak, found) : peak.slice();
    }
    return found;
  }
}
