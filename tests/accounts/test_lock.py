"""What the server says to a locked page. The contract is ours; five wrong ones in five minutes as in test_proof."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests import make

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]
JSON = {"accept": "application/json"}


@pytest.fixture
def person(morning: Any) -> Any:
    return make.person(make.operator(), "technician")


def asked(client: Client, **fields: str) -> Any:
    return client.post(reverse("accounts:unlock"), fields, headers=JSON)


def test_the_password_of_who_is_logged_in_opens_it_and_no_other(person: Any, client: Client) -> None:
    client.force_login(person)

    assert asked(client, password=make.WORD, ref=person.ref).json() == {"ok": person.ref}
    assert asked(client, password="not the word", ref=person.ref).json() == {"refused": "This is not your password."}
    assert asked(client, ref=person.ref).json() == {"refused": "This is not your password."}
    # The page was shown to somebody else: the right password of this person opens nothing of theirs.
    assert asked(client, password=make.WORD, ref="p-another").json() == {"login": True}


def test_after_five_wrong_ones_the_right_one_is_refused_too(person: Any, client: Client) -> None:
    client.force_login(person)
    for _try in range(5):
        asked(client, password="not the word", ref=person.ref)

    answer = asked(client, password=make.WORD, ref=person.ref)

    assert answer.json()["refused"].startswith("Too many wrong passwords.")
    assert answer["Cache-Control"] == "no-store"


def test_nobody_is_asked_to_log_in(client: Client) -> None:
    answer = asked(client, password=make.WORD)

    assert answer.status_code == 401
    assert "login" in answer.json()
