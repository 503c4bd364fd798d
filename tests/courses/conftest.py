"""A course with one line and one person in each role, and a way to say that a refusal changed nothing."""

import contextlib
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client

from accounts.models import Operator, User
from courses.errors import Refused
from courses.models import Component, Course, Place, Placement, StoredFile, Version
from ledger.models import Disclosure, Entry
from tests import make
from tests.courses.build import complete_line
from tests.worlds import world

PARTS = {"operator", "course", "line", "staff", "complete"}


@pytest.fixture
def built(db: None, request: pytest.FixtureRequest) -> SimpleNamespace:
    """Those parts of the course that a test asks for, and no others."""
    asked = frozenset(PARTS & set(request.fixturenames))

    def build() -> SimpleNamespace:
        w = SimpleNamespace(operator=make.operator())
        if "staff" in asked:
            w.staff = make.staff(w.operator)
        if "course" in asked:
            w.course = make.course(w.operator, law_place="US-FL")
        if "line" in asked:
            w.line = make.line(w.course)
        if "complete" in asked:
            complete_line(w.course, w.line, w.staff)
        return w

    return world(("courses", asked), build)


@pytest.fixture
def operator(built: SimpleNamespace) -> Operator:
    return built.operator  # type: ignore[no-any-return]


@pytest.fixture
def staff(built: SimpleNamespace, operator: Operator) -> dict[str, User]:
    return built.staff  # type: ignore[no-any-return]


@pytest.fixture
def course(built: SimpleNamespace, operator: Operator) -> Course:
    return built.course  # type: ignore[no-any-return]


@pytest.fixture
def line(built: SimpleNamespace, course: Course) -> Place:
    return built.line  # type: ignore[no-any-return]


@pytest.fixture
def complete(line: Place, staff: dict[str, User]) -> Place:
    """The line with everything entered that clearing it needs."""
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
