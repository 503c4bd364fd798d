"""A course with one line and one person in each role, and a way to say that a refusal changed nothing."""

import contextlib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.test import Client

from accounts.models import Operator, User
from courses.errors import Refused
from courses.models import Component, Course, Place, Placement, StoredFile, Version
from ledger.models import Disclosure, Entry
from tests import make
from tests.courses import build


@pytest.fixture
def operator(db: None) -> Operator:
    return make.operator()


@pytest.fixture
def staff(operator: Operator) -> dict[str, User]:
    return make.staff(operator)


@pytest.fixture
def course(operator: Operator) -> Course:
    return make.course(operator, law_place="US-FL")


@pytest.fixture
def line(course: Course) -> Place:
    return make.line(course)


@pytest.fixture
def complete(course: Course, line: Place, staff: dict[str, User]) -> Place:
    """The line with everything entered that clearing it needs."""
    build.complete_line(course, line, staff)
    return line


@pytest.fixture
def as_(clock: Any, staff: dict[str, User]) -> Callable[[str], Client]:
    """``as_("engineer")`` is a browser in which that person is logged in, on the tests' morning."""

    def log_in(role: str) -> Client:
        client = Client()
        client.force_login(staff[role])
        return client

    return log_in


def _everything() -> list[list[Any]]:
    models = (Course, Place, Component, Placement, Version, StoredFile, Entry, Disclosure)
    return [list(model.objects.order_by("pk").values_list()) for model in models]


@pytest.fixture
def refused() -> Callable[[str], contextlib.AbstractContextManager[None]]:
    """``with refused("code"): …`` asserts the refusal, and that no row of set-up or history is other than before."""

    @contextlib.contextmanager
    def check(code: str) -> Iterator[None]:
        before = _everything()
        with pytest.raises(Refused) as caught:
            yield
        assert caught.value.code == code
        assert caught.value.sentence.endswith(".")
        assert _everything() == before

    return check
