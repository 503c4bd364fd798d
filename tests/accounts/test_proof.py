"""The password in the same request. Five wrong tries in five minutes: the project's own rule, judgement, no source."""

import uuid
from typing import Any

import pytest
from django.core.cache import cache
from django.core.exceptions import BadRequest
from django.test import RequestFactory

from accounts import proof
from accounts.errors import Refused
from accounts.models import User
from tests import make


@pytest.fixture
def user(db: None) -> User:
    return make.account()


def request_of(user: User, **fields: str) -> Any:
    request = RequestFactory().post("/", fields)
    request.user = user
    return request


def try_with(user: User, password: str) -> str:
    try:
        return proof.deed_with_password(request_of(user), password, at=make.FOUNDED).how
    except Refused as refused:
        return refused.code


def test_the_right_password_makes_a_deed(user: User) -> None:
    given = uuid.uuid4()

    deed = proof.deed_with_password(request_of(user, deed_id=str(given)), make.WORD, at=make.FOUNDED)

    assert (deed.by, deed.at, deed.how, deed.id) == (user, make.FOUNDED, "password", given)
    assert deed.auth == {"how": "password", "ref": user.ref}


def test_an_ordinary_deed_says_that_it_was_a_session(user: User) -> None:
    assert proof.deed(request_of(user), at=make.FOUNDED).auth == {"how": "session", "ref": user.ref}


@pytest.mark.parametrize("password", ["", "nine wet larche", "Nine Wet Larches", "nine wet larches "])
def test_anything_else_is_wrong(user: User, password: str) -> None:
    assert try_with(user, password) == "wrong-password"


def test_somebody_without_a_password_cannot_sign(user: User) -> None:
    user.set_unusable_password()

    assert try_with(user, make.WORD) == "wrong-password"
    assert try_with(user, "") == "wrong-password"


def test_after_five_wrong_ones_the_right_one_is_refused_too(user: User, clock: Any) -> None:
    assert [try_with(user, "wrong") for _ in range(6)] == ["wrong-password"] * 5 + ["too-many-tries"]

    clock.shift(299)
    assert try_with(user, make.WORD) == "too-many-tries"
    clock.shift(2)
    assert try_with(user, make.WORD) == "password"


def test_right_ones_do_not_count_and_do_not_forgive(user: User, clock: Any) -> None:
    assert [try_with(user, make.WORD) for _ in range(20)] == ["password"] * 20
    assert [try_with(user, "wrong") for _ in range(4)] == ["wrong-password"] * 4
    assert try_with(user, make.WORD) == "password"

    assert [try_with(user, "wrong") for _ in range(2)] == ["wrong-password", "too-many-tries"]


def test_each_person_is_counted_alone(user: User, clock: Any) -> None:
    for _ in range(6):
        try_with(user, "wrong")

    assert try_with(make.account(), make.WORD) == "password"


def test_the_count_is_kept_where_all_processes_see_it(settings: Any) -> None:
    assert settings.CACHES["default"]["BACKEND"] == "config.cache.SharedCache"
    assert cache._max_entries >= 100_000, "a small cache drops living entries by the alphabet"


def test_the_identity_of_a_deed_comes_with_the_form(user: User) -> None:
    given = uuid.uuid4()

    assert proof.deed_id_of(request_of(user, deed_id=str(given))) == given
    assert proof.deed_id_of(request_of(user)) != proof.deed_id_of(request_of(user))
    with pytest.raises(BadRequest):
        proof.deed_id_of(request_of(user, deed_id="7"))
