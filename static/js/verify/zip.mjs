// A ZIP file read where it lies: its list of files first, then one file at a time, as a stream. Nothing of it is ever
// whole in memory. What is read and what is refused is as in Python's zipfile, which the program uses; in two things it
// is stricter: files may not overlap, and nothing may follow the end of a packed file.

import { Bad, joined, same } from "./bytes.mjs";

const LONGEST_LIST = 256 << 20; // bytes; half a million photos have some 70 million
const CHUNK = 1 << 20; // as the program: of a short file that is damaged, nothing is looked at
const UTF8 = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });
const STORED = 0;
const DEFLATED = 8;
const WIDE = 0xffffffff;

const CRC = new Int32Array(256).map((_, one) => {
  for (let bit = 0; bit < 8; bit += 1) one = one & 1 ? (one >>> 1) ^ 0xedb88320 : one >>> 1;
  return one;
});

function crc32(crc, data) {
  crc = ~crc;
  for (let at = 0; at < data.length; at += 1) crc = CRC[(crc ^ data[at]) & 255] ^ (crc >>> 8);
  return ~crc;
}

const bytesOf = async (blob, from, to) => new Uint8Array(await blob.slice(from, to).arrayBuffer());
const viewOf = (data) => new DataView(data.buffer, data.byteOffset, data.byteLength);

function wide(view, at) {
  const found = view.getBigUint64(at, true);
  if (found > BigInt(Number.MAX_SAFE_INTEGER)) throw new Bad("it names a size that is none");
  return Number(found);
}

// A name without the mark for UTF-8 is in an old code page; a bundle has none, so its signs beyond ASCII only have to
// differ from each other.
function nameOf(data, flags) {
  if (!(flags & 0x800)) return String.fromCharCode(...data);
  try {
    return UTF8.decode(data);
  } catch {
    throw new Bad("a name in it is not text in UTF-8");
  }
}

// Where the list of files lies: its end, its size and offset as they are told, and whether they are told in wide fields.
async function endOf(blob) {
  const from = Math.max(blob.size - 22 - (1 << 16), 0);
  const data = await bytesOf(blob, from);
  const view = viewOf(data);
  const marked = (at) => view.getUint32(at, true) === 0x06054b50;
  let at = data.length - 22;
  if (at < 0) throw new Bad("File is not a zip file");
  if (!marked(at) || view.getUint16(at + 20, true)) {
    at = data.length - 4;
    while (at >= 0 && !marked(at)) at -= 1;
    if (at < 0 || at + 22 > data.length) throw new Bad("File is not a zip file");
  }
  const found = { end: from + at, size: view.getUint32(at + 12, true), offset: view.getUint32(at + 16, true) };
  const locator = found.end < 20 ? null : viewOf(await bytesOf(blob, found.end - 20, found.end));
  if (locator?.getUint32(0, true) !== 0x07064b50) return found;
  if (locator.getUint32(4, true) || locator.getUint32(16, true) > 1) {
    throw new Bad("zipfiles that span multiple disks are not supported");
  }
  const record = found.end < 76 ? null : viewOf(await bytesOf(blob, found.end - 76, found.end - 20));
  if (record?.getUint32(0, true) !== 0x06064b50) return found;
  return { end: found.end - 76, size: wide(record, 40), offset: wide(record, 48) };
}

// Sizes beyond 4 GiB stand in a field of their own.
function widened(member, extra) {
  const view = viewOf(extra);
  for (let at = 0; at + 4 <= extra.length; ) {
    const [kind, size] = [view.getUint16(at, true), view.getUint16(at + 2, true)];
    if (at + 4 + size > extra.length) throw new Bad("Corrupt extra field");
    if (kind === 0x7075) throw new Bad("a file in it has a second name");
    if (kind === 1) {
      let from = at + 4;
      for (const field of ["size", "packed", "offset"]) {
        if (member[field] !== WIDE) continue;
        if (from + 8 > at + 4 + size) throw new Bad("Corrupt zip64 extra field");
        member[field] = wide(view, from);
        from += 8;
      }
    }
    at += 4 + size;
  }
}

// One file, read piece by piece: no more than its size, and at its end its check value has to agree.
class Reader {
  constructor(source, member) {
    this.source = source;
    this.member = member;
    this.left = member.size;
    this.crc = 0;
    this.rest = new Uint8Array(0);
    this.ended = false;
  }

  // The next bytes, null after the last.
  async chunk() {
    if (this.rest.length) {
      const found = this.rest;
      this.rest = found.subarray(found.length);
      return found;
    }
    if (this.ended) return null;
    let got;
    try {
      got = await this.source.read();
    } catch {
      throw new Bad(`${this.member.name} cannot be unpacked`);
    }
    if (!got.done) {
      this.left -= got.value.length;
      if (this.left < 0) {
        await this.close();
        throw new Bad(`${this.member.name} is longer than it is said to be`);
      }
      this.crc = crc32(this.crc, got.value);
      return got.value;
    }
    this.ended = true;
    if (this.crc >>> 0 !== this.member.crc) throw new Bad(`Bad CRC-32 for file '${this.member.name}'`);
    return null;
  }

