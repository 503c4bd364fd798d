"""Hold the acts of a history to the keys of the persons who signed them, in the order of the entries.

The program that is handed out with a record (``reports.verifier.verify``) asks the same of the same entries; a test
holds the two against each other. Whether somebody had the right to end another's key cannot be told from entries alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from ledger import acts, chain

KEYS = "person-key"
ENROL, REVOKE = "enrol", "revoke"
ROOT_BYTES = 32


@dataclass
class _Known:
    """What the entries so far named: the point and person of each key, those that were ended, and every root."""

    points: dict[str, tuple[bytes, Any]] = field(default_factory=dict)
    ended: set[str] = field(default_factory=set)
    tree: chain.Frontier = field(default_factory=chain.Frontier)
    roots: bytearray = field(default_factory=lambda: bytearray(chain.Frontier().root()))

    def take(self, record: dict[str, Any]) -> None:
        """Go on to the state behind an entry."""
        self.tree = self.tree.appended(chain.leaf_hash(chain.canonical(record)))
        self.roots += self.tree.root()

    def had(self, seen: dict[str, Any]) -> bool:
        """Tell whether this history was, at some number of entries so far, what a device says that it had seen."""
        size = seen.get("size")
        if type(size) is not int or not 0 <= size <= self.tree.size:
            return False
        return self.roots[ROOT_BYTES * size : ROOT_BYTES * (size + 1)].hex() == seen.get("root")


def act_faults(log: str, records: Iterable[dict[str, Any]]) -> Iterator[tuple[int, str]]:
    """Yield (number of the entry, sentence) for every signature that is false, and every key that cannot be right.

    Also for every act whose device had seen a state that this history never had. That an entry has no signature is no
    fault: it says by ``auth`` how the person was known. ``records`` are all entries from the first on.
    """
    known = _Known()
    for record in records:
        seq, act = record["seq"], record["act"]
        if "sig" in record:
            for sentence in _signature_faults(record, known):
                yield seq, sentence
        seen = act.get("seen")
        if isinstance(seen, dict) and not known.had(seen):
            yield seq, "When it was made, its person's device had seen another history."
        if record["kind"] == KEYS:
            for sentence in _key_faults(log, act, known):
                yield seq, sentence
        known.take(record)


def _signature_faults(record: dict[str, Any], known: _Known) -> Iterator[str]:
    sig, act = record["sig"], record["act"]
    sig = sig if isinstance(sig, dict) else {}
    point, ref = known.points.get(str(sig.get("key")), (b"", ""))
    if sig.get("alg") != acts.ALGORITHM or not point:
        yield "It is signed by a key that this history did not name before."
    elif sig["key"] in known.ended:
        yield "It is signed by a key that was ended before."
    elif _signer(act) != ref:
        yield "It is signed by the key of another person."
    elif not acts.is_signed(point, str(sig.get("sig")), acts.message(record["kind"], act)):
        yield "The signature is not over this act."


def _key_faults(log: str, act: dict[str, Any], known: _Known) -> Iterator[str]:
    ref, name, op, public = _signer(act), str(act.get("key")), act.get("op"), str(act.get("public"))
    if op == REVOKE:
        if name not in known.points:
            yield "It ends a key that was never named."
        elif act.get("person", ref) != known.points[name][1]:
            yield "It ends the key of somebody whom it does not name."
        known.ended.add(name)
        return
    if op != ENROL:
        yield "What it does with a key is not known."
        return
    point = acts.point_of(public)
    if point is None or acts.key_id(point) != name:
        yield "The key is not one that can be used."
    elif not acts.is_signed(point, str(act.get("proof")), acts.proof_message(log, str(ref), public)):
        yield "The key did not sign that it belongs to this person."
    elif name in known.points:
        yield "The key was named before."
    else:
        known.points[name] = point, ref


def _signer(act: dict[str, Any]) -> Any:
    signer = act.get("signer")
    return signer.get("ref") if isinstance(signer, dict) else None
