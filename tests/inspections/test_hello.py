"""What a phone is answered that says hello, and what is kept of it. The contract is ours: there is no source."""

from __future__ import annotations

import uuid
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client

from inspections.models import Phone
from tests.inspections.phone_steps import deed, hello, owed


@pytest.fixture
def w(day_open: SimpleNamespace, w: SimpleNamespace) -> SimpleNamespace:
    w.phone = uuid.uuid4()
    return w


HELLO = "/phone/hello/"


@pytest.fixture
def technician(w: SimpleNamespace, as_: Any, clock: Any) -> Client:
    clock.move_to(w.t(20))
    return as_("technician")


def say(client: Client, w: SimpleNamespace, *held: Any, **more: Any) -> Any:
    body = {"phone": str(w.phone), "held": held, "has": w.at.date().isoformat(), **more}
    return client.post(HELLO, body, content_type="application/json")


def test_hello_tells_person_token_and_time_to_the_millisecond(w: SimpleNamespace, technician: Client) -> None:
    answer = technician.get(HELLO)

    told = answer.json()
    assert told == {"person": w.technician.ref, "csrf": told["csrf"], "now": "2026-06-15T05:50:00.000Z"}
    assert len(told["csrf"]) == 64  # a masked secret of 32 characters: django.middleware.csrf
    assert "csrftoken" in answer.cookies
    assert "no-store" in answer["Cache-Control"]


def test_hello_of_nobody_is_answered_and_keeps_nothing(w: SimpleNamespace, clock: Any) -> None:
    client = Client()

    answers = client.get(HELLO), say(client, w, deed(w))

    assert [(answer.status_code, answer.json()["person"]) for answer in answers] == [(200, ""), (200, "")]
    assert not Phone.objects.exists()


def test_hello_keeps_what_is_held_and_takes_few_queries(
    w: SimpleNamespace, technician: Client, django_assert_num_queries: Any
) -> None:
    say(technician, w)
    with django_assert_num_queries(2):  # the log-in
        technician.get(HELLO)

    # Besides the log-in: a savepoint and its end, the courses, the roles, the phones, and what is kept.
    with django_assert_num_queries(2 + 6):
        answer = say(technician, w, deed(w), deed(w, "sheet", line=2))

    assert answer.status_code == 200
    assert len(owed(w)) == 2
    assert [(row.person_id, row.has, row.seen_at) for row in Phone.objects.all()] == [
        (w.technician.pk, w.at.date(), w.t(20))
    ]


def test_hello_wants_a_token(w: SimpleNamespace, clock: Any) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(w.technician)

    assert say(client, w, deed(w)).status_code == 401
    assert not Phone.objects.exists()
    token = client.get(HELLO).json()["csrf"]
    body = {"phone": str(w.phone), "held": [deed(w)], "has": ""}
    answer = client.post(HELLO, body, content_type="application/json", headers={"X-CSRFToken": token})

    assert answer.status_code == 200
    assert Phone.objects.count() == 1


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{", b"null", b'{"phone": 1, "held": []}', b'{"phone": "x", "held": []}', b"[" * 5000]
)
def test_hello_that_cannot_be_read_is_refused_and_answered_all_the_same(
    w: SimpleNamespace, technician: Client, body: bytes
) -> None:
    answer = technician.post(HELLO, body, content_type="application/json")

    assert answer.status_code == 422
    assert answer.json()["person"] == w.technician.ref
    assert answer.json()["refused"] == "What this phone says cannot be read."
    assert not Phone.objects.exists()


def test_hello_that_is_too_long_is_refused(w: SimpleNamespace, technician: Client) -> None:
    answer = say(technician, w, deed(w, title="x" * 200_000))

    assert (answer.status_code, answer.json()["refused"]) == (422, "More is held on this phone than can be told.")
    assert not Phone.objects.exists()


def test_logging_out_puts_the_phone_away_and_what_it_owes_is_still_owed(w: SimpleNamespace, technician: Client) -> None:
    say(technician, w, deed(w))
    other = uuid.uuid4()
    hello(w, phone=other, has=w.at.date())

    technician.post("/account/logout/")

    assert {row.phone: row.has for row in Phone.objects.all()} == {w.phone: None, other: w.at.date()}
    assert len(owed(w)) == 1
