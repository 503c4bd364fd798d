"""What two people do in the same instant, each with a connection of their own."""

import threading
from collections.abc import Callable
from typing import Any
from unittest import mock

import pytest
from django.db import connection
from django.test import RequestFactory

from accounts import actions, proof
from accounts.errors import Refused
from accounts.models import Role, User
from tests import make

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*deeds: Callable[[], Any]) -> list[str]:
    """Do all deeds at the same time; return for each "done" or the code of the refusal, sorted."""
    gate, answers = threading.Barrier(len(deeds)), []

    def run(do: Callable[[], Any]) -> None:
        try:
            gate.wait(timeout=20)
            do()
            answers.append("done")
        except Refused as refused:
            answers.append(refused.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=[do]) for do in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return sorted(answers)


def test_two_managers_cannot_take_each_others_role() -> None:
    operator = make.operator()
    first, second = make.founder_of(operator), make.person(operator, "manager", name="Ivo Nord")

    def take(by: User, whose: User) -> Callable[[], Any]:
        by, whose = User.objects.get(pk=by.pk), User.objects.get(pk=whose.pk)
        return lambda: actions.take_role(operator, whose, "manager", deed=make.deed(by))

    answers = at_once(take(first, second), take(second, first))

    assert answers == ["done", "no-right"]
    assert Role.objects.filter(kind="manager", until__isnull=True).count() == 1


def test_guesses_sent_at_once_are_counted_all_the_same() -> None:
    user = make.account()
    looked_at: list[str] = []

    def guess(number: int) -> Callable[[], Any]:
        request = RequestFactory().post("/")
        request.user = User.objects.get(pk=user.pk)
        return lambda: proof.deed_with_password(request, f"guess {number}", at=make.FOUNDED)

    with mock.patch.object(User, "check_password", lambda self, word: looked_at.append(word) or False):
        answers = at_once(*[guess(number) for number in range(12)])

    assert answers == ["too-many-tries"] * 7 + ["wrong-password"] * 5
    assert len(looked_at) == 5