  // As many bytes as are wanted, fewer at the end.
  async read(count) {
    const parts = [];
    let lacking = count;
    while (lacking > 0) {
      const part = await this.chunk();
      if (part === null) break;
      parts.push(part.subarray(0, lacking));
      this.rest = part.subarray(Math.min(lacking, part.length));
      lacking -= parts.at(-1).length;
    }
    return parts.length ? joined(parts) : new Uint8Array(0);
  }

  // The same where they are here already, else null: most short pieces are, and waiting costs more than reading.
  take(count) {
    if (this.rest.length < count) return null;
    const found = this.rest.subarray(0, count);
    this.rest = this.rest.subarray(count);
    return found;
  }

  async close() {
    await this.source.cancel().catch(() => {});
  }
}

export class Archive {
  // Read the list of files. Throws Bad where there is none that can be read.
  static async of(blob) {
    const told = await endOf(blob);
    const start = told.end - told.size;
    const before = start - told.offset; // what was put before the file
    if (start < 0 || before < 0) throw new Bad("Bad offset for central directory");
    if (told.size > LONGEST_LIST) throw new Bad("its list of files is too long");
    const data = await bytesOf(blob, start, told.end);
    const view = viewOf(data);
    const list = [];
    for (let at = 0; at < data.length; ) {
      if (at + 46 > data.length) throw new Bad("Truncated central directory");
      if (view.getUint32(at, true) !== 0x02014b50) throw new Bad("Bad magic number for central directory");
      if ((view.getUint16(at + 6, true) & 255) > 63) throw new Bad("zip file version");
      const [names, extras, comments] = [28, 30, 32].map((field) => view.getUint16(at + field, true));
      const flags = view.getUint16(at + 8, true);
      const raw = data.subarray(at + 46, at + 46 + names);
      const whole = nameOf(raw, flags);
      const member = {
        name: whole.split("\0")[0], whole, raw, flags, method: view.getUint16(at + 10, true),
        crc: view.getUint32(at + 16, true), packed: view.getUint32(at + 20, true), size: view.getUint32(at + 24, true),
        mode: view.getUint32(at + 38, true) >>> 16, offset: view.getUint32(at + 42, true),
      };
      widened(member, data.subarray(at + 46 + names, at + 46 + names + extras));
      member.offset += before;
      list.push(member);
      at += 46 + names + extras + comments;
    }
    return new Archive(blob, list, start);
  }

  constructor(blob, list, end) {
    this.blob = blob;
    this.list = list;
    this.members = new Map(list.map((one) => [one.name, one]));
    const offsets = list.map((one) => one.offset).sort((one, other) => one - other);
    this.first = offsets[0] ?? 0;
    this.next = new Map(offsets.map((one, at) => [one, offsets[at + 1] ?? end]));
  }

  // Whether something stands before the first file or behind the end, a comment included.
  async surrounded() {
    const tail = await bytesOf(this.blob, Math.max(this.blob.size - 22, 0));
    return viewOf(tail).getUint32(0, true) !== 0x06054b50 || this.first > 0;
  }

  has(name) {
    return this.members.has(name);
  }

  async open(name) {
    const member = this.members.get(name);
    const { offset } = member;
    const head = await bytesOf(this.blob, offset, offset + 30 + member.raw.length);
    if (head.length < 30) throw new Bad("Truncated file header");
    const view = viewOf(head);
    if (view.getUint32(0, true) !== 0x04034b50) throw new Bad("Bad magic number for file header");
    const [names, extras] = [26, 28].map((field) => view.getUint16(field, true));
    if (names !== member.raw.length || !same(head.subarray(30), member.raw)) {
      throw new Bad(`File name in directory '${name}' and header differ`);
    }
    if (member.flags & 0x61) throw new Bad(`${name} is encrypted or patched`);
    const from = offset + 30 + names + extras;
    if (from + member.packed > this.next.get(offset)) throw new Bad(`Overlapped entries: '${name}'`);
    let stream = this.blob.slice(from, from + member.packed).stream();
    if (member.method === DEFLATED) stream = stream.pipeThrough(new DecompressionStream("deflate-raw"));
    else if (member.method !== STORED) throw new Bad("That compression method is not supported");
    return new Reader(stream.getReader(), member);
  }

  // A file that has to be short, whole. Throws Bad where it is longer.
  async data(name, longest) {
    const reader = await this.open(name);
    const found = await reader.read(longest + 1);
    if (found.length > longest) {
      await reader.close();
      throw new Bad(`${name} is too long`);
    }
    return found; // read to its end, so its check value agreed
  }
}

// Lines without their ends, as many at a time as are there. Throws Bad for one that is too long or has no end.
export async function* linesOf(reader, longest) {
  let parts = [];
  let waiting = 0;
  for (let chunk = await reader.read(CHUNK); chunk.length; chunk = await reader.read(CHUNK)) {
    const lines = [];
    let from = 0;
    for (let at = chunk.indexOf(10); at >= 0; at = chunk.indexOf(10, from)) {
      parts.push(chunk.subarray(from, at));
      lines.push(joined(parts));
      parts = [];
      waiting = 0;
      from = at + 1;
    }
    if (from < chunk.length) {
      parts.push(chunk.slice(from));
      waiting += chunk.length - from;
    }
    yield lines;
    if (waiting > longest) throw new Bad(`a line is longer than ${longest} bytes`);
  }
  if (waiting) throw new Bad("the last line is cut short");
}
