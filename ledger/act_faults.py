"""Hold the acts of a history to the keys of the persons who signed them, in the order of the entries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from ledger import acts

KEYS = "person-key"


@dataclass
class _Known:
    """The keys named so far: point and person of each, and those that were ended."""

    points: dict[str, tuple[bytes, str]] = field(default_factory=dict)
    ended: set[str] = field(default_factory=set)


def act_faults(log: str, records: Iterable[dict[str, Any]]) -> Iterator[tuple[int, str]]:
    """Yield (number of the entry, sentence) for every signature that is false, and every key that cannot be right.

    That an entry has no signature is no fault: it says by ``auth`` how the person was known.
    """
    known = _Known()
    for record in records:
        seq, act = record["seq"], record["act"]
        if "sig" in record:
            for sentence in _signature_faults(record, known):
                yield seq, sentence
        if record["kind"] == KEYS:
            for sentence in _key_faults(log, act, known):
                yield seq, sentence


def _signature_faults(record: dict[str, Any], known: _Known) -> Iterator[str]:
    sig, act = record["sig"], record["act"]
    point, ref = known.points.get(sig.get("key", ""), (b"", ""))
    if sig.get("alg") != acts.ALGORITHM or not point:
        yield "It is signed by a key that this history did not name before."
    elif sig["key"] in known.ended:
        yield "It is signed by a key that was ended before."
    elif act.get("signer", {}).get("ref") != ref:
        yield "It is signed by the key of another person."
    elif not acts.is_signed(point, sig.get("sig", ""), acts.message(record["kind"], act)):
        yield "The signature is not over this act."


def _key_faults(log: str, act: dict[str, Any], known: _Known) -> Iterator[str]:
    ref, name = act.get("signer", {}).get("ref", ""), act.get("key", "")
    if act.get("op") == "revoke":
        if name not in known.points:
            yield "It ends a key that was never named."
        known.ended.add(name)
        return
    point = acts.point_of(act.get("public", ""))
    if point is None or acts.key_id(point) != name:
        yield "The key is not one that can be used."
    elif not acts.is_signed(point, act.get("proof", ""), acts.proof_message(log, ref, act["public"])):
        yield "The key did not sign that it belongs to this person."
    elif name in known.points:
        yield "The key was named before."
    else:
        known.points[name] = point, ref
