"""Keys of persons: named with proof and password, ended with a reason, and what a signature by them must be."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any

import pytest

from accounts.deeds import SESSION
from accounts.models import Operator, User
from accounts.person_keys import enrol_key, revoke_key
from ledger import chain
from ledger.act_faults import act_faults
from ledger.models import Entry
from tests import make
from tests.signing import Phone

AT = make.FOUNDED + timedelta(hours=1)
Refusal = Callable[[str], AbstractContextManager[None]]


@pytest.fixture
def technician(staff: dict[str, User]) -> User:
    return staff["technician"]


def records(operator: Operator) -> list[dict[str, Any]]:
    return [one.record for one in Entry.objects.filter(log=operator.log).order_by("seq")]


def faults(operator: Operator, found: list[dict[str, Any]] | None = None) -> list[str]:
    return [sentence for _seq, sentence in act_faults(str(operator.log_id), found or records(operator))]


def test_a_key_is_named_in_the_history_and_its_end_too(operator: Operator, technician: User) -> None:
    key = Phone().enrol(operator, technician)
    revoke_key(key, "lost", deed=make.deed(technician, at=AT))
    enrolled, ended = (one.record["act"] for one in Entry.objects.filter(kind="person-key").order_by("seq"))
    assert (enrolled["op"], enrolled["key"], enrolled["signer"]["ref"]) == ("enrol", key.key, technician.ref)
    assert (ended["op"], ended["key"], ended["person"], ended["why"]) == ("revoke", key.key, technician.ref, "lost")
    assert faults(operator) == []


def test_what_is_no_key_or_not_the_persons_is_refused(
    operator: Operator, technician: User, staff: dict[str, User], refused: Refusal
) -> None:
    phone = Phone()
    from ledger import acts

    proof = phone.sign(acts.proof_message(str(operator.log_id), technician.ref, phone.public))
    for public, shown in (("AAAA", proof), (phone.public, "AAAA"), (Phone(2).public, proof)):
        with refused("not-a-key"):
            enrol_key(operator, public, shown, deed=make.deed(technician))
    with refused("not-a-key"):  # made for another person
        enrol_key(operator, phone.public, proof, deed=make.deed(staff["engineer"]))
    with refused("password-needed"):
        enrol_key(operator, phone.public, proof, deed=make.deed(technician, how=SESSION))
    key = phone.enrol(operator, technician)
    with refused("key-known"):
        phone.enrol(operator, technician)
    with refused("reason-needed"):
        revoke_key(key, "because", deed=make.deed(technician))
    with refused("no-right"):
        revoke_key(key, "lost", deed=make.deed(staff["engineer"]))
    revoke_key(key, "suspect", deed=make.deed(staff["manager"]))
    with refused("key-ended"):
        revoke_key(key, "lost", deed=make.deed(technician))


# --- what a history must not say


@pytest.mark.parametrize(
    ("seen", "is_right"),
    [
        (lambda rows: {"size": 0, "root": chain.Frontier().root().hex()}, True),
        (lambda rows: {"size": len(rows) - 1, "root": root_of(rows[:-1])}, True),
        (lambda rows: {"size": 2, "root": root_of(rows[:1])}, False),
        (lambda rows: {"size": len(rows), "root": root_of(rows)}, False),  # with the entry itself in it
        (lambda rows: {"size": len(rows) + 9, "root": ""}, False),
        (lambda rows: {"size": len(rows) + 9}, False),
        (lambda rows: {"size": -1, "root": root_of(rows[:-1])}, False),
        (lambda rows: {"size": True, "root": root_of(rows[:1])}, False),
        (lambda rows: {"root": root_of(rows[:1])}, False),
    ],
)
def test_what_a_device_had_seen_has_to_be_a_state_before(
    operator: Operator, technician: User, seen: Any, is_right: bool
) -> None:
    """Roots as in RFC 6962 2.1; ``chain`` is held to its published values in tests/ledger/test_chain.py."""
    rows = spoiled(operator, technician)
    rows[-1]["act"]["seen"] = seen(rows)
    sentence = "When it was made, its person's device had seen another history."
    assert faults(operator, rows) == ([] if is_right else [sentence])


def root_of(rows: list[dict[str, Any]]) -> str:
    tree = chain.Frontier()
    for one in rows:
        tree = tree.appended(chain.leaf_hash(chain.canonical(one)))
    return tree.root().hex()


def spoiled(operator: Operator, technician: User) -> list[dict[str, Any]]:
    phone = Phone()
    key = phone.enrol(operator, technician)
    revoke_key(key, "lost", deed=make.deed(technician, at=AT))
    return records(operator)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda rows: rows.pop(-2), "It ends a key that was never named."),
        (lambda rows: rows.insert(-1, rows[-2]), "The key was named before."),
        (lambda rows: rows[-2]["act"].update(public="AAAA"), "The key is not one that can be used."),
        (lambda rows: rows[-2]["act"].update(key="0" * 32), "The key is not one that can be used."),
        (lambda rows: rows[-2]["act"].update(proof="AAAA"), "The key did not sign that it belongs to this person."),
        (lambda rows: rows[-1]["act"].update(person="p-0"), "It ends the key of somebody whom it does not name."),
        (lambda rows: rows[-1]["act"].update(op="lend"), "What it does with a key is not known."),
    ],
)
def test_keys_that_cannot_be_right_are_named(operator: Operator, technician: User, change: Any, sentence: str) -> None:
    rows = spoiled(operator, technician)
    assert faults(operator, rows) == []
    change(rows)
    assert sentence in faults(operator, rows)
