"""A deed signed through the pages: prepared, signed, sent; what is not signed so is refused, and nothing typed is lost.

ES256 is made by the cryptography package, which is held to published vectors in tests/ledger/test_acts.py.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from accounts.actions import invite
from accounts.deeds import COMMAND, Deed
from accounts.log_keys import begin_log_key
from accounts.models import Operator, PersonKey, User
from accounts.person_keys import revoke_key
from ledger import acts, chain
from ledger.act_faults import act_faults
from ledger.models import Checkpoint, Entry
from tests import make
from tests.signing import Phone, prepared

AT = make.FOUNDED + timedelta(hours=1)


def records(operator: Operator) -> list[dict[str, Any]]:
    return [one.record for one in Entry.objects.filter(log=operator.log).order_by("seq")]


def faults(operator: Operator, found: list[dict[str, Any]] | None = None) -> list[str]:
    return [sentence for _seq, sentence in act_faults(str(operator.log_id), found or records(operator))]


def begun(operator: Operator) -> Checkpoint:
    """Sign the state of the history, as every signed day does, and return it."""
    deed = Deed(by=make.founder_of(operator), at=AT, how=COMMAND)
    return begin_log_key(operator, Ed25519PrivateKey.from_private_bytes(bytes(32)), deed=deed)


def text_of(answer: Any) -> str:
    assert answer.status_code == 200
    return str(answer.content.decode().replace("&#x27;", "'"))


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
    state = begun(operator)
    seen = f"{state.size}:{bytes(state.root).hex()}"
    told = prepared(client, path, {**sent, "_seen": seen}).json()
    assert (told["kind"], told["log"], told["keys"]) == ("person-invited", str(operator.log_id), [key.key])
    assert told["state"] == seen
    assert not User.objects.filter(email="ole@example.org").exists()  # nothing is left of the first sending
    clock.move_to(AT + timedelta(seconds=9))
    assert client.post(path, {**sent, **phone.signed(told, seen=seen)}).status_code == 302
    record = Entry.objects.get(act_id=sent["deed_id"]).record
    assert record["act"]["seen"] == {"size": state.size, "root": bytes(state.root).hex()}
    assert record["act"]["made_at"] == told["act"].split('"made_at":"')[1][:20]
    assert record["t"] > record["act"]["made_at"]
    assert faults(operator) == []


@pytest.mark.parametrize("size", [0, 1])
def test_a_state_that_this_history_never_had_is_not_signed(
    operator: Operator, manager: User, path: str, client_of: Any, caplog: pytest.LogCaptureFixture, size: int
) -> None:
    """Else a device that a forged history was shown to would be a fault in the true one for ever."""
    phone, client, sent = Phone(), client_of(manager), fields()
    phone.enrol(operator, manager)
    state = begun(operator)
    seen = f"{state.size + size}:{'ab' * 32}"
    told = prepared(client, path, {**sent, "_seen": seen}).json()
    assert "seen" not in json.loads(told["act"])
    assert told["state"] == f"{state.size}:{bytes(state.root).hex()}"
    assert "was never signed as it is at" in caplog.text
    # Whoever signs it all the same has not signed what is recorded.
    act = {**json.loads(told["act"]), "seen": {"size": state.size + size, "root": "ab" * 32}}
    forged = {**told, "act": chain.canonical(act).decode()}
    before = Entry.objects.count()
    assert "has changed since it was signed" in text_of(client.post(path, {**sent, **phone.signed(forged, seen=seen)}))
    assert Entry.objects.count() == before
    told = prepared(client, path, {**sent, "_seen": seen}).json()
    assert client.post(path, {**sent, **phone.signed(told)}).status_code == 302
    assert "seen" not in Entry.objects.get(act_id=sent["deed_id"]).record["act"]
    assert faults(operator) == []


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        ("other words", "has changed since it was signed"),
        ("other phone", "key of this device is not known"),
        ("other person", "key of this device is not known"),
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
    operator: Operator, manager: User, staff: dict[str, User], path: str, client_of: Any, clock: Any, spoil: str,
    sentence: str,
) -> None:  # fmt: skip
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
    elif spoil == "other person":
        Phone(2).enrol(operator, staff["engineer"])
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
    answer = text_of(client.post(path, {**sent, **signed}))
    assert sentence in answer
    assert f'value="{sent["name"]}"' in answer  # nothing that was typed is lost
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


def test_such_a_page_is_a_page_like_any_other(operator: Operator, manager: User, path: str, client_of: Any) -> None:
    """The headers of every page are on what a prepared form is told and on the page that answers it (OWASP: MEMORY)."""
    Phone().enrol(operator, manager)
    client = client_of(manager)
    refused = prepared(client, path, {**fields(), "password": "wrong"})
    for answer in (refused, client.get(refused.json()["to"]), prepared(client, path, fields())):
        assert answer.status_code == 200
        assert set(answer["Cache-Control"].split(", ")) >= {"private", "no-store"}
        assert answer["X-Frame-Options"] == "DENY"
        assert "default-src 'none'" in answer["Content-Security-Policy"]


def test_one_page_is_kept_for_a_person_and_forgotten_once_it_is_done(
    operator: Operator, manager: User, path: str, client_of: Any
) -> None:
    phone, client, sent = Phone(), client_of(manager), fields()
    phone.enrol(operator, manager)
    first = prepared(client, path, {**sent, "password": "wrong"}).json()["to"]
    second = prepared(client, path, {**sent, "password": "wrong"}).json()["to"]
    shown = [sent["email"] in client.get(one).content.decode() for one in (first, second, second)]
    assert shown == [False, True, True]
    told = prepared(client, path, sent).json()
    assert sent["email"] in client.get(second).content.decode()  # not done yet
    assert client.post(path, {**sent, **phone.signed(told)}).status_code == 302
    client.get(path)  # tells that the invitation was sent
    assert sent["email"] not in client.get(second).content.decode()


def test_what_is_said_is_said_once(operator: Operator, manager: User, client_of: Any) -> None:
    """What is done without an entry of its own is done by preparing it; the page after it says so, once."""
    client = client_of(manager)
    guest = invite(operator, "ulla@example.org", "Ulla Steen", ["guide"], deed=make.deed(make.founder_of(operator)))
    path = reverse("accounts:send_invitation", args=[operator.pk, guest.pk])
    told = prepared(client, path, {"deed_id": str(uuid4())}).json()
    said = f"The invitation was sent to {guest.email}."
    assert [said in text_of(client.get(told["to"])) for _turn in range(2)] == [True, False]


def test_salts_are_given_back_once(operator: Operator, manager: User, path: str, client_of: Any) -> None:
    """With the seed a salt that was erased could be made again: it is forgotten as soon as it was used."""
    phone, client, sent = Phone(), client_of(manager), fields()
    phone.enrol(operator, manager)
    signed = phone.signed(prepared(client, path, sent).json())
    assert client.post(path, {**sent, **signed, "password": "wrong"}).status_code == 200
    assert "has changed since it was signed" in text_of(client.post(path, {**sent, **signed}))
    assert cache.get(f"salts:{manager.pk}:{sent['deed_id']}") is None
    assert client.post(path, {**sent, **phone.signed(prepared(client, path, sent).json())}).status_code == 302
    assert cache.get(f"salts:{manager.pk}:{sent['deed_id']}") is None


def test_a_deed_that_was_done_is_not_refused_when_it_is_sent_again(
    operator: Operator, manager: User, path: str, client_of: Any, clock: Any
) -> None:
    """Neither for its salts, which are forgotten, nor because it is late, nor when it is prepared once more."""
    phone, client, sent = Phone(), client_of(manager), fields()
    phone.enrol(operator, manager)
    signed = phone.signed(prepared(client, path, sent).json())
    assert client.post(path, {**sent, **signed}).status_code == 302
    entries = Entry.objects.count()
    clock.move_to(AT + timedelta(hours=1))
    again = client.post(path, {**sent, **signed}, follow=True)
    assert "This was received already." in text_of(again)
    assert prepared(client, path, sent).json() == {"to": reverse("accounts:people", args=[operator.pk])}
    assert Entry.objects.count() == entries


def test_a_key_is_named_and_ended_once_through_the_pages(operator: Operator, manager: User, client_of: Any) -> None:
    phone, client = Phone(), client_of(manager)
    keys = reverse("accounts:keys", args=[operator.pk])
    enrolling = {
        "deed_id": str(uuid4()), "password": make.WORD, "public": phone.public,
        "proof": phone.sign(acts.proof_message(str(operator.log_id), manager.ref, phone.public)),
    }  # fmt: skip
    assert [client.post(keys, enrolling)["Location"] for _turn in range(2)] == [keys, keys]
    key = PersonKey.objects.get()
    ending = {"deed_id": str(uuid4()), "why": "lost"}
    end = reverse("accounts:end_key", args=[operator.pk, key.pk])
    assert [client.post(end, ending)["Location"] for _turn in range(2)] == [keys, keys]
    assert Entry.objects.filter(kind="person-key").count() == 2
    assert "ended 1 May 2026, 11:00: the device is lost or broken" in text_of(client.get(keys))


def test_a_manager_ends_the_key_of_a_phone_that_was_lost(
    operator: Operator, manager: User, staff: dict[str, User], client_of: Any
) -> None:
    make.course(operator)  # the menu, and with it what one may, belongs to a course
    technician, client = staff["technician"], client_of(manager)
    key = Phone().enrol(operator, technician)
    person = text_of(client.get(reverse("accounts:person", args=[operator.pk, technician.pk])))
    listed = reverse("accounts:person_keys", args=[operator.pk, technician.pk])
    end = reverse("accounts:end_key", args=[operator.pk, key.pk])
    assert f'href="{listed}"' in person
    assert f'href="{end}"' in text_of(client.get(listed))
    asked = text_of(client.get(end))
    assert f"End key {key.key[:8]} of {technician.name}?" in asked  # who ends one of several sees which
    since = key.since.astimezone(operator.zone)
    assert f"It signs since {since.day} {since:%B %Y, %H:%M} and ends at once." in asked
    assert client.post(end, {"deed_id": str(uuid4()), "why": "lost"})["Location"] == listed
    assert f'href="{end}"' not in text_of(client.get(listed))
    assert records(operator)[-1]["act"]["person"] == technician.ref
    assert faults(operator) == []
    # A colleague without the right finds no such key.
    assert client_of(staff["engineer"]).get(end).status_code == 404


def test_asking_what_there_is_to_sign_takes_nothing_from_what_is_kept(
    operator: Operator, manager: User, path: str, client_of: Any
) -> None:
    """A form that came back after a log-in ran out stays kept until it is taken (accounts.keep)."""
    from accounts.keep import COOKIE, _key, signed

    phone, client, sent = Phone(), client_of(manager), {**fields(), "_who": signed(manager.ref), "_page": path}
    phone.enrol(operator, manager)
    client.logout()
    client.post(path, sent)
    kept = _key(client.cookies[COOKIE].value)
    client.force_login(manager)
    told = prepared(client, path, sent).json()
    assert cache.get(kept) is not None
    assert client.post(path, {**sent, **phone.signed(told)}).status_code == 302
    assert cache.get(kept) is None


# --- what a history must not say


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda one: one["act"].update(name="Another"), "The signature is not over this act."),
        (lambda one: one.update(kind="role-given"), "The signature is not over this act."),
        (lambda one: one["sig"].update(key="0" * 32), "It is signed by a key that this history did not name before."),
        (lambda one: one["sig"].update(alg="none"), "It is signed by a key that this history did not name before."),
        (lambda one: one.update(sig="es256"), "It is signed by a key that this history did not name before."),
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
