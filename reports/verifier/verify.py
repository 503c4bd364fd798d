#!/usr/bin/env python3
"""Check the bundle of an inspection record: was anything in it changed, taken away, put in or moved?

    python verify.py BUNDLE.zip --key KEY --prev SAVED.txt --witness KEY --max-age-days 30

One file, Python 3.9 or newer, standard library only; the package "cryptography" is used where it is installed, with
the same answers. Take this file and the key from another hand than the bundle. Ends with 0 if there is no fault and
something from outside the bundle stands for every entry, 1 if there is a fault, 2 if there is no fault but nothing from
outside stands for all of it, 3 if it was called in a way that it does not understand.

Formats: entries are canonical JSON (RFC 8785 narrowed: no floats, ASCII keys, text in NFC); the tree is that of RFC
6962 section 2.1 over SHA-256; signed states are checkpoints and cosignatures of C2SP (signed-note, tlog-checkpoint,
tlog-cosignature) with Ed25519 (RFC 8032 section 5.1).
"""

from __future__ import annotations

import argparse
import base64
import csv
import io
import json
import re
import stat
import sys
import unicodedata
import zipfile
import zlib
from collections import defaultdict
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta, timezone
from functools import lru_cache
from hashlib import sha256, sha512
from pathlib import Path
from textwrap import wrap
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

CHUNK = 1 << 20
LONGEST_LINE = 16 << 20  # bytes; the longest entries, whole checklists, have some ten thousand
LONGEST_TEXT = 1 << 20
MOST_BYTES = 64 << 30
STEEPEST = 200  # times that a file of more than a mebibyte may grow when unpacked; entries grow about tenfold
KEPT = timedelta(days=5 * 365)  # before that nothing is erased; five years have a day or two more
SLACK = timedelta(minutes=5)  # by which two honest clocks may differ
LATER = timedelta(minutes=11)  # what is signed with a signal reaches the record sooner
MOST_SHOWN = 8  # sentences of one kind
MOST_ROWS = 256  # of the table that are compared together
UNREADABLE = (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError)

ENTRIES, HEAD, STATES, LEAVES, RANGE = (
    "log/entries.jsonl", "log/checkpoint.txt", "log/checkpoints/", "log/leaves.bin", "log/range.json",
)  # fmt: skip
README, PROGRAM, TABLE, NAMES = "README.txt", "verify.py", "csv/entries.csv", "disclosures.jsonl"

CHECKS = {
    "container": "the ZIP file is whole and nothing in it can harm this computer",
    "canonical form": "every entry is written in the one form that is allowed",
    "numbering": "entries are numbered without a gap",
    "chain": "every entry names the fingerprint of the one before it",
    "replay": "no deed stands in the record twice",
    "time order": "no entry is older than the one before it, or from the future",
    "people": "who signed an entry is who was logged in",
    "own keys": "whatever a person signed with a key of their own is as it was signed",
    "tree head": "the entries give the signed fingerprint of the whole",
    "log signature": "that fingerprint is signed by the record's key",
    "earlier checkpoints": "every state that was signed before is still the beginning of this record",
    "saved checkpoint": "the state that you kept is still the beginning of this record",
    "witness": "a witness outside the operator's reach saw this state",
    "freshness": "the newest evidence is not older than you allow",
    "photos": "every photo is the one that its entry names",
    "papers": "every paper is the one that its entry names",
    "sources": "every source of a limit is the one that its entry names",
    "personal data": "every name and note is the one that its entry stands for",
    "erasures": "whatever was erased, a manager and an engineer decided together, years after it was entered",
    "spreadsheet": "the table says what the entries say",
    "unbound files": "nothing else was put into the bundle",
}


class Bad(ValueError):
    """What was read is not what it has to be; the message says why."""


# --- Ed25519, verifying only (RFC 8032 section 5.1), for where no library is installed

