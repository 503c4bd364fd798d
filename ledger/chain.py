"""Canonical bytes, leaf hashes and the frontier of the history: pure, standard library only.

The format of an entry is fixed: ``{v, log, seq, prev, t, kind, act, judged?, auth, sig?}`` as canonical JSON.
Canonical means RFC 8785 (JSON Canonicalization Scheme) narrowed to a profile in which ``json.dumps`` gives the
same bytes as a full implementation: no floats, integers within ±(2**53 - 1), ASCII keys, text in Unicode NFC,
no ``null``, no duplicate keys. The tree is that of RFC 6962 section 2.1 over SHA-256.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

FORMAT_VERSION = 1
LARGEST_INTEGER = 2**53 - 1
NO_PREVIOUS = ""
EMPTY_ROOT = sha256(b"").digest()


class NotCanonical(ValueError):
    """The value or the bytes are outside the profile; the message says where."""


def check(value: Any, path: str = "$") -> None:
    """Refuse whatever the profile does not allow, naming the place.

    >>> check({"a": ["12.40", 3, True]})
    >>> check({"a": 1.5})
    Traceback (most recent call last):
    ...
    ledger.chain.NotCanonical: $.a: a float; measurements are decimal strings
    """
    if isinstance(value, bool):
        return
    if isinstance(value, int):
        if abs(value) > LARGEST_INTEGER:
            raise NotCanonical(f"{path}: integer beyond 2**53 - 1")
    elif isinstance(value, str):
        if unicodedata.normalize("NFC", value) != value:
            raise NotCanonical(f"{path}: text is not in Unicode NFC")
        try:
            value.encode("utf-8")
        except UnicodeEncodeError:
            raise NotCanonical(f"{path}: text has a lone surrogate") from None
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            check(item, f"{path}[{index}]")
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str) or not key.isascii():
                raise NotCanonical(f"{path}: key {key!r} is not ASCII text")
            check(item, f"{path}.{key}")
    elif isinstance(value, float):
        raise NotCanonical(f"{path}: a float; measurements are decimal strings")
    else:
        raise NotCanonical(f"{path}: {type(value).__name__} has no place in an entry; leave absent values out")


def canonical(value: Any) -> bytes:
    """Return the canonical bytes of ``value``.

    >>> canonical({"b": 1, "a": "12.40"})
    b'{"a":"12.40","b":1}'
    """
    check(value)
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return text.encode("utf-8")


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise NotCanonical("a key stands twice")
    return found


def _no_float(text: str) -> Any:
    raise NotCanonical(f"a float: {text}")


def parse(data: bytes) -> Any:
    """Read canonical bytes; anything that is not exactly canonical is refused."""
    try:
        value = json.loads(
            data.decode("utf-8"), object_pairs_hook=_no_duplicates, parse_float=_no_float, parse_constant=_no_float
        )
    except (UnicodeDecodeError, json.JSONDecodeError) as error:
        raise NotCanonical(str(error)) from None
    if canonical(value) != data:
        raise NotCanonical("the bytes are not in canonical form")
    return value


def normal(value: Any) -> Any:
    """Bring all text of a structure to Unicode NFC, as the profile demands before signing."""
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value)
    if isinstance(value, list | tuple):
        return [normal(item) for item in value]
    if isinstance(value, dict):
        return {key: normal(item) for key, item in value.items()}
    return value


def leaf_hash(data: bytes) -> bytes:
    """SHA-256(0x00 || data): RFC 6962 section 2.1."""
    return sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """SHA-256(0x01 || left || right): RFC 6962 section 2.1."""
    return sha256(b"\x01" + left + right).digest()


@dataclass(frozen=True)
class Frontier:
    """The roots of the complete subtrees, left to right: all that appending needs (at most 64 hashes)."""

    size: int = 0
    nodes: tuple[bytes, ...] = ()

    def appended(self, leaf: bytes) -> Frontier:
        nodes, size = list(self.nodes), self.size
        while size & 1:
            leaf = node_hash(nodes.pop(), leaf)
            size >>= 1
        return Frontier(self.size + 1, (*nodes, leaf))

    def root(self) -> bytes:
        if not self.nodes:
            return EMPTY_ROOT
        root = self.nodes[-1]
        for node in reversed(self.nodes[:-1]):
            root = node_hash(node, root)
        return root

    def to_bytes(self) -> bytes:
        return b"".join(self.nodes)

    @classmethod
    def from_bytes(cls, size: int, data: bytes) -> Frontier:
        """Read a stored frontier; its number of hashes must be the number of one-bits of ``size``."""
        nodes = tuple(data[i : i + 32] for i in range(0, len(data), 32))
        if len(data) % 32 or len(nodes) != size.bit_count():
            raise NotCanonical("the stored frontier does not fit its size")
        return cls(size, nodes)


def entry_bytes(
    *, log: str, seq: int, prev: str, t: str, kind: str, act: dict[str, Any], auth: dict[str, Any],
    judged: dict[str, Any] | None = None, sig: dict[str, Any] | None = None,
) -> bytes:  # fmt: skip
    """Return the exact bytes of entry number ``seq``; ``prev`` is the hex leaf hash of the entry before."""
    record: dict[str, Any] = {
        "v": FORMAT_VERSION, "log": log, "seq": seq, "prev": prev, "t": t, "kind": kind, "act": act, "auth": auth,
    }  # fmt: skip
    if judged is not None:
        record["judged"] = judged
    if sig is not None:
        record["sig"] = sig
    return canonical(record)


def commitment(salt: bytes, value: Any) -> str:
    """Return the salted commitment to a personal datum: SHA-256("commit/v1\\n" || salt || canonical(value))."""
    if len(salt) != 16:
        raise ValueError("a salt has 16 bytes")
    return sha256(b"commit/v1\n" + salt + canonical(value)).hexdigest()


@dataclass(frozen=True)
class Fault:
    """What is wrong with a stored entry: its number and a sentence."""

    seq: int
    sentence: str


def faults(log: str, rows: Iterable[tuple[int, bytes, bytes, bytes]]) -> Sequence[Fault]:
    """Check a whole log from entry 0. ``rows``: (seq, data, leaf hash, frontier) in order of number."""
    found: list[Fault] = []
    expected, prev, last_time, tree = 0, NO_PREVIOUS, "", Frontier()
    seen: set[str] = set()
    for seq, data, stored_leaf, stored_frontier in rows:
        if seq != expected:
            found.append(Fault(seq, f"Entry {expected} is missing."))
            expected = seq
        leaf = leaf_hash(data)
        tree = tree.appended(leaf) if tree.size == seq else Frontier.from_bytes(seq + 1, stored_frontier)
        if leaf != stored_leaf:
            found.append(Fault(seq, "The stored hash is not the hash of the stored bytes."))
        elif tree.to_bytes() != stored_frontier:
            found.append(Fault(seq, "The stored frontier is not that of the entries so far."))
        try:
            record = parse(data)
        except NotCanonical as error:
            found.append(Fault(seq, f"The bytes are not canonical: {error}."))
        else:
            found.extend(Fault(seq, sentence) for sentence in _record_faults(record, log, seq, prev, last_time, seen))
            last_time = record.get("t", last_time)
        prev, expected = leaf.hex(), seq + 1
    return found


def _record_faults(record: Any, log: str, seq: int, prev: str, last_time: str, seen: set[str]) -> Iterable[str]:
    if record.get("v") != FORMAT_VERSION:
        yield "The format version is not known."
    if record.get("log") != log:
        yield "The entry belongs to another log."
    if record.get("seq") != seq:
        yield "The number in the entry is not its place in the log."
    if record.get("prev") != prev:
        yield "The entry does not name the entry before it."
    if record.get("t", "") < last_time:
        yield "The time is earlier than that of the entry before."
    act_id = record.get("act", {}).get("id", "")
    if not act_id or act_id in seen:
        yield "The act has no identity of its own."
    seen.add(act_id)
