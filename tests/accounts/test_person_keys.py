"""Keys of persons: named with proof and password, ended with a reason, and what a signature by them must be."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from accounts.deeds import SESSION
from accounts.models import Operator, PersonKey, User
from accounts.person_keys import enrol_key, revoke_key
from ledger.act_faults import act_faults
from ledger.models import Entry
from tests import make
from tests.signing import Phone, prepared

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


# --- a deed through the pages


@pytest.fixture
def path(operator: Operator) -> str:
    return reverse("accounts:invite", args=[operator.pk])


@pytest.fixture
def manager(staff: dict[str, User]) -> User:
    return staff["manager"]


def fields() -> dict[str, Any]:
    return {
        "name": "Ole Birk", "email": "ole@example.org", "roles": ["guide"], "password": make.WORD,
        "deed_id": str(uuid4()),
    }  # fmt: skip


@pytest.fixture
def client_of(clock: Any) -> Callable[[User], Client]:
    clock.move_to(AT)

    def log_in(user: User) -> Client:
        client = Client()
        client.force_login(user)
        return client

    return log_in


def test_what_is_signed_is_what_is_recorded(
    operator: Operator, manager: User, path: str, client_of: Any, clock: Any
) -> None:
    phone, client, sent = Phone(), client_of(manager), fields()
    key = phone.enrol(operator, manager)
    seen = f"7:{'ab' * 32}"
    told = prepared(client, path, {**sent, "_seen": seen}).json()
    assert (told["kind"], told["log"], told["keys"]) == ("person-invited", str(operator.log_id), [key.key])
    assert not User.objects.filter(email="ole@example.org").exists()  # nothing is left of the first sending
    clock.move_to(AT + timedelta(seconds=9))
    assert client.post(path, {**sent, **phone.signed(told, seen=seen)}).status_code == 302
    record = Entry.objects.get(act_id=sent["deed_id"]).record
    assert record["act"]["seen"] == {"size": 7, "root": "ab" * 32}
    assert record["act"]["made_at"] == told["act"].split('"made_at":"')[1][:20]
    assert record["t"] > record["act"]["made_at"]
    assert faults(operator) == []


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        ("other words", "has changed since it was signed"),
        ("other phone", "key of this device is not known"),
        ("ended", "key of this device is not known"),
        ("signature", "has changed since it was signed"),
        ("kind", "has changed since it was signed"),
        ("late", "signed too long ago"),
        ("ahead", "signed too long ago"),
        ("no time", "signed too long ago"),
        ("seed", "has changed since it was signed"),
    ],
)
def test_what_is_not_so_signed_is_not_recorded(
    operator: Operator, manager: User, path: str, client_of: Any, clock: Any, spoil: str, sentence: str
) -> None:
    phone, client, sent = Phone(), client_of(manager), fields()
    key = phone.enrol(operator, manager)
    told = prepared(client, path, sent).json()
    signed = phone.signed(told)
    if spoil == "other words":
        sent["name"] = "Ole Birch"
        sent["email"] = "other@example.org"
        sent["roles"] = ["technician"]
    elif spoil == "other phone":
        signed = Phone(2).signed(told)
    elif spoil == "ended":
        revoke_key(key, "lost", deed=make.deed(manager, at=AT))
    elif spoil == "signature":
        signed["_sig"] = phone.sign(b"something else")
    elif spoil == "kind":
        signed = phone.signed({**told, "kind": "role-given"})
    elif spoil == "late":
        clock.move_to(AT + timedelta(minutes=11))
    elif spoil == "ahead":
        signed["_made_at"] = "2027-01-01T00:00:00Z"
    elif spoil == "no time":
        signed["_made_at"] = "now"
    else:
        prepared(client, path, sent)  # asked once more: the salts are others now
    before = Entry.objects.count()
    answer = client.post(path, {**sent, **signed})
    assert sentence in answer.content.decode().replace("&#x27;", "'")
    assert Entry.objects.count() == before
    assert not User.objects.filter(email__in=("ole@example.org", "other@example.org")).exists()


def test_a_form_with_something_missing_is_shown_as_always(
    operator: Operator, manager: User, staff: dict[str, User], path: str, client_of: Any
) -> None:
    Phone().enrol(operator, manager)
    client = client_of(manager)
    told = prepared(client, path, {**fields(), "password": "wrong"}).json()
    assert told["to"].startswith(f"{path}?_shown=")
    page = client.get(told["to"])
    assert "This is not your password." in page.content.decode()
    assert 'value="ole@example.org"' in page.content.decode()
    # Another person, or another address, is shown nothing of it.
    assert "This is not your password." not in client_of(staff["engineer"]).get(told["to"]).content.decode()
    other = told["to"].replace(path, reverse("accounts:people", args=[operator.pk]))
    assert "This is not your password." not in client.get(other).content.decode()


# --- what a history must not say


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
    ],
)
def test_keys_that_cannot_be_right_are_named(operator: Operator, technician: User, change: Any, sentence: str) -> None:
    rows = spoiled(operator, technician)
    assert faults(operator, rows) == []
    change(rows)
    assert sentence in faults(operator, rows)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda one: one["act"].update(name="Another"), "The signature is not over this act."),
        (lambda one: one.update(kind="role-given"), "The signature is not over this act."),
        (lambda one: one["sig"].update(key="0" * 32), "It is signed by a key that this history did not name before."),
        (lambda one: one["sig"].update(alg="none"), "It is signed by a key that this history did not name before."),
        (lambda one: one["act"]["signer"].update(ref="p-0"), "It is signed by the key of another person."),
    ],
)
def test_signatures_that_are_false_are_named(
    operator: Operator, manager: User, path: str, client_of: Any, change: Any, sentence: str
) -> None:
    phone, client, sent = Phone(), client_of(manager), fields()
    key = phone.enrol(operator, manager)
    client.post(path, {**sent, **phone.signed(prepared(client, path, sent).json())})
    rows = records(operator)
    assert "sig" in rows[-1]
    change(rows[-1])
    assert faults(operator, rows) == [sentence]
    revoke_key(key, "lost", deed=make.deed(manager, at=AT))
    rows = records(operator)
    rows.append(rows[-2])
    assert "It is signed by a key that was ended before." in faults(operator, rows)
    assert PersonKey.objects.get().ended_at is not None
