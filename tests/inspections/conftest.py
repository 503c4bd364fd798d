"""A course that is ready to be inspected, built once for each file and brought back after each test."""

import contextlib
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from accounts.errors import Refused
from accounts.models import User
from inspections import models
from inspections.facts import LineStatus, line_statuses
from inspections.rebuild import PROJECTED
from ledger.models import Disclosure, Entry
from tests import make
from tests.inspections.alone import hold as hold
from tests.inspections.alone import own_phone as own_phone
from tests.inspections.control_season import nothing_kept as nothing_kept
from tests.inspections.control_season import twenty_mornings as twenty_mornings


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any, morning: datetime) -> Iterator[SimpleNamespace]:
    # The fixtures below run within this transaction as long as no test of the file has begun.
    with django_db_blocker.unblock(), transaction.atomic():
        yield make.ready(lines=2, on=morning)
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def morning_done(built: SimpleNamespace) -> SimpleNamespace:
    """The same course, everything signed and ridden at minute 5; for files in which every test starts from there."""
    make.inspect(built, at=built.at + timedelta(minutes=5))
    return built


@pytest.fixture(scope="module")
def day_open(morning_done: SimpleNamespace) -> SimpleNamespace:
    """The same, both lines opened by the manager at minute 10."""
    make.open_lines(morning_done, at=morning_done.at + timedelta(minutes=10))
    return morning_done


@pytest.fixture
def w(built: SimpleNamespace, db: None) -> SimpleNamespace:
    """The course of ``make.ready`` with two lines; ``w.t(minutes)`` is an instant of its morning."""
    w = SimpleNamespace(**vars(built))
    w.t = lambda minutes=0, seconds=0: w.at + timedelta(minutes=minutes, seconds=seconds)
    return w


@pytest.fixture
def status(w: SimpleNamespace) -> Callable[..., LineStatus]:
    """``status(minutes, line)`` is what is shown of a line then; line 1 unless another is given."""

    def look(minutes: float, number: int = 1) -> LineStatus:
        return line_statuses(make.picture(w, w.t(minutes)))[number - 1]

    return look


@pytest.fixture
def as_(w: SimpleNamespace) -> Any:
    def log_in(role: str) -> Client:
        client = Client()
        client.force_login(w.people[role])
        return client

    return log_in


def codes(status: LineStatus) -> set[str]:
    return {reason.code for reason in status.clearance.reasons}


def _everything() -> list[list[Any]]:
    found = [list(getattr(models, name).objects.order_by("pk").values_list()) for name in PROJECTED]
    return [*found, list(Entry.objects.order_by("log", "seq").values_list("seq", "data"))]


@pytest.fixture
def refused() -> Callable[..., contextlib.AbstractContextManager[None]]:
    """``with refused("code"): …`` asserts the refusal, and that neither history nor tables are other than before."""

    @contextlib.contextmanager
    def check(code: str, kind: type[Exception] = Refused) -> Iterator[None]:
        before, notes = _everything(), Disclosure.objects.count()
        with pytest.raises(kind) as caught:
            yield
        assert caught.value.code == code
        assert getattr(caught.value, "sentence", str(caught.value)).endswith(".")
        assert _everything() == before
        assert Disclosure.objects.count() == notes

    return check


def authorise(w: SimpleNamespace, person: User, subject: str) -> None:
    founder = make.deed(make.founder_of(w.operator))
    make.people_actions.authorise(w.operator, person, subject, (w.at + timedelta(days=9)).date(), deed=founder)
