// SHA-256 (FIPS 180-4), piece by piece and without waiting: the browser's own wants the whole at once and answers later,
// which costs more than the hashing where there are many short pieces.

const K = new Int32Array(64);
const START = new Int32Array(8);

// The first 32 bits of the fractional parts of cube roots and square roots of the first primes (FIPS 180-4, 4.2.2 and
// 5.3.3), reckoned in whole numbers.
function fraction(prime, power) {
  const wide = BigInt(prime) << BigInt(32 * power);
  let root = BigInt(Math.floor(prime ** (1 / power) * 2 ** 32));
  while (root ** BigInt(power) > wide) root -= 1n;
  while ((root + 1n) ** BigInt(power) <= wide) root += 1n;
  return Number(root & 0xffffffffn) | 0;
}

for (let number = 2, count = 0; count < 64; number += 1) {
  let prime = true;
  for (let one = 2; one * one <= number; one += 1) if (number % one === 0) prime = false;
  if (!prime) continue;
  K[count] = fraction(number, 3);
  if (count < 8) START[count] = fraction(number, 2);
  count += 1;
}

const W = new Int32Array(64);

function mixed(state, data, at) {
  for (let t = 0; t < 16; t += 1, at += 4) {
    W[t] = (data[at] << 24) | (data[at + 1] << 16) | (data[at + 2] << 8) | data[at + 3];
  }
  for (let t = 16; t < 64; t += 1) {
    const x = W[t - 15];
    const y = W[t - 2];
    const s0 = ((x >>> 7) | (x << 25)) ^ ((x >>> 18) | (x << 14)) ^ (x >>> 3);
    const s1 = ((y >>> 17) | (y << 15)) ^ ((y >>> 19) | (y << 13)) ^ (y >>> 10);
    W[t] = (W[t - 16] + s0 + W[t - 7] + s1) | 0;
  }
  let a = state[0];
  let b = state[1];
  let c = state[2];
  let d = state[3];
  let e = state[4];
  let f = state[5];
  let g = state[6];
  let h = state[7];
  for (let t = 0; t < 64; t += 1) {
    const s1 = ((e >>> 6) | (e << 26)) ^ ((e >>> 11) | (e << 21)) ^ ((e >>> 25) | (e << 7));
    const one = (h + s1 + ((e & f) ^ (~e & g)) + K[t] + W[t]) | 0;
    const s0 = ((a >>> 2) | (a << 30)) ^ ((a >>> 13) | (a << 19)) ^ ((a >>> 22) | (a << 10));
    const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0;
    h = g;
    g = f;
    f = e;
    e = (d + one) | 0;
    d = c;
    c = b;
    b = a;
    a = (one + two) | 0;
  }
  state[0] += a;
  state[1] += b;
  state[2] += c;
  state[3] += d;
  state[4] += e;
  state[5] += f;
  state[6] += g;
  state[7] += h;
}

export class Sha256 {
  constructor() {
    this.state = START.slice();
    this.block = new Uint8Array(64);
    this.filled = 0;
    this.length = 0;
  }

  add(data) {
    this.length += data.length;
    let at = 0;
    if (this.filled) {
      at = Math.min(64 - this.filled, data.length);
      this.block.set(data.subarray(0, at), this.filled);
      this.filled += at;
      if (this.filled < 64) return this;
      mixed(this.state, this.block, 0);
      this.filled = 0;
    }
    for (; at + 64 <= data.length; at += 64) mixed(this.state, data, at);
    this.block.set(data.subarray(at), 0);
    this.filled = data.length - at;
    return this;
  }

  // The 32 bytes; nothing can be added after it.
  end() {
    const { block, state, length } = this;
    block.fill(0, this.filled);
    block[this.filled] = 0x80;
    if (this.filled >= 56) {
      mixed(state, block, 0);
      block.fill(0);
    }
    const view = new DataView(block.buffer);
    view.setUint32(56, Math.floor(length / 2 ** 29));
    view.setUint32(60, (length * 8) % 2 ** 32);
    mixed(state, block, 0);
    const found = new Uint8Array(32);
    const out = new DataView(found.buffer);
    state.forEach((word, at) => out.setInt32(4 * at, word));
    return found;
  }
}

export function sha256(...parts) {
  const hash = new Sha256();
  for (const part of parts) hash.add(part);
  return hash.end();
}
