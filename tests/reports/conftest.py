"""A course of two lines on the morning of ``morning``, built once for each file and brought back after each test."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction
from django.test import Client

from tests import make
from tests.inspections.control_season import nothing_kept as nothing_kept
from tests.inspections.control_season import twenty_mornings as twenty_mornings


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any, morning: datetime) -> Iterator[SimpleNamespace]:
    """Everything signed and ridden at minute 5; the manager has not signed yet. Opens at minute 120."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield make.inspected(lines=2, on=morning)
        transaction.set_rollback(True)


@pytest.fixture
def w(built: SimpleNamespace, db: None, clock: Any) -> SimpleNamespace:
    """``w.t(minutes)`` is an instant of the morning; ``w.on`` its date; the clock stands at minute 20."""
    w = SimpleNamespace(**vars(built))
    w.t = lambda minutes=0: w.at + timedelta(minutes=minutes)
    w.on = w.at.date()
    w.clock = clock
    clock.move_to(w.t(20))
    return w


@pytest.fixture
def as_one(w: SimpleNamespace) -> Any:
    """``as_one("auditor")`` is a browser in which that person is logged in."""

    def log_in(role: str) -> Client:
        client = Client()
        client.force_login(getattr(w, role))
        return client

    return log_in
