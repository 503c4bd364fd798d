"""Sign the state of a log, after asking whether it still continues the state that was signed last.

Which key signs stands in the log itself, in entries of the kind ``log-key``: ``{op: begin, key}`` and ``{op: rotate,
key, retires, retire_after, reason?}``. A key signs no state of more entries than it was retired after. A log that does
not continue its last checkpoint is never signed again: that is for people to look into.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from ledger import chain, log_key, notes
from ledger.actions import lock
from ledger.models import Checkpoint, Entry, Log

KIND = "log-key"
BEGIN, ROTATE = "begin", "rotate"
CHUNK = 500

WHY = {
    "no-key": "No log key is set on this server.",
    "bad-key": "The log key that is set on this server cannot be read.",
    "not-begun": "No log key was begun in this history.",
    "other-key": "The log key on this server is not the one that this history names.",
    "history-changed": "The history does not continue what was signed before. Nothing more is signed.",
}


class NotSealed(Exception):
    """The state of the log was not signed; ``code`` is of ``WHY``."""

    def __init__(self, code: str) -> None:
        super().__init__(WHY[code])
        self.code = code


@dataclass(frozen=True)
class LogKey:
    """A key that a log names: from which entry on, and after how many entries it was retired."""

    key: notes.Key
    since: int
    retire_after: int | None = None


def keys_of(log: Log) -> list[LogKey]:
    """Return the keys that the entries of a log name, oldest first; one query."""
    found: list[LogKey] = []
    for entry in Entry.objects.filter(log=log, kind=KIND).order_by("seq"):
        act = entry.record["act"]
        if act["op"] == ROTATE:
            found = [
                LogKey(one.key, one.since, act["retire_after"]) if one.key.text == act["retires"] else one
                for one in found
            ]
        found.append(LogKey(notes.Key.of(act["key"]), entry.seq))
    return found


def name_of(log: Log) -> str:
    """Return the name under which a log signs: it is the same for ever and says nothing of the server's address."""
    return f"lineworthy/{log.pk}"


def public_key(log: Log, private: Ed25519PrivateKey) -> notes.Key:
    """Return the installation's key under the name of a log."""
    return notes.key_of(name_of(log), private)


def newest(log: Log) -> Checkpoint | None:
    """Return the newest checkpoint of a log."""
    return Checkpoint.objects.filter(log=log).order_by("-size").first()


def seal(log: Log, *, at: datetime, signers: Sequence[Ed25519PrivateKey] = ()) -> Checkpoint:
    """Sign the state of a log, in the caller's transaction, and return the checkpoint; one of the same state if kept.

    ``signers``: the keys that sign, the log's own first; by default that which is set. Raises NotSealed.
    """
    lock(log)
    signers = _signers(log, signers)
    last = Entry.objects.filter(log=log).order_by("-seq").values_list("seq", "frontier").first()
    if last is None:
        raise NotSealed("not-begun")
    before = newest(log)
    try:
        tree = chain.Frontier.from_bytes(last[0] + 1, bytes(last[1]))
        continues = _continues(log, before, tree)
    except chain.NotCanonical:
        continues = False
    if not continues:
        raise NotSealed("history-changed")
    if before is not None and before.size == tree.size:
        return before
    text = notes.Checkpoint(name_of(log), tree.size, tree.root()).text
    note = notes.signed(text, *((name_of(log), one) for one in signers))
    found = Checkpoint(log=log, size=tree.size, root=tree.root(), note=note, made_at=at)
    found.save(force_insert=True)
    return found


def _signers(log: Log, given: Sequence[Ed25519PrivateKey]) -> Sequence[Ed25519PrivateKey]:
    """Return the keys that sign, if the first is the one that the log names now."""
    if not given:
        try:
            own = log_key.configured()
        except log_key.LogKeyError:
            raise NotSealed("bad-key") from None
        if own is None:
            raise NotSealed("no-key")
        given = [own]
    known = keys_of(log)
    if not known:
        raise NotSealed("not-begun")
    if known[-1].key != public_key(log, given[0]):
        raise NotSealed("other-key")
    return given


def _continues(log: Log, before: Checkpoint | None, tree: chain.Frontier) -> bool:
    """Tell whether the entries still give the root signed last and, hashed anew, lead from it to ``tree``."""
    found = chain.Frontier()
    if before is not None:
        if before.size > tree.size:
            return False
        at = Entry.objects.filter(log=log, seq=before.size - 1).values_list("frontier", flat=True).first()
        if at is None:
            return False
        found = chain.Frontier.from_bytes(before.size, bytes(at))
        if found.root() != bytes(before.root):
            return False
    rows = Entry.objects.filter(log=log, seq__gte=found.size).order_by("seq").values_list("seq", "data")
    for seq, data in rows.iterator(CHUNK):
        if seq != found.size:
            return False
        found = found.appended(chain.leaf_hash(bytes(data)))
    return found == tree