P = 2**255 - 19
ORDER = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, -1, P) % P
ROOT_OF_MINUS_ONE = pow(2, (P - 1) // 4, P)
Point = "tuple[int, int, int, int]"  # X, Y, Z, T with x = X/Z, y = Y/Z, xy = T/Z


def _unpacked(data: bytes) -> Any:
    """Return the point that 32 bytes stand for, or None."""
    y = int.from_bytes(data, "little")
    odd, y = y >> 255, y & ((1 << 255) - 1)
    if y >= P:
        return None
    square = (y * y - 1) * pow(D * y * y + 1, -1, P) % P
    x = pow(square, (P + 3) // 8, P)
    if (x * x - square) % P:
        x = x * ROOT_OF_MINUS_ONE % P
    if (x * x - square) % P or (x == 0 and odd):
        return None
    if x & 1 != odd:
        x = P - x
    return x, y, 1, x * y % P


def _sum(one: Any, other: Any) -> Any:
    a = (one[1] - one[0]) * (other[1] - other[0]) % P
    b = (one[1] + one[0]) * (other[1] + other[0]) % P
    c = 2 * one[3] * other[3] * D % P
    d = 2 * one[2] * other[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return e * f % P, g * h % P, f * g % P, e * h % P


def _times(number: int, point: Any) -> Any:
    found = (0, 1, 1, 0)
    while number:
        if number & 1:
            found = _sum(found, point)
        point = _sum(point, point)
        number >>= 1
    return found


BASE = _unpacked((4 * pow(5, -1, P) % P).to_bytes(32, "little"))


def ed25519_pure(public: bytes, signature: bytes, message: bytes) -> bool:
    """Tell whether the signature is good, with nothing but integers."""
    if len(public) != 32 or len(signature) != 64:
        return False
    a, r, s = _unpacked(public), _unpacked(signature[:32]), int.from_bytes(signature[32:], "little")
    if a is None or r is None or s >= ORDER:
        return False
    k = int.from_bytes(sha512(signature[:32] + public + message).digest(), "little") % ORDER
    left, right = _times(s, BASE), _sum(r, _times(k, a))
    return not (left[0] * right[2] - right[0] * left[2]) % P and not (left[1] * right[2] - right[1] * left[2]) % P


def ed25519(public: bytes, signature: bytes, message: bytes) -> bool:
    """Tell whether the signature is good, by the library where there is one."""
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ImportError:
        return ed25519_pure(public, signature, message)
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, message)
    except (InvalidSignature, ValueError):
        return False
    return True


# --- ECDSA on P-256 with SHA-256, verifying only (FIPS 186-5), the signature as r and s of 32 bytes each

P256 = 2**256 - 2**224 + 2**192 + 2**96 - 1
N256 = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551
B256 = 0x5AC635D8AA3A93E7B3EBBD55769886BC651D06B0CC53B0F63BCE3C3E27D2604B
G256 = (
    0x6B17D1F2E12C4247F8BCE6E563A440F277037D812DEB33A0F4A13945D898C296,
    0x4FE342E2FE1A7F9B8EE7EB4A7C0F9E162BCE33576B315ECECBB6406837BF51F5,
)


def _sum256(one: Any, other: Any) -> Any:
    """Add two points; None is the point at infinity."""
    if one is None or other is None:
        return other if one is None else one
    if one[0] == other[0]:
        if (one[1] + other[1]) % P256 == 0:
            return None
        slope = (3 * one[0] * one[0] - 3) * pow(2 * one[1], -1, P256) % P256
    else:
        slope = (other[1] - one[1]) * pow(other[0] - one[0], -1, P256) % P256
    x = (slope * slope - one[0] - other[0]) % P256
    return x, (slope * (one[0] - x) - one[1]) % P256


def _times256(number: int, point: Any) -> Any:
    found = None
    while number:
        if number & 1:
            found = _sum256(found, point)
        point = _sum256(point, point)
        number >>= 1
    return found


def es256_pure(public: bytes, signature: bytes, message: bytes) -> bool:
    """Tell whether the signature is good, with nothing but integers."""
    if len(public) != 65 or public[0] != 4 or len(signature) != 64:
        return False
    x, y = int.from_bytes(public[1:33], "big"), int.from_bytes(public[33:], "big")
    r, s = int.from_bytes(signature[:32], "big"), int.from_bytes(signature[32:], "big")
    if max(x, y) >= P256 or (y * y - x * x * x + 3 * x - B256) % P256 or not (0 < r < N256 and 0 < s < N256):
        return False
    inverse, number = pow(s, -1, N256), int.from_bytes(sha256(message).digest(), "big")
    point = _sum256(_times256(number * inverse % N256, G256), _times256(r * inverse % N256, (x, y)))
    return point is not None and point[0] % N256 == r


def es256(public: bytes, signature: bytes, message: bytes) -> bool:
    """Tell whether the signature is good, by the library where there is one."""
    if len(public) != 65 or len(signature) != 64:
        return False
    try:
        return _by_library(public)(signature, message)
    except ImportError:
        return es256_pure(public, signature, message)


@lru_cache(maxsize=256)
def _by_library(public: bytes) -> Any:
    """Return what tells of one key whether a signature is good; it is kept, for a key signs many entries."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric import ec, utils
    from cryptography.hazmat.primitives.hashes import SHA256

    try:
        key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), public)
    except ValueError:
        return lambda signature, message: False
    how = ec.ECDSA(SHA256())

    def good(signature: bytes, message: bytes) -> bool:
        r, s = int.from_bytes(signature[:32], "big"), int.from_bytes(signature[32:], "big")
        try:
            key.verify(utils.encode_dss_signature(r, s), message, how)
        except (InvalidSignature, ValueError):
            return False
        return True

    return good


# --- canonical JSON


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Bad("a key stands twice")
    if not all(key.isascii() for key in found):
        raise Bad("a key is not ASCII")
    return found


def _integer(text: str) -> int:
    if len(text) > 17 or abs(int(text)) > 2**53 - 1:
        raise Bad("a number is beyond 2**53 - 1")
    return int(text)


def _no_float(text: str) -> Any:
    raise Bad("a number is not whole")


def _no_null(value: Any) -> None:
    for one in value.values() if isinstance(value, dict) else value:
        if one is None:
            raise Bad("a value is null")
        if isinstance(one, (dict, list)):
            _no_null(one)


_WRITER = json.JSONEncoder(
    ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False, check_circular=False
)
_READER = json.JSONDecoder(parse_float=_no_float, parse_constant=_no_float, parse_int=_integer)
_SLOW_READER = json.JSONDecoder(
    object_pairs_hook=_pairs, parse_float=_no_float, parse_constant=_no_float, parse_int=_integer
)


def canonical(value: Any) -> bytes:
    """Return the canonical bytes: for this profile Python's own writer gives those of RFC 8785."""
    return _WRITER.encode(value).encode()


_WIDE_KEY = re.compile(r'[^\x00-\x7f][^"]*":')


def _has_plain_text(text: str) -> bool:
    """Tell whether all keys are ASCII and all text is in NFC, without reading it; False where that is not plain."""
    if text.isascii():
        return True
    return "\\" not in text and not _WIDE_KEY.search(text) and unicodedata.is_normalized("NFC", text)


def parsed(data: bytes) -> dict[str, Any]:
    """Read one object. Raises Bad unless the bytes are exactly its canonical form."""
    try:
        text = data.decode("utf-8")
        if "null" not in text and _has_plain_text(text):
            # Then one comparison says the rest: a key that stands twice is not written back, nor is a space.
            value = _READER.decode(text)
            if isinstance(value, dict) and _WRITER.encode(value) == text:
                return value
        value = _SLOW_READER.decode(text)
        if not isinstance(value, dict):
            raise Bad("it is not an object")
        _no_null(value)
        if canonical(value) != data:
            raise Bad("the bytes are not in canonical form")
        if not unicodedata.is_normalized("NFC", text):
            raise Bad("text is not in Unicode NFC")
    except RecursionError:
        raise Bad("it is nested too deeply") from None
    except ValueError as error:
        raise Bad(str(error)) from None
    return value


# --- the tree


def leaf_hash(data: bytes) -> bytes:
    return sha256(b"\x00" + data).digest()


class Tree:
    """The roots of all complete subtrees of what was added: 64 bytes for an entry, and any earlier root at hand."""

    def __init__(self) -> None:
        self.size = 0
        self.levels = [bytearray()]  # of one leaf, of two, of four ...

    def add(self, leaf: bytes) -> None:
        self.size += 1
        self.levels[0] += leaf
        size, level = self.size, 0
        while not size & 1:
            pair = self.levels[level][-64:]
            size, level = size >> 1, level + 1
            if level == len(self.levels):
                self.levels.append(bytearray())
            self.levels[level] += sha256(b"\x01" + pair).digest()

    def root(self, size: int | None = None) -> bytes:
        """Return the root of all, or of the first so many; b"" if there are not so many."""
        size = self.size if size is None else size
        if not 0 < size <= self.size:
            return b"" if size else sha256(b"").digest()
        found = b""
        for level, nodes in enumerate(self.levels):
            if size >> level & 1:
                end = 32 * (size >> level)
                node = bytes(nodes[end - 32 : end])
                found = sha256(b"\x01" + node + found).digest() if found else node
        return found


# --- keys and signed states


class Key(NamedTuple):
    text: str
    name: str
    id: bytes
    kind: int  # 1: signs states; 4: a witness's
    public: bytes

    @classmethod
    def read(cls, text: str) -> Key:
        text = text.strip()
        try:
            name, ident, packed = text.split("+", 2)
            raw = base64.b64decode(packed, validate=True)
        except ValueError:
            raise Bad("it is not the text of a key") from None
        if len(raw) != 33 or raw[0] not in (1, 4) or not name or any(one.isspace() for one in name):
            raise Bad("it is not the text of a key of a kind that is known")
        if sha256(name.encode() + b"\n" + raw).hexdigest()[:8] != ident:
            raise Bad("it is damaged: its short name is not that of its bytes")
        return cls(text, name, bytes.fromhex(ident), raw[0], raw[1:])


class State(NamedTuple):
    """A signed state: so many entries, with this root. ``signatures``: (name, id of the key, bytes)."""

    origin: str
    size: int
    root: bytes
    text: str
    signatures: list[tuple[str, bytes, bytes]]

    @classmethod
    def read(cls, note: str) -> State:
        """Read a state in its exact form."""
        text, empty, rest = note.rpartition("\n\n")
        lines = text.split("\n")
        if not empty or not rest.endswith("\n") or len(lines) < 3 or any(ord(o) < 32 and o != "\n" for o in note):
            raise Bad("it is not a signed state")
        found = []
        for line in rest[:-1].split("\n"):
            parts = line.split(" ")
            raw = _bytes_of(parts[-1])
            if len(parts) != 3 or parts[0] != "\u2014" or len(raw) < 5:
                raise Bad("a signature line is not in its form")
            found.append((parts[1], raw[:4], raw[4:]))
        return cls._of(lines[0], lines[1], lines[2], text + "\n", found)

    @classmethod
    def typed(cls, text: str, names: list[str]) -> State:
        """Read a state that somebody typed off a paper: spaces and line ends may be anywhere, signatures may lack."""
        try:
            return cls.read(text.replace("\r\n", "\n").lstrip("\ufeff"))
        except Bad:
            lines = [line.strip() for line in text.lstrip("\ufeff").splitlines() if line.strip()]
        if len(lines) < 3:
            raise Bad("it has fewer than three lines")
        body, _, rest = re.sub(r"\n[-\u2013\u2014] *", "\n\u2014", "\n".join(lines[2:])).partition("\u2014")
        root = "".join(body.split())
        signatures = []
        for part in filter(None, ("".join(part.split()) for part in rest.split("\n\u2014"))):
            name = next((one for one in [lines[0], *names] if part.startswith(one)), "")
            raw = _bytes_of(part[len(name) :], otherwise=b"")
            if name and len(raw) >= 5:
                signatures.append((name, raw[:4], raw[4:]))
        size = "".join(lines[1].split())
        return cls._of(lines[0], size, root, f"{lines[0]}\n{size}\n{root}\n", signatures)

    @classmethod
    def _of(cls, origin: str, size: str, root: str, text: str, signatures: list[tuple[str, bytes, bytes]]) -> State:
        if not re.fullmatch("0|[1-9][0-9]{0,14}", size):
            raise Bad("its second line is not a number of entries")
        if len(_bytes_of(root)) != 32:
            raise Bad("its third line is not a fingerprint of 44 characters")
        return cls(origin, int(size), _bytes_of(root), text, signatures)

    def signers(self, keys: Any) -> dict[str, int]:
        """Return which keys signed, by text, with a witness's time. Raises Bad if the signature of one is false."""
        known = {(key.name, key.id): key for key in keys}
        found = {}
        for name, ident, data in self.signatures:
            key = known.get((name, ident))
            if key is None:
                continue
            message, seen_at = self.text.encode(), 0
            if key.kind == 4:
                seen_at, data = int.from_bytes(data[:8], "big"), data[8:]
                message = f"cosignature/v1\ntime {seen_at}\n".encode() + message
            if not ed25519(key.public, data, message):
                raise Bad(f"the signature of {name} on it is false")
            found[key.text] = seen_at
        return found


def _bytes_of(text: str, otherwise: bytes | None = None) -> bytes:
    try:
        raw = base64.b64decode(text, validate=True)
        if base64.b64encode(raw).decode() == text:  # else the last sign has bits that nobody reads
            return raw
    except ValueError:
        pass
    if otherwise is None:
        raise Bad("something in it is not base64")
    return otherwise


# --- numbers in words


def counted(number: int, one: str, more: str) -> str:
    return f"{number} {one if number == 1 else more}"


def told(numbers: list[int]) -> str:
    """Return numbers of entries as words, some of them where there are many."""
    more = f" and {len(numbers) - 6} more" if len(numbers) > 6 else ""
    return ("entry " if len(numbers) == 1 else "entries ") + ", ".join(map(str, numbers[:6])) + more


def between(start: int, end: int) -> str:
    return f"entry {start}" if start == end else f"entries {start} to {end}"


def _numbers(size: int) -> str:
    """Return which numbers so many entries carry: they begin at 0, so that the last one is not their count."""
    return "" if not size else " (number 0)" if size == 1 else f" (0 to {size - 1})"


def numbered(size: int) -> str:
    return counted(size, "entry", "entries") + _numbers(size)


def first(size: int, of: int | None = None) -> str:
    """Return the first so many entries, of so many."""
    return f"the first {'entry' if size == 1 else f'{size} entries'}{_numbers(size)}{'' if of is None else f' of {of}'}"


def capital(words: str) -> str:
    return words[0].upper() + words[1:]


# --- what an entry names, and what is made of entries: the maker of a bundle uses these too

HASH = re.compile("[0-9a-f]{64}")
ID = re.compile("[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
COLUMNS = (
    "number", "received_utc", "kind", "day", "made_at_utc", "signed_by", "known_by", "deed", "place", "component",
    "meaning", "fingerprint",
)  # fmt: skip


ERASING = ("erasure-asked", "erasure-withdrawn", "erasure")  # what decides to forget something


ALWAYS = ("log-key", "person-key", *ERASING)  # kinds that are shown with whatever was chosen: needed to check the rest


class Named(NamedTuple):
    photos: set[str]
    papers: set[str]
    sources: set[str]
    commits: set[str]
    beside: set[tuple[str, str]]  # of the commitments those of persons' names: reference, commitment


def named_by(record: dict[str, Any]) -> Named:
    """Return the hashes of files that an entry binds, and the commitments that stand in it for names and notes.

    What a deed of erasing is about (``what``) it does not name: an entry before it did.
    """
    found = Named(set(), set(), set(), set(), set())
    act = record.get("act", {})
    if record.get("kind") in ERASING and isinstance(act, dict):
        act = {name: one for name, one in act.items() if name != "what"}
    left: list[tuple[str, Any]] = [("", act)]
    for name, value in left:  # it grows on the way
        for key, one in value.items() if isinstance(value, dict) else [(name, one) for one in value]:
            if isinstance(one, str):
                if len(one) != 64 or not HASH.fullmatch(one):
                    continue
            elif isinstance(one, (dict, list)):
                left.append((key, one))
                continue
            else:
                continue
            if key in ("photos", "paper", "photo"):
                found.photos.add(one)
            elif key == "source_file":
                found.sources.add(one)
            elif key == "sha256":  # of a paper; elsewhere of a content that stands in the record itself
                if record.get("kind") == "paper":
                    found.papers.add(one)
            elif key != "root":  # of the record, as a person's device had seen it
                found.commits.add(one)
                if key == "commit" and isinstance(value, dict) and isinstance(value.get("ref"), str):
                    found.beside.add((value["ref"], one))
    return found


def owed_by(record: dict[str, Any]) -> set[str]:
    """Return the hashes of the photos that were still on a phone when an entry that names them was recorded."""
    judged = record.get("judged")
    owed = judged.get("photos_owed") if isinstance(judged, dict) else None
    return {one for one in owed if isinstance(one, str)} if isinstance(owed, list) else set()


class OfLine:
    """Which entries are about one line: what names it, what is about a part of it, what holds for its whole course.

    Parts and holds are learnt on the way, from the entries that fit or call them; ``parts`` are known beforehand.
    """

    def __init__(self, course: str, line: str, parts: Iterable[str] = ()) -> None:
        self.course, self.line, self.parts = course, line, set(parts)

    def has(self, record: dict[str, Any], data: bytes) -> bool:
        """Tell it of an entry and its bytes. Of a course are its days, papers, rules, and holds of all of its lines."""
        about = self.line.encode() in data or self._has(record["act"], record["kind"])
        if record["kind"] == "component-fitted" and _text(record["act"], "place") == self.line:
            self.parts.add(_text(record["act"], "component"))
        elif record["kind"] == "hold" and about:
            self.parts.add(_text(record["act"], "id"))
        return about

    def _has(self, act: dict[str, Any], kind: str) -> bool:
        if kind.startswith(("component-", "hold-")):
            return _text(act, kind[: kind.index("-")]) in self.parts
        if _text(act, "place"):
            return False
        subject = _text(act, "subject")
        if ":" in subject:
            return subject.rpartition(":")[2] in {self.course, *self.parts}
        return _text(act, "course") == self.course


def _text(act: dict[str, Any], name: str) -> str:
    found = act.get(name)
    return found if isinstance(found, str) else ""


def table_row(record: dict[str, Any], leaf: bytes) -> list[Any]:
    """Return the row of the spreadsheet; a cell that would be taken for a formula has an apostrophe before it."""
    act, auth = record.get("act", {}), record.get("auth", {})
    known_by = f"{auth.get('how', '')}{', own key' if 'sig' in record else ''}"
    row = [
        record.get("seq", ""), record.get("t", ""), record.get("kind", ""), act.get("date", ""),
        act.get("made_at", ""), act.get("signer", {}).get("ref", ""), known_by, act.get("id", ""),
        act.get("place", ""), act.get("component", ""), act.get("meaning", ""), leaf.hex(),
    ]  # fmt: skip
    return [f"'{one}" if str(one).startswith(("=", "+", "-", "@", "\t", "\r")) else one for one in row]


def table_line(*rows: Any) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows(rows)
    return out.getvalue().encode()


def readme(name: str, log: str, size: int, signed: int, span: dict[str, Any] | None) -> str:
    """Return the README of a bundle: the same for everybody, so that a changed one is noticed."""
    what = "This is the inspection record of"
    if span and "line" in span:
        what = "This is one line ({line}) of the inspection record of".format(**span)
    elif span:
        received = "received from {since}\nuntil before {until}".format(**span)
        what = "These are the days {from} to {to} ({received}) of the inspection record of".format(
            **span, received=received
        )
    all_of_it = "Its only entry stands" if size == 1 else f"All {size} entries stand"
    if signed >= size:
        state = f"{all_of_it} under a signature of the record's own key."
    elif signed:
        are = "IS" if signed == 1 else "ARE"
        about = "Nobody's signature stands for what comes after."
        state = f"ONLY {first(signed, size).upper()} {are} SIGNED. {about}"
    else:
        were = "its only entry was" if size == 1 else f"the {size} entries were"
        state = f"NOTHING HERE IS SIGNED. Only copies of its papers show whether {were} changed."
    if span and "line" in span:
        state += "\nWHETHER AN ENTRY ABOUT THIS LINE WAS LEFT OUT CANNOT BE SEEN. Days, or the whole record, show it."
    return README_TEXT.format(what=what, name=name or "an operator", log=log, state=state)


README_TEXT = """\
INSPECTION RECORD

{what} {name}
(record {log}).
{state}

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
"""


# --- checking


class Found:
    """What was found, by check: faults, limits (what was not shown), notes."""

    def __init__(self) -> None:
        self.said: dict[str, list[tuple[str, str]]] = defaultdict(list)
        self.left_out: dict[str, str] = {}  # check: why it was not made
        self.info: dict[str, Any] = {}
        self.broken = False  # not all checks were made
        self.covered: dict[str, int] = {}  # what stands for the record from outside: for how many entries
        self.seen_at: datetime | None = None  # by a witness, all of it

    def fault(self, check: str, sentence: str) -> None:
        self.said[check].append(("FAULT", sentence))

    def limit(self, check: str, sentence: str) -> None:
        self.said[check].append(("limit", sentence))

    def note(self, check: str, sentence: str) -> None:
        self.said[check].append(("note", sentence))

    def checks(self, level: str) -> list[str]:
        return [check for check in CHECKS if any(one == level for one, _ in self.said[check])]

    @property
    def level(self) -> int:
        """1 altered, 2 consistent with itself only, 3 genuine with limits, 4 genuine and complete."""
        if self.checks("FAULT"):
            return 1
        if max(self.covered.values(), default=0) < max(self.info.get("size", 0), 1):
            return 2
        return 3 if self.checks("limit") else 4


class Asked(NamedTuple):
    keys: tuple[Key, ...] = ()
    witnesses: tuple[Key, ...] = ()
    saved: tuple[State, ...] = ()
    max_age: timedelta | None = None
    now: datetime | None = None


def verify(source: Any, asked: Asked) -> Found:
    """Check a bundle (a path or a file open for reading) and return what was found. Never raises for what is in it."""
    found = Found()
    try:
        with zipfile.ZipFile(source) as archive:
            if _container(archive, found):
                _Bundle(archive, asked, found).check()
            else:
                found.broken = True
    except UNREADABLE as error:
        why = str(error) or "it ends early"
        found.fault("container", f"The file is damaged or cut short, or is no ZIP file: {why}.")
        found.broken = True
    return found


def _container(archive: zipfile.ZipFile, found: Found) -> bool:
    """Look at the list of files before anything is unpacked; False if it is not to be read on."""
    members, before = archive.infolist(), len(found.said["container"])
    fault = lambda sentence: found.fault("container", sentence)  # noqa: E731
    seen: set[str] = set()
    for one in members:
        plain = unicodedata.normalize("NFC", one.filename).casefold()
        if plain in seen:
            fault(f"Two files have the same name: {one.filename!r}. Programs differ in which of them they show.")
        seen.add(plain)
        parts = one.filename.split("/")
        if ".." in parts or not parts[0] or re.search(r"[\\:\x00]", one.orig_filename):
            fault(f"The name {one.filename!r} would be written outside of its folder when it is unpacked.")
        if stat.S_IFMT(one.external_attr >> 16) not in (0, stat.S_IFREG, stat.S_IFDIR):
            fault(f"{one.filename!r} is a link or a device, not a file.")
        if one.flag_bits & 1 or one.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            fault(f"{one.filename!r} is encrypted or packed in a way that a bundle never is.")
        if one.file_size > LONGEST_TEXT and one.file_size > STEEPEST * max(one.compress_size, 1):
            fault(f"{one.filename!r} would grow more than {STEEPEST}-fold when unpacked: made to choke a computer.")
    if sum(one.file_size for one in members) > MOST_BYTES:
        fault("It would unpack to more than 64 GiB.")
    stream: Any = archive.fp
    stream.seek(-22, io.SEEK_END)  # where the end of an archive without a comment begins
    if stream.read(4) != b"PK\x05\x06" or min((one.header_offset for one in members), default=0):
        found.fault("unbound files", "Something was put before or behind the ZIP file.")
    if ENTRIES not in archive.namelist():
        fault(f"There is no {ENTRIES}: this is not a bundle, or its entries were taken away.")
    return len(found.said["container"]) == before


def _ahead(stream: Any) -> Iterator[bytes]:
    """Yield what is read, piece by piece: while one is worked on, the next is unpacked beside it."""
    with ThreadPoolExecutor(1) as beside:
        coming = beside.submit(stream.read, CHUNK)
        while chunk := coming.result():
            coming = beside.submit(stream.read, CHUNK)
            yield chunk


def _lines(stream: Any, longest: int) -> Iterator[bytes]:
    """Yield the lines without their ends, never holding more than one of them and a chunk."""
    rest = b""
    for chunk in _ahead(stream):
        *whole, rest = (rest + chunk).split(b"\n")
        yield from whole
        if len(rest) > longest:
            raise Bad(f"a line is longer than {longest} bytes")
    if rest:
        raise Bad("the last line is cut short")


TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", re.ASCII)


@lru_cache(maxsize=1024)
def _time_of(text: str) -> datetime:
    if not TIME.fullmatch(text):
        raise Bad(f"{text!r} is not a time")
    try:
        return datetime.fromisoformat(text[:19]).replace(tzinfo=timezone.utc)
    except ValueError:
        raise Bad(f"{text!r} is not a time") from None


def time_of(text: Any) -> datetime:
    """Read a time as entries have it. Raises Bad."""
    if not isinstance(text, str):
        raise Bad(f"{text!r} is not a time")
    return _time_of(text)


def _true_time(record: dict[str, Any], made: datetime, at: datetime) -> datetime | None:
    """Return the true time that an entry was given, None where it was given none.

    Raises Bad unless it is that of its device by the clock that was signed. It is cut where that would be later than
    its arrival, by two minutes at most.
    """
    judged, clock = record.get("judged"), record["act"].get("clock")
    if not isinstance(judged, dict) or "true_at" not in judged:
        return None
    offset = clock.get("offset_s") if isinstance(clock, dict) else None
    true = time_of(judged["true_at"])
    if type(offset) is not int or abs(offset) >= 10**10 or true > at:
        raise Bad("it does not follow")
    if not timedelta() <= made - true + timedelta(seconds=offset) <= timedelta(minutes=2):
        raise Bad("it does not follow")
    return true


def _came_later(record: dict[str, Any], made: datetime, at: datetime) -> bool:
    """Tell whether an entry was signed on a device without a signal.

    Only such a one has a clock in it; where the clock was never compared with the server's, its times tell.
    """
    return "clock" in record["act"] or ("sig" in record and (at - made > LATER or made - at > SLACK))


class Erasures:
    """What the entries so far decided to forget, and what of these decisions cannot be right."""

    def __init__(self, found: Found) -> None:
        self.found = found
        self.commits: dict[bytes, tuple[str, int]] = {}  # erased: "name" or "note", by which entry
        self.files: dict[str, dict[str, int]] = {"photos": {}, "papers": {}}  # erased: by which entry
        self.asked: dict[str, dict[str, Any]] = {}
        self.of: dict[str, list[bytes]] = {}  # person: the commitments of the name
        self.last: dict[str, datetime] = {}  # person: when last named
        self.first: dict[Any, datetime] = {}  # commitment or hash of a file: when first named

    def take(self, record: dict[str, Any], named: Named, at: datetime) -> None:
        """Take what one entry names, and what it decides about what was named before it."""
        act, kind, seq = record["act"], record["kind"], record["seq"]
        if kind == "erasure-asked":
            self.asked[act["id"]] = record
        elif kind == "erasure-withdrawn":
            self.asked.pop(str(act.get("asked")), None)
        elif kind == "erasure":
            asked = self.asked.pop(str(act.get("asked")), None)
            wrong = list(self._wrong(asked, record)) if asked else ["erases what no entry before it asks for"]
            wrong = wrong or list(self._early(act["what"], at))
            for about in wrong:
                self.found.fault("erasures", f"Entry {seq} {about}.")
            if not wrong:
                self._erase(act["what"], seq)
        for folder, hashes in (("photos", named.photos), ("papers", named.papers)):
            for one in sorted(hashes & self.files[folder].keys()):
                before = self.files[folder][one]
                self.found.fault("erasures", f"Entry {seq} names a file that entry {before} erased before.")
            for one in hashes:
                self.first.setdefault(one, at)
        for ref, commit in named.beside:
            self.of.setdefault(ref, []).append(bytes.fromhex(commit))
            self.last[ref] = at
        for commit in named.commits - {commit for _, commit in named.beside}:
            self.first.setdefault(bytes.fromhex(commit), at)

    def _wrong(self, asked: dict[str, Any], record: dict[str, Any]) -> Iterator[str]:
        act, before = record["act"], asked["act"]
        what = act.get("what")
        if not _is_one_thing(what):
            yield "does not say what it erases"
        elif what != before.get("what") or act.get("asked_entry") != asked["seq"]:
            yield "erases something else than what was asked for"
        if act["signer"].get("ref") == before["signer"].get("ref"):
            yield "was asked for and confirmed by one person"
        one, other = _roles(asked), _roles(record)
        if not any(a in one and b in other for a, b in (("manager", "engineer"), ("engineer", "manager"))):
            yield "was not decided by a manager and an engineer"

    def _early(self, what: dict[str, Any], at: datetime) -> Iterator[str]:
        """Tell of what was named too short a time before, as far as entries that name it are shown."""
        times = [self.last[one] for one in (what.get("person"),) if one in self.last]
        times += [self.first[one] for one in map(_raw, what.get("notes", ())) if one in self.first]
        times += [self.first[one] for name in self.files for one in what.get(name, ()) if one in self.first]
        if any(at - one < KEPT for one in times):
            yield "erases what was entered less than five years before"

    def _erase(self, what: dict[str, Any], seq: int) -> None:
        for one in self.of.pop(str(what.get("person")), ()):
            self.commits[one] = "name", seq
        for one in map(_raw, what.get("notes", ())):
            self.commits.setdefault(one, ("note", seq))
        for folder, known in self.files.items():
            for digest in what.get(folder, ()):
                known.setdefault(digest, seq)


def _roles(record: dict[str, Any]) -> list[Any]:
    judged = record.get("judged")
    roles = judged.get("roles") if isinstance(judged, dict) else None
    return roles if isinstance(roles, list) else []


def _is_one_thing(what: Any) -> bool:
    """Tell whether it says one thing to erase: a person, or a list of notes, photos or papers."""
    if not isinstance(what, dict) or len(what) != 1:
        return False
    [(name, one)] = what.items()
    if name == "person":
        return isinstance(one, str)
    return (
        name in ("notes", "photos", "papers") and isinstance(one, list) and all(isinstance(part, str) for part in one)
    )


def _raw(text: str) -> bytes:
    return bytes.fromhex(text) if HASH.fullmatch(text) else b""


def _named_by(folder: str, count: int, seqs: Iterable[int]) -> str:
    """Return so many photos, papers or sources with the entries that name them."""
    return f"{counted(count, folder[:-1], folder)} named by {told(sorted(set(seqs)))}"


def _opening(one: dict[str, Any]) -> bytes:
    """Return the commitment that a name or note opens. Raises Bad where it opens none."""
    salt = one.get("salt")
    if set(one) == {"commit", "salt", "value"} and isinstance(salt, str) and re.fullmatch("[0-9a-f]{32}", salt):
        commit = sha256(b"commit/v1\n" + bytes.fromhex(salt) + canonical(one["value"])).digest()
        if commit.hex() == one["commit"]:
            return commit
    raise Bad("it is not what its entry stands for")


class _Bundle:
    """One pass over the entries, then what rests on it. Kept in memory: hashes and names, never entries or photos."""

    def __init__(self, archive: zipfile.ZipFile, asked: Asked, found: Found) -> None:
        self.archive, self.asked, self.found = archive, asked, found
        self.now = asked.now or datetime.now(timezone.utc)
        self.members = {one.filename: one for one in archive.infolist()}
        self.bound = {README, PROGRAM, ENTRIES, HEAD, TABLE, NAMES}
        self.tree = Tree()
        self.roots: dict[int, bytes] = {}  # of the states that are asked for
        self.times: dict[int, datetime] = {}  # size: when its last entry was received
        self.deeds: set[str] = set()
        self.keys: list[tuple[int, dict[str, Any]]] = []
        self.files: dict[str, dict[str, int]] = {"photos": {}, "papers": {}, "sources": {}}
        self.had: set[str] = set()  # photos that were here when some entry that names them was recorded
        self.owed: dict[str, list[int]] = {}  # photos that were not: by which entries
        self.commits: dict[bytes, int] = {}
        self.opened: set[bytes] = set()  # the commitments whose names and notes are here
        self.erasures = Erasures(found)
        self.gone: list[tuple[str, int]] = []  # files that are not here and were erased: folder, by which entry
        self.late: list[int] = []
        self.ahead: list[int] = []
        self.clock_off: list[int] = []  # entries whose device's clock was wrong; their true time is known
        self.untimed: list[int] = []  # entries that were signed without a signal, nobody knows when
        self.people: dict[str, tuple[bytes, Any, int]] = {}  # keys of persons: point, reference, entry
        self.callers: dict[str, str] = {}  # whose name stands for a commitment, of persons with keys
        self.ended: dict[str, int] = {}  # by which entry
        self.signed_acts = 0
        self.rows: list[tuple[int, Any]] = []  # of the table, still to be compared
        self.trusted = list(asked.keys)
        self.log = self.name = self.zone = ""
        self.last: datetime | None = None
        self.since = self.until = self.now
        self.of: OfLine | None = None  # the line that is shown alone
        self.line_name: str | None = None
        self.strangers: list[int] = []  # entries that are not about it
        self.loose: dict[str, list[int]] = {}  # entries about parts that no entry so far has fitted to it
        self.count = 0

    def check(self) -> None:
        self.span = self._span()
        self.head, self.states = self._states()
        self.wanted = {one.size for one in (*self.states, *self.asked.saved)}
        self._entries()
        self.roots = {size: self.tree.root(size) for size in self.wanted if size <= self.tree.size}
        self.found.info.update(
            name=self.name, log=self.log, size=self.tree.size, shown=self.count, root=self.tree.root().hex(),
            span=self.span, line=self.line_name,
            states=len({one.size for one in self.states}), last=self.last, head=self.head,
            own=self.signed_acts, keys=self._keys_of_persons(), names={},
        )  # fmt: skip
        self._signatures()
        self._saved()
        self._witnesses()
        self._freshness()
        for folder in self.files:
            self._bound_files(folder)
        self._disclosures()
        self._erased()
        self._rest()

    def _data(self, name: str) -> bytes:
        with self.archive.open(name) as stream:
            data = stream.read(LONGEST_TEXT + 1)
        if len(data) > LONGEST_TEXT:
            raise Bad(f"{name} is too long")
        return data

    def _span(self) -> dict[str, Any] | None:
        """Return which days or which line are shown, None for all."""
        if (RANGE in self.members) != (LEAVES in self.members):
            self.found.fault("container", f"Of {RANGE} and {LEAVES} only one is there; days and lines need both.")
        if RANGE not in self.members or LEAVES not in self.members:
            return None
        self.bound |= {RANGE, LEAVES}
        try:
            line, end, rest = self._data(RANGE).partition(b"\n")
            span = parsed(line)
            if not end or rest:
                raise Bad("it is not one line")
            if set(span) == {"course", "line"}:
                if not all(isinstance(one, str) and ID.fullmatch(one) for one in span.values()):
                    raise Bad("it names no line")
                self.of = OfLine(span["course"], span["line"])
                return span
            self.since, self.until = time_of(span.get("since")), time_of(span.get("until"))
            if set(span) != {"from", "to", "since", "until"} or self.since >= self.until:
                raise Bad("it names no days")
            return span
        except UNREADABLE as error:
            raise Bad(f"{RANGE}: {error}") from None

    def _states(self) -> tuple[State | None, list[State]]:
        """Return the newest signed state and all of them, shortest first."""
        found, head = [], None
        for name in sorted(self.members):
            if name != HEAD and not re.fullmatch(STATES + "[0-9]+\\.txt", name):
                continue
            self.bound.add(name)
            try:
                one = State.read(self._data(name).decode("utf-8"))
                if name != HEAD and name != f"{STATES}{one.size}.txt":
                    raise Bad(f"it is a state of {numbered(one.size)}")
                found.append(one)
                head = one if name == HEAD else head
            except UNREADABLE as error:
                self.found.fault("log signature" if name == HEAD else "earlier checkpoints", f"{name}: {error}.")
        states = sorted(found, key=lambda one: one.size)
        if states and (head is None or states[-1].size > head.size):
            self.found.fault("tree head", f"{HEAD} is not the newest of the signed states: something was taken away.")
        elif head is not None and any(one != head for one in states if one.size == head.size):
            self.found.fault("tree head", f"{HEAD} and its copy in {STATES} differ.")
        return head, states

    # --- the entries

    def _entries(self) -> None:
        leaves = self.archive.open(LEAVES) if self.span else None
        table = self.archive.open(TABLE) if TABLE in self.members else None
        previous, expected, self.same_table = b"", 0, table is not None
        self._compare(table, 0, COLUMNS)
        if table is None:
            self.found.limit("spreadsheet", f"There is no {TABLE}.")
        with self.archive.open(ENTRIES) as stream:
            for line in _lines(stream, LONGEST_LINE):
                self.count += 1
                leaf, where, listed = leaf_hash(line), f"Line {self.count}", b""
                try:
                    record = self._shaped(parsed(line))
                except Bad as error:
                    self.found.fault("canonical form", f"{where}: {error}.")
                    record = None
                if leaves is not None:
                    if record is None or not self._pass_over(leaves, record["seq"]):
                        continue
                    previous, expected = self.leaf, self.tree.size
                    listed = leaves.read(32)
                    if len(listed) < 32:
                        self.found.fault("tree head", f"{LEAVES} is cut short.")
                    elif listed != leaf:
                        self.found.fault("chain", f"Entry {expected} does not have the fingerprint that is listed.")
                if record is not None:
                    if record["seq"] != expected:
                        self.found.fault("numbering", f"{where} carries number {record['seq']}; it must be {expected}.")
                    if record["prev"] != previous.hex():
                        self.found.fault("chain", f"Entry {record['seq']} does not name the entry before it.")
                    self._entry(record, record["seq"])
                    if self.of is not None:
                        self._of_line(self.of, record, line)
                    self._compare(table, self.tree.size, table_row(record, leaf))
                # Of days or a line, the list is what was signed; it goes on where an entry does not agree with it.
                self._add(listed if len(listed) == 32 else leaf, self.last if record is not None else None)
                previous, expected = leaf, (record["seq"] if record is not None else expected) + 1
        if leaves is not None:
            self._pass_over(leaves, None)
            leaves.close()
        if table is not None:
            self._compare_rows(table)
            if self.same_table and table.read(1):
                self._table_differs("It has more lines than there are entries.")
            table.close()
        if not self.count:
            self.found.fault("numbering", "There is not one entry.")
        if self.of is not None:
            self._line_alone(self.of)
        elif self.span:
            self._bounds(self.span)
        if self.span:
            self._unseen()
        self._clocks()

    def _clocks(self) -> None:
        """Tell of the times by devices' clocks what a reader has to know; none of it is a fault."""
        note = lambda sentence: self.found.note("time order", sentence)  # noqa: E731
        if self.late:
            were = "it was" if len(self.late) == 1 else "they were"
            about = f"reached the record more than a day after {were} made, by the time of the device"
            note(f"{capital(told(self.late))} {about}.")
        if self.ahead:
            carry = "carries" if len(self.ahead) == 1 else "carry"
            about = "a device's time that is later than the server's: that device's clock was wrong"
            note(f"{capital(told(self.ahead))} {carry} {about}.")
        if self.clock_off:
            was, it = ("was", "it") if len(self.clock_off) == 1 else ("were", "each of them")
            about = (
                f"signed without a signal on a phone whose clock was off by more than 5 minutes: {told(self.clock_off)}"
            )
            counts = f"What counts is the true time, which stands in {it} (judged.true_at)"
            note(f"{counted(len(self.clock_off), 'entry', 'entries')} {was} {about}. {counts}.")
        if self.untimed:
            was, counts = ("was", "It counts") if len(self.untimed) == 1 else ("were", "They count")
            about = f"signed without a signal, and when is not known: {told(self.untimed)}"
            why = "The phone's clock was changed in between, or never compared with the server's"
            note(f"{counted(len(self.untimed), 'entry', 'entries')} {was} {about}. {why}. {counts} as received.")

    def _bounds(self, span: dict[str, Any]) -> None:
        """Hold the instants between which entries are shown against the days, on the clock of the first entry."""
        try:
            if not all(re.fullmatch(r"\d{4}-\d\d-\d\d", span[name]) for name in ("from", "to")):
                raise Bad(f"{RANGE} names no days")
            first, after = date.fromisoformat(span["from"]), date.fromisoformat(span["to"]) + timedelta(days=1)
        except (TypeError, ValueError, OverflowError):
            self.found.fault("numbering", f"{RANGE} names no days.")
            return
        try:
            zone: Any = ZoneInfo(self.zone)
            slack = timedelta(0)
        except (OSError, ValueError, KeyError):
            zone, slack = timezone.utc, timedelta(hours=14)
            about = "it was not checked whether the days begin at midnight there"
            self.found.limit("numbering", f"This computer does not know the time zone {self.zone!r}: {about}.")
        for day, at in ((first, self.since), (after, self.until)):
            try:
                midnight = datetime(day.year, day.month, day.day, tzinfo=zone).astimezone(timezone.utc)
                agrees = abs(midnight - at) <= slack
            except OverflowError:  # at the very end of the calendar
                agrees = False
            if not agrees:
                self.found.fault(
                    "numbering", f"The days do not begin or end where it says: at {at:%d %B %Y, %H:%M} UTC."
                )

    def _of_line(self, of: OfLine, record: dict[str, Any], data: bytes) -> None:
        """Hold an entry against the line that is said to be shown alone."""
        act, kind, seq = record["act"], record["kind"], record["seq"]
        if of.has(record, data):
            if kind == "place-added" and (act.get("kind"), act.get("place"), act.get("course")) == (
                "line", of.line, of.course,
            ):  # fmt: skip
                self.line_name = _text(act, "name")
        elif kind.startswith("component-") or _text(act, "subject").startswith("component:"):
            # What was entered about a part before it was fitted: the fitting comes later.
            part = _text(act, "component") or _text(act, "subject").rpartition(":")[2]
            self.loose.setdefault(part, []).append(seq)
        elif seq and kind not in ALWAYS:
            self.strangers.append(seq)

    def _line_alone(self, of: OfLine) -> None:
        """Tell of the line that is shown alone what is wrong, and what cannot be seen."""
        loose = [seq for part, seqs in self.loose.items() if part not in of.parts for seq in seqs]
        # The last entry of all is shown too: it tells when the record ended.
        strangers = sorted({*self.strangers, *loose} - {self.tree.size - 1})
        if strangers:
            are = "is" if len(strangers) == 1 else "are"
            self.found.fault("numbering", f"{capital(told(strangers))} {are} not about the line that {RANGE} names.")
        if self.line_name is None:
            self.found.fault("numbering", f"No entry here adds the line that {RANGE} names.")
        if self.count < self.tree.size:
            about = "whether one about this line was left out cannot be seen. Days, or the whole record, show it"
            self.found.limit("numbering", f"Entries about other things are not shown, and {about}.")

    def _unseen(self) -> None:
        """Tell what cannot be seen where only days or a line are shown."""
        if self.count >= self.tree.size:
            return
        what, where = ("line", "entries") if self.of else ("days", "days")
        self.found.limit("replay", f"Whether an act was entered twice cannot be seen outside of the {where} shown.")
        about = f"whether one was left out, as the end of a key, cannot be seen outside of the {where} shown"
        self.found.limit("own keys", f"Entries that name or end a key belong to any {what}; {about}.")

    def _add(self, leaf: bytes, at: datetime | None) -> None:
        self.tree.add(leaf)
        self.leaf = leaf
        if at is not None and self.tree.size in self.wanted:
            self.times[self.tree.size] = at

    leaf = b""

    def _pass_over(self, leaves: Any, to: int | None) -> bool:
        """Take fingerprints up to entry ``to``, or all; none passed over may be of the days, if days are shown."""
        start, before = self.tree.size, self.last
        if to is not None and to < start:
            self.found.fault("numbering", f"Entry {to} stands after entry {start - 1}, or twice.")
            return False
        while to is None or self.tree.size < to:
            leaf = leaves.read(32)
            if len(leaf) < 32:
                if leaf or to is not None:
                    self.found.fault("tree head", f"{LEAVES} is cut short.")
                break
            self._add(leaf, None)
        if self.tree.size > start and self.of is None:
            self.left = (start, self.tree.size - 1, before)
            if to is None and (before is None or before < self.until):
                self._not_shown(start, self.tree.size - 1)
        else:
            self.left = None
        return to is None or self.tree.size == to

    def _not_shown(self, start: int, end: int) -> None:
        are = "is" if start == end else "are"
        self.found.fault("numbering", f"{capital(between(start, end))} {are} not shown and may be of the days shown.")

    left: tuple[int, int, datetime | None] | None = None

    def _shaped(self, record: dict[str, Any]) -> dict[str, Any]:
        """Refuse an entry that is not in the form of one."""
        act, auth = record.get("act"), record.get("auth")
        if set(record) - {"judged", "sig"} != {"v", "log", "seq", "prev", "t", "kind", "act", "auth"}:
            raise Bad("it does not have the parts that an entry has")
        if type(record["v"]) is not int or record["v"] != 1:
            raise Bad("its version is not known")
        if not isinstance(act, dict) or not isinstance(auth, dict) or type(record["seq"]) is not int:
            raise Bad("its parts are not what they have to be")
        if not all(isinstance(record[name], str) for name in ("log", "prev", "kind")):
            raise Bad("its parts are not what they have to be")
        if not isinstance(act.get("id"), str) or not isinstance(act.get("signer"), dict):
            raise Bad("it names no deed or nobody who did it")
        if not isinstance(auth.get("how"), str):
            raise Bad("it does not say how its person was known")
        time_of(record["t"])
        time_of(act.get("made_at"))
        return record

    def _entry(self, record: dict[str, Any], seq: int) -> None:
        """Take what one entry says and names."""
        act, at, fault = record["act"], time_of(record["t"]), self.found.fault
        self.log = self.log or record["log"]
        if record["log"] != self.log:
            fault("chain", f"Entry {seq} belongs to another record.")
        if self.last is not None and at < self.last:
            fault("time order", f"Entry {seq} was received before the entry in front of it.")
        if at > self.now + SLACK:
            fault(
                "time order",
                f"Entry {seq} is of {record['t']}, which is still to come (or this computer's clock is wrong).",
            )
        if self.left is not None:
            start, end, before = self.left
            if at >= self.since and (before is None or before < self.until):
                self._not_shown(start, end)
            self.left = None
        self.last = at
        made = time_of(act["made_at"])
        if at - made > timedelta(days=1):
            self.late.append(seq)
        self._clock(record, made, at)
        if act["id"] in self.deeds:
            fault("replay", f"Entry {seq} repeats a deed that stands in the record already.")
        self.deeds.add(act["id"])
        if act["signer"].get("ref") != record["auth"].get("ref"):
            fault("people", f"Entry {seq} is signed in the name of somebody else than who was logged in.")
        self._own_key(record, seq)
        if record["kind"] == "operator-founded" and seq == 0:
            self.name, self.zone = str(act.get("name", "")), str(act.get("tz", ""))
        if record["kind"] == "log-key":
            self.keys.append((seq, act))
        named = named_by(record)
        for folder, hashes in (("photos", named.photos), ("papers", named.papers), ("sources", named.sources)):
            for one in hashes:
                self.files[folder].setdefault(one, seq)
        owed = owed_by(record)
        self.had |= named.photos - owed
        for one in named.photos & owed:
            self.owed.setdefault(one, []).append(seq)
        for one in named.commits:
            self.commits.setdefault(bytes.fromhex(one), seq)
        self.erasures.take(record, named, at)

    def _clock(self, record: dict[str, Any], made: datetime, at: datetime) -> None:
        """Hold the time of an entry's device against that of the server."""
        seq = record["seq"]
        try:
            true = _true_time(record, made, at)
        except Bad:
            about = "was really signed does not follow from its device's clock"
            self.found.fault("time order", f"When entry {seq} {about}.")
        else:
            if true is not None and abs(made - true) > SLACK:
                self.clock_off.append(seq)
                return
            if true is None and _came_later(record, made, at):
                self.untimed.append(seq)
        if made - at > SLACK:
            self.ahead.append(seq)

    def _own_key(self, record: dict[str, Any], seq: int) -> None:
        """Hold what a person signed against the keys that the record named before, and what the device had seen."""
        act, sig, check = record["act"], record.get("sig"), "own keys"
        ref = act["signer"].get("ref")

        def signed(public: bytes, text: Any, message: bytes) -> bool:
            return isinstance(text, str) and es256(public, _bytes_of(text, b""), message)

        if sig is not None:
            self.signed_acts += 1
            sig = sig if isinstance(sig, dict) else {}
            point, owner, _ = self.people.get(str(sig.get("key")), (b"", None, 0))
            message = b"act/v1\n" + record["kind"].encode() + b"\n" + canonical(act)
            if sig.get("alg") != "es256" or not point:
                self.found.fault(check, f"Entry {seq} is signed by a key that the record did not name before.")
            elif sig["key"] in self.ended:
                self.found.fault(check, f"Entry {seq} is signed by a key that was ended before.")
            elif owner != ref:
                self.found.fault(check, f"Entry {seq} is signed by the key of another person.")
            elif not signed(point, sig.get("sig"), message):
                self.found.fault(check, f"Entry {seq} is not what its person signed.")
        seen = act.get("seen")
        if isinstance(seen, dict):
            size = int(seen["size"]) if type(seen.get("size")) is int else -1
            if not 0 <= size <= min(seq, self.tree.size) or self.tree.root(size).hex() != seen.get("root"):
                self.found.fault(check, f"When entry {seq} was made, its person's device had seen another record.")
        if record["kind"] != "person-key":
            return
        name = str(act.get("key"))
        if act.get("op") == "revoke":
            if name not in self.people:
                self.found.fault(check, f"Entry {seq} ends a key that was never named.")
            elif act.get("person", ref) != self.people[name][1]:
                self.found.fault(check, f"Entry {seq} ends the key of somebody whom it does not name.")
            self.ended.setdefault(name, seq)
            return
        if act.get("op") != "enrol":
            self.found.fault(check, f"What entry {seq} does with a key is not known.")
            return
        point = _bytes_of(str(act.get("public")), b"")
        proof = f"key/v1\n{self.log}\n{ref}\n{act.get('public')}".encode()
        if sha256(point).hexdigest()[:32] != name or not signed(point, act.get("proof"), proof):
            self.found.fault(check, f"The key in entry {seq} did not sign that it belongs to this person.")
        elif name in self.people:
            self.found.fault(check, f"The key in entry {seq} was named before.")
        else:
            self.people[name] = point, ref, seq
            self.callers[str(act["signer"].get("commit"))] = str(ref)

    def _keys_of_persons(self) -> list[tuple[str, str, int, int | None]]:
        """Return the keys of persons by person: reference, first signs, named by and ended by which entry."""
        found = [(str(ref), name[:8], seq, self.ended.get(name)) for name, (_, ref, seq) in self.people.items()]
        return sorted(found, key=lambda one: (one[0], one[2]))

    def _compare(self, table: Any, seq: int, row: Any) -> None:
        """Hold a row against the table; some hundred are read and held against it together."""
        if self.same_table:
            self.rows.append((seq, row))
            if len(self.rows) == MOST_ROWS:
                self._compare_rows(table)

    def _compare_rows(self, table: Any) -> None:
        wanted = table_line(*(row for _, row in self.rows))
        given = table.read(len(wanted)) if wanted else b""
        if given != wanted:
            start = 0
            for seq, row in self.rows:
                line = table_line(row)
                if not given.startswith(line, start):
                    self._table_differs(f"It differs from the entries, first at entry {seq} or before it.")
                    break
                start += len(line)
        self.rows = []

    def _table_differs(self, sentence: str) -> None:
        self.same_table = False
        self.found.fault("spreadsheet", sentence)

    # --- who signed

    def _signatures(self) -> None:
        found, size, head = self.found, self.tree.size, self.head
        if head is None:
            if self.asked.keys:
                found.fault("log signature", "You gave a key, and nothing in the bundle is signed.")
            else:
                found.limit("log signature", "Nothing in the bundle is signed.")
            found.left_out["tree head"] = found.left_out["earlier checkpoints"] = "nothing is signed"
            return
        if self.log and head.origin != f"lineworthy/{self.log}":
            found.fault("tree head", f"The signed state is of the record {head.origin!r}, the entries are of another.")
        if head.size > size:
            are = "is" if head.size == 1 else "are"
            about = f"{are} signed, the bundle has {numbered(size)}: some were taken away"
            found.fault("tree head", f"{capital(numbered(head.size))} {about}.")
        elif self.roots.get(head.size) != head.root:
            do = "does" if head.size == 1 else "do"
            about = f"{do} not give the fingerprint that was signed"
            found.fault("tree head", f"{capital(first(head.size))} {about}.")
        elif head.size < size:
            are = "is" if head.size == 1 else "are"
            about = f"{are} signed; anybody could have written {between(head.size, size - 1)}"
            found.limit("tree head", f"Only {first(head.size, size)} {about}.")
        trusted, retired = self._trusted()
        self.trusted = trusted
        try:
            signers = head.signers(trusted)
        except Bad as error:
            found.fault("log signature", f"The newest state: {error}.")
            return
        if not any(head.size <= retired.get(one, head.size) for one in signers):
            who = ", ".join(f"{name}+{ident.hex()}" for name, ident, _ in head.signatures)
            of = "that you gave, or one that it leads to" if self.asked.keys else "that the record names"
            found.fault("log signature", f"The newest state is not signed by a key {of}, but by {who}.")
            if self.asked.keys:
                about = "ask for the new one by another way"
                found.note("log signature", f"If the key was exchanged after a loss or theft, {about}.")
        elif self.asked.keys:
            found.covered["key"] = head.size
        else:
            about = "the one inside the bundle says nothing of who made the bundle"
            found.limit("log signature", f"You gave no key; {about}.")
        named = {key.text: key for key in trusted} | {
            key.text: key for seq, act in self.keys if seq < head.size for key in [self._key(act, seq)] if key
        }
        before = None  # the newest state stands in two files
        for one in self.states:
            said = self._earlier(one, named, retired)
            if said is not None and said != before:
                found.said["earlier checkpoints"].append(said)
            before = said

    def _key(self, act: dict[str, Any], seq: int) -> Key | None:
        try:
            return Key.read(str(act.get("key", "")))
        except Bad:
            self.found.fault("log signature", f"Entry {seq} names a key that is none.")
            return None

    def _trusted(self) -> tuple[list[Key], dict[str, int]]:
        """Return the keys to be believed and after how many entries each is no more.

        It begins with the keys that were given (without any: the first that the record names). Another is added only by
        an entry that stands under a signature of one that is believed already.
        """
        trusted = {key.text: key for key in self.asked.keys}
        if not trusted and self.keys:
            first = self._key(self.keys[0][1], self.keys[0][0])
            trusted = {first.text: first} if first else {}
        retired: dict[str, int] = {}
        again = True
        while again:
            again = False
            for state in self.states:
                try:
                    signers = state.signers(trusted.values())
                except Bad:
                    continue
                believed = any(state.size <= retired.get(one, state.size) for one in signers)
                if self.roots.get(state.size) != state.root or not believed:
                    continue
                for seq, act in self.keys:
                    if seq >= state.size or act.get("op") != "rotate":
                        continue
                    old, after = str(act.get("retires")), act.get("retire_after")
                    if old not in retired and type(after) is int:
                        retired[old], again = after, True
                    key = self._key(act, seq)
                    if key and key.text not in trusted and old in trusted:
                        trusted[key.text], again = key, True
        return list(trusted.values()), retired

    def _earlier(self, state: State, named: dict[str, Key], retired: dict[str, int]) -> tuple[str, str] | None:
        """Return what is to be said of a signed state, and as what."""
        where = f"The state of {numbered(state.size)}"
        if state.size > self.tree.size or self.roots.get(state.size) != state.root:
            return "FAULT", f"{where} that was signed is not the beginning of this record."
        try:
            signers = state.signers(named.values())
        except Bad as error:
            return "FAULT", f"{where}: {error}."
        if not signers:
            return "FAULT", f"{where} is not signed by a key of this record."
        if not any(state.size <= retired.get(one, state.size) for one in signers) and state is not self.head:
            about = "bears only the signature of a key that was retired before; it agrees all the same"
            return "note", f"{where} {about}."
        return None

    def _saved(self) -> None:
        check, size = "saved checkpoint", self.tree.size
        if not self.asked.saved:
            self.found.left_out[check] = "you gave none"
            about = "nothing shows whether the record was rewritten since"
            self.found.limit(check, f"You gave no state kept from before: {about}.")
        for one in self.asked.saved:
            if self.log and one.origin != f"lineworthy/{self.log}":
                self.found.fault(check, f"What you kept is of the record {one.origin!r}, and this is another.")
            elif one.size > size:
                about = "some were taken away, or an old bundle is shown again"
                sizes = f"You kept a state of {numbered(one.size)}, the bundle has {numbered(size)}"
                self.found.fault(check, f"{sizes}: {about}.")
            elif self.roots.get(one.size) != one.root:
                are = "is not the one" if one.size == 1 else "are not those"
                about = f"{are} whose state you kept: rewritten"
                self.found.fault(check, f"{capital(first(one.size))} {about}.")
                self.found.note(check, "If you typed the state off a paper, look first whether you typed it rightly.")
                self._twice_signed(one)
            elif not one.size:
                self.found.limit(check, "A state of no entries shows nothing.")
            else:
                self.found.covered["saved state"] = max(one.size, self.found.covered.get("saved state", 0))

    def _twice_signed(self, state: State) -> None:
        """Tell where a kept state bears the record's own signature: then two different records were signed."""
        try:
            if state.signers(self.trusted):
                about = "whoever holds it signed two different records. Keep both"
                self.found.note("saved checkpoint", f"What you kept is signed by the record's own key: {about}.")
        except Bad:
            pass  # mistyped, or never signed

    def _witnesses(self) -> None:
        check, size = "witness", self.tree.size
        if not self.asked.witnesses:
            self.found.left_out[check] = "you gave no key of one"
            about = "could have made a second version of what is newer than the state that you kept"
            self.found.limit(check, f"You gave no witness's key: who has the record's key {about}.")
        good = [one for one in (*self.states, *self.asked.saved) if one.size and self.roots.get(one.size) == one.root]
        for key in self.asked.witnesses:
            seen: dict[int, int] = {}
            wrong: dict[str, None] = {}  # the newest state stands in two files
            for state in good:
                try:
                    for at in state.signers([key]).values():
                        seen[state.size] = max(at, seen.get(state.size, 0))
                except Bad as error:
                    wrong[f"The state of {numbered(state.size)}: {error}."] = None
            for sentence in wrong:
                self.found.fault(check, sentence)
            if not seen:
                self.found.fault(check, f"{key.name} countersigned no state of this record that is here.")
                continue
            most = max(seen)
            try:
                when = datetime.fromtimestamp(seen[most], timezone.utc)
            except (OverflowError, OSError, ValueError):
                self.found.fault(check, f"{key.name} gives a time that is none.")
                continue
            self.found.covered["witness"] = max(most, self.found.covered.get("witness", 0))
            if most == size:
                self.found.seen_at = max(when, self.found.seen_at or when)
            if most < size:
                self.found.limit(check, f"{key.name} saw only {first(most, size)}, on {when:%d %B %Y}.")
            for known, at in sorted(seen.items()):
                if known in self.times and self.times[known].timestamp() > at + SLACK.total_seconds():
                    about = f"before {'it' if known == 1 else 'the last of them'} was received: a clock was set"
                    self.found.fault("time order", f"{key.name} saw {numbered(known)} {about}.")

    def _freshness(self) -> None:
        if self.asked.max_age is None:
            self.found.left_out["freshness"] = "you did not say how old the newest evidence may be"
            return
        newest = self.found.seen_at or self.last
        if newest is None or self.now - newest > self.asked.max_age:
            at = f"{newest:%d %B %Y}" if newest else "no time at all"
            about = "older than you allow: an old bundle may be shown again"
            self.found.fault("freshness", f"The newest evidence is of {at}, {about}.")

    # --- what belongs to the entries

    def _bound_files(self, folder: str) -> None:
        names = [name for name in self.members if name.startswith(folder + "/")]
        by_hash = {name[len(folder) + 1 :].partition(".")[0]: name for name in names}
        missing: list[int] = []
        owed: list[str] = []
        erased = self.erasures.files.get(folder, {})
        for digest, seq in self.files[folder].items():
            name = by_hash.get(digest)
            if name is None and digest in erased:
                self.gone.append((folder, erased[digest]))
                continue
            if name is None:
                if folder == "photos" and digest not in self.had:
                    owed.append(digest)
                else:
                    missing.append(seq)
                continue
            self.bound.add(name)
            found = sha256()
            with self.archive.open(name) as stream:
                while chunk := stream.read(CHUNK):
                    found.update(chunk)
            if found.hexdigest() != digest:
                self.found.fault(folder, f"{name} is not what entry {seq} names: it was changed or exchanged.")
        if missing:
            about = "is not in the bundle" if len(missing) == 1 else "are not in the bundle"
            self.found.fault(folder, f"{_named_by(folder, len(missing), missing)} {about}.")
        if owed:
            seqs = [seq for digest in owed for seq in self.owed[digest]]
            about = f"never arrived from {'its phone' if len(owed) == 1 else 'their phones'}, as far as the record says"
            sentence = f"{_named_by(folder, len(owed), seqs)} {about}."
            self.found.info["owed"] = sentence
            self.found.limit(folder, sentence)

    def _disclosures(self) -> None:
        check, opened = "personal data", self.opened
        if NAMES not in self.members:
            self.found.limit(check, f"There is no {NAMES}: no name and no note is shown.")
            return
        with self.archive.open(NAMES) as stream:
            for number, line in enumerate(_lines(stream, LONGEST_LINE), 1):
                about = ""
                try:
                    one = parsed(line)
                    entry = self.commits.get(_raw(str(one.get("commit"))))
                    about = "" if entry is None else f", for entry {entry}"
                    commit = _opening(one)
                    if commit not in self.commits:
                        raise Bad("no entry here stands for it")
                    if commit in opened:
                        raise Bad("it stands twice")
                    opened.add(commit)
                    called = one["value"].get("name") if isinstance(one["value"], dict) else None
                    if one["commit"] in self.callers and isinstance(called, str):
                        self.found.info["names"][self.callers[one["commit"]]] = called
                except Bad as error:
                    self.found.fault(check, f"Line {number} of {NAMES}{about}: {error}.")
        lacking = sum(one not in opened and one not in self.erasures.commits for one in self.commits)
        if lacking:
            are, them = ("is", "it") if lacking == 1 else ("are", "them")
            about = f"{are} not shown, and no decision in the record erased {them}: left out, or taken away"
            self.found.limit(check, f"{lacking} of {len(self.commits)} names and notes {about}.")

    def _erased(self) -> None:
        """Count what is not here by a decision in the record, and what is here in spite of one."""
        check, gone, again = "erasures", list(self.gone), 0
        for commit, (word, seq) in self.erasures.commits.items():
            if commit in self.opened:
                again += 1
            elif commit in self.commits:
                gone.append((word + "s", seq))
        for folder, erased in self.erasures.files.items():
            again += sum(digest in self.files[folder] for digest in erased) - sum(one == folder for one, _ in self.gone)
        if again:
            about = "is in the bundle all the same" if again == 1 else "are in the bundle all the same"
            self.found.note(check, f"Of what was erased {again} {about}. Ask the operator to take that away.")
        if gone:
            counts = [(sum(one == word for one, _ in gone), word) for word in ("names", "notes", "photos", "papers")]
            parts = [f"{count} {word[:-1] if count == 1 else word}" for count, word in counts if count]
            listed = " and ".join(filter(None, (", ".join(parts[:-1]), parts[-1])))
            by = told(sorted({seq for _, seq in gone}))
            decided = "a decision" if by.startswith("entry") else "decisions"
            sentence = f"{listed} {'was' if len(gone) == 1 else 'were'} erased by {decided} in the record ({by})."
            self.found.info["erased"] = sentence
            self.found.limit(check, f"{sentence} That they stood there can be seen, what they said or showed cannot.")

    def _rest(self) -> None:
        check, found = "unbound files", self.found
        for name in sorted(set(self.members) - self.bound):
            if not (name.endswith("/") and self.members[name].file_size == 0):
                found.fault(check, f"{name!r} is named by no entry.")
        wanted = readme(self.name, self.log, self.tree.size, self.head.size if self.head else 0, self.span)
        if README not in self.members or self._data(README) != wanted.encode():
            about = "it is of another version, or was changed. Do not go by what it says"
            found.note(check, f"{README} is not the text that this program knows: {about}.")
        own = Path(__file__)
        if PROGRAM not in self.members or not own.is_file() or self._data(PROGRAM) != own.read_bytes():
            about = "it is of another version, or was changed. Do not use it"
            found.note(check, f"The {PROGRAM} in the bundle is not this program: {about}.")


# --- telling

WORDS = {"FAULT": "Fault", "limit": "Limit", "note": "Note"}
VERDICTS = {
    1: (
        "ALTERED, OR NOT WHAT IT IS SAID TO BE.",
        "Do not rely on this bundle. What is wrong stands above under Fault.",
    ),
    2: (
        "CONSISTENT WITH ITSELF ONLY.",
        "Nothing in it contradicts itself, but nothing from outside stands for all of it.",
    ),
    3: (
        "GENUINE, WITH LIMITS.",
        "It is what the holder of the record's key signed. What that does not show stands above under Limit.",
    ),
    4: ("GENUINE AND COMPLETE.", "Nothing was changed, taken away, put in or moved."),
}
BY_KEY = (
    "SIGNED BY ITS KEY, REWRITING NOT EXCLUDED.",
    "It is what the holder of the record's key signed. Whoever has that key could have written all of it anew: you "
    "gave neither a state that was kept nor a witness.",
)
NEVER = (
    "That a figure was true when it was typed, that a photo shows what it is said to show, or that somebody looked.",
    "What was never entered.",
    "Who sat at the phone. {own} of {shown} {are} signed by a person's own key. That a key is a person's is what "
    "the server said when it was named: who runs the server could name one in somebody's name. Compare the first 8 "
    "characters of the keys listed above with the person. For the other entries the server says who was logged in, and "
    "who runs the server could have written an entry in somebody's name when it was made.",
    "That others were not shown another version from the first day on: compare the newest state with theirs.",
    "Whether a line may open: that is for its designer, the makers' manuals, local law and licensed practice to say.",
)


def verdict(found: Found) -> Iterator[str]:
    """Yield the lines of the verdict."""
    kept = max(found.covered.get("saved state", 0), found.covered.get("witness", 0))
    title, sentence = VERDICTS[found.level]
    if found.level == 3 and not kept:
        title, sentence = BY_KEY
    size = found.info.get("size", 0)
    yield f"VERDICT  {title}"
    yield from wrap(sentence, 110, initial_indent="  ", subsequent_indent="  ")
    if found.level == 3 and 0 < kept < size:
        were, them = "was" if kept == 1 else "were", "it" if kept + 1 == size else "them"
        shows = f"What you kept or a witness saw shows that {first(kept)} {were} not written anew since"
        could = f"whoever has the record's key could have written {them} anew"
        sentence = f"{shows}. It does not reach {between(kept, size - 1)}: {could}."
        yield from wrap(sentence, 110, initial_indent="  ", subsequent_indent="  ")
    if found.level == 4:
        seen_at = f"{found.seen_at:%d %B %Y, %H:%M} UTC"
        yield f"  This holds for the record as a witness saw it on {seen_at}: {numbered(size)}."
    if found.level == 2:
        for what, covered in found.covered.items():
            yield f"  The {what} stands for {first(covered, size)}."
        if found.covered:
            covered = max(found.covered.values())
            yield f"  For {between(covered, size - 1)} nothing from outside stands."
        else:
            yield "  Anybody could have made it, from first to last. Give the key that you got by another way."
    if found.info.get("span") and "line" in found.info["span"]:
        name, line = found.info["line"] or "no line", found.info["span"]["line"]
        yield f"  It shows {name} ({line}) alone: {found.info['shown']} of {numbered(size)}."
        yield "  Whether an entry about it was left out cannot be seen. Days, or the whole record, show it."
    elif found.info.get("span"):
        days, shown = found.info["span"], found.info["shown"]
        yield f"  It shows the days {days['from']} to {days['to']} alone: {shown} of {numbered(size)},"
        yield f"  with all that were received from {days['since']} until before {days['until']}."
    if found.info.get("erased"):
        yield from wrap(found.info["erased"], 110, initial_indent="  ", subsequent_indent="  ")
    if found.info.get("owed"):
        yield from wrap(found.info["owed"], 110, initial_indent="  ", subsequent_indent="  ")
    yield "WHAT NO CHECK CAN SHOW"
    own, shown = found.info.get("own", "Not all"), found.info.get("shown")
    of = "the entries" if shown is None else counted(shown, "entry", "entries")
    for one in NEVER:
        filled = one.format(own=own, shown=of, are="is" if own == 1 else "are")
        yield from wrap(filled, 110, initial_indent="  - ", subsequent_indent="    ")


def report(found: Found, bundle: str) -> Iterator[str]:
    """Yield what is printed."""
    info = found.info
    yield f"Bundle   {bundle}"
    if info:
        yield f"Record   {info['name']} ({info['log']})"
        last = f", the last of {info['last']:%d %B %Y, %H:%M} UTC" if info["last"] else ""
        states = counted(info["states"], "signed state", "signed states")
        yield f"Entries  {info['size']}{_numbers(info['size'])}{last}; {states}"
        yield f"State    {info['root']}"
        for number, (ref, signs, since, until) in enumerate(info["keys"]):
            ended = f", ended by entry {until}" if until is not None else ""
            name = f" ({info['names'][ref][:60]})" if ref in info["names"] else ""
            yield f"{'' if number else 'Keys':9}{ref[:60]}{name}: {signs}, named by entry {since}{ended}"
    yield ""
    for check, about in CHECKS.items():
        said = found.said[check]
        word = next((one for one in ("FAULT", "limit") if any(level == one for level, _ in said)), "ok")
        if check in found.left_out and word != "FAULT":
            yield f"  --     {check}: not checked, {found.left_out[check]}"
        elif found.broken and word == "ok":
            yield f"  --     {check}: not reached"
        else:
            yield f"  {WORDS.get(word, word):6} {check}: {about if word == 'ok' else ''}".rstrip()
        for level, sentence in said[:MOST_SHOWN]:
            yield from wrap(f"{WORDS[level]}: {sentence}", 110, initial_indent=" " * 11, subsequent_indent=" " * 13)
        if len(said) > MOST_SHOWN:
            yield f"           and {len(said) - MOST_SHOWN} more"
    yield ""
    yield from verdict(found)


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> Any:
        self.print_usage(sys.stderr)
        self.exit(3, f"{self.prog}: {message}\n")


def _asked(options: Any) -> Asked:
    keys, witnesses = (tuple(Key.read(one) for one in texts) for texts in (options.key, options.witness))
    if any(one.kind != 1 for one in keys) or any(one.kind != 4 for one in witnesses):
        raise Bad("a key was given in the place of a witness's, or the other way round")
    names = [one.name for one in witnesses]
    saved = tuple(State.typed(Path(one).read_text(encoding="utf-8"), names) for one in options.prev)
    age = None if options.max_age_days is None else timedelta(days=options.max_age_days)
    return Asked(keys, witnesses, saved, age, time_of(options.now) if options.now else None)


def main(arguments: list[str] | None = None) -> int:
    parser = _Parser(description="Check the bundle of an inspection record.", prog="verify.py")
    parser.add_argument("bundle", help="the ZIP file")
    parser.add_argument("--key", action="append", default=[], help="the record's public key, got by another way")
    parser.add_argument("--witness", action="append", default=[], help="public key of a witness")
    parser.add_argument("--prev", action="append", default=[], metavar="FILE", help="a signed state that you kept")
    parser.add_argument("--max-age-days", type=int, metavar="N", help="how old the newest evidence may be")
    parser.add_argument("--save-checkpoint", metavar="FILE", help="keep the newest state here, if there is no fault")
    parser.add_argument("--now", metavar="TIME", help="check as of this time, as 2026-06-30T12:00:00Z")
    options = parser.parse_args(arguments)
    try:
        asked = _asked(options)
    except (OSError, ValueError) as error:
        parser.error(f"what you gave cannot be used: {error}")
    if not Path(options.bundle).is_file():
        parser.error(f"there is no file {options.bundle}")
    found = verify(options.bundle, asked)
    for line in report(found, options.bundle):
        # What stands in a bundle may not move the cursor, nor write a verdict of its own.
        plain = "".join(one if one.isprintable() else "?" for one in line)
        print(plain.encode(sys.stdout.encoding or "utf-8", "replace").decode(sys.stdout.encoding or "utf-8"))
    head = found.info.get("head")
    if options.save_checkpoint and head is not None and found.level > 1:
        with zipfile.ZipFile(options.bundle) as archive:
            Path(options.save_checkpoint).write_bytes(archive.read(HEAD))
        print(f"The state of {numbered(head.size)} was kept in {options.save_checkpoint}.")
    return {1: 1, 2: 2}.get(found.level, 0)


if __name__ == "__main__":
    sys.exit(main())
