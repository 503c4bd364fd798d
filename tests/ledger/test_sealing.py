"""The signed states of a log: what is signed, what is not signed any more, and what the database refuses.

That a log must never sign a state that does not continue an earlier one: C2SP tlog-checkpoint (READ in the dossier).
"""

from __future__ import annotations

import uuid
from base64 import b64encode
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.db import DatabaseError, connection, transaction

from ledger import actions, chain, log_key, notes, sealing, triggers
from ledger.merkle import Tree, continues
from ledger.models import Checkpoint, Entry, Log
from ledger.sealing import NotSealed, seal

AT = datetime(2026, 6, 15, 5, 30, tzinfo=UTC)
AUTH = {"how": "command", "ref": "p-1"}
SEED, NEXT = bytes(range(32)), bytes(range(1, 33))
MINE, NEW = Ed25519PrivateKey.from_private_bytes(SEED), Ed25519PrivateKey.from_private_bytes(NEXT)


def append(log: Log, kind: str = "note", **act: Any) -> Entry:
    return actions.append(log, kind, {"id": str(uuid.uuid4()), **act}, auth=AUTH, at=AT)


def begin(log: Log, private: Ed25519PrivateKey = MINE) -> None:
    append(log, sealing.KIND, op="begin", key=sealing.public_key(log, private).text)


@pytest.fixture
def log(db: None, settings: Any) -> Log:
    settings.LOG_KEY = b64encode(SEED).decode()
    return actions.open_log(at=AT)


@pytest.fixture
def begun(log: Log) -> Log:
    begin(log)
    for n in range(6):
        append(log, n=n)
    return log


def test_what_is_signed_is_the_root_over_all_entries(begun: Log) -> None:
    found = seal(begun, at=AT)
    text, signers = notes.opened(found.note, [one.key for one in sealing.keys_of(begun)])
    leaves = [chain.leaf_hash(bytes(one.data)) for one in Entry.objects.filter(log=begun).order_by("seq")]
    assert notes.Checkpoint.of(text) == notes.Checkpoint(f"lineworthy/{begun.pk}", 7, Tree(leaves).root())
    assert (found.size, bytes(found.root), len(signers)) == (7, Tree(leaves).root(), 1)


def test_the_next_state_continues_the_last_and_an_equal_one_is_not_signed_twice(begun: Log) -> None:
    first = seal(begun, at=AT)
    assert seal(begun, at=AT + timedelta(hours=1)) == first
    append(begun)
    append(begun)
    second = seal(begun, at=AT)
    leaves = [chain.leaf_hash(bytes(one.data)) for one in Entry.objects.filter(log=begun).order_by("seq")]
    proof = Tree(leaves).consistency(first.size, second.size)
    assert continues(first.size, second.size, bytes(first.root), bytes(second.root), proof)
    assert Checkpoint.objects.filter(log=begun).count() == 2
    assert sealing.newest(begun) == second


@pytest.mark.parametrize("spoil", ["bytes", "frontier", "cut", "root", "hash-and-bytes"])
def test_a_history_that_was_changed_is_not_signed_again(begun: Log, spoil: str) -> None:
    """Done as the database's owner could, with the triggers taken away."""
    seal(begun, at=AT)
    append(begun)
    if spoil in ("bytes", "hash-and-bytes"):
        append(begun)
    triggers.drop(connection)
    last = Entry.objects.filter(log=begun).order_by("-seq").first()
    assert last is not None
    rows = Entry.objects.filter(log=begun)
    other = bytes(last.data).replace(b'"note"', b'"nots"')
    if spoil == "bytes":
        rows.filter(seq=7).update(data=other)
    elif spoil == "hash-and-bytes":
        rows.filter(seq=7).update(data=other, leaf_hash=chain.leaf_hash(other))
    elif spoil == "frontier":
        tree = chain.Frontier.from_bytes(8, bytes(last.frontier)).appended(b"x" * 32)
        rows.filter(seq=6).update(frontier=tree.to_bytes()[:96])
    elif spoil == "cut":
        rows.filter(seq__gte=5).delete()
    else:
        Checkpoint.objects.filter(log=begun).update(root=b"r" * 32)
    with pytest.raises(NotSealed) as caught:
        seal(begun, at=AT)
    assert caught.value.code == "history-changed"
    assert Checkpoint.objects.filter(log=begun).count() == 1


def test_without_the_right_key_nothing_is_signed(log: Log, settings: Any) -> None:
    def code() -> str:
        with pytest.raises(NotSealed) as caught:
            seal(log, at=AT)
        return caught.value.code

    append(log)
    assert code() == "not-begun"
    begin(log)
    settings.LOG_KEY = ""
    assert code() == "no-key"
    settings.LOG_KEY = "AAAA"
    assert code() == "bad-key"
    settings.LOG_KEY = b64encode(NEXT).decode()
    assert code() == "other-key"
    assert not Checkpoint.objects.exists()


@pytest.mark.parametrize("text", ["", "AAAA", "a secret!", b64encode(bytes(33)).decode()])
def test_what_is_no_key_is_refused_without_repeating_it(text: str) -> None:
    with pytest.raises(log_key.LogKeyError) as caught:
        log_key.read(text)
    assert not text or text not in str(caught.value)
    assert log_key.read(log_key.made()) is not None


@pytest.mark.parametrize(
    "deed",
    [
        lambda one: Checkpoint.objects.filter(log=one.log).update(size=9),
        lambda one: Checkpoint.objects.filter(log=one.log).delete(),
        lambda one: Checkpoint(log=one.log, size=3, root=one.root, note="", made_at=AT).save(force_insert=True),
        lambda one: Checkpoint(log=one.log, size=one.size, root=one.root, note="", made_at=AT).save(force_insert=True),
    ],
    ids=["update", "delete", "smaller", "again"],
)
def test_the_database_keeps_what_was_signed(begun: Log, deed: Any) -> None:
    one = seal(begun, at=AT)
    with pytest.raises(DatabaseError), transaction.atomic():
        deed(one)
    assert list(Checkpoint.objects.filter(log=begun)) == [one]
