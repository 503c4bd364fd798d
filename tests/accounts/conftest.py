"""An operator with one person in each role, and a way to say that a refusal changed nothing."""

import contextlib
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from accounts.errors import Refused
from accounts.models import Authorisation, Operator, Role, User
from ledger.models import Disclosure, Entry
from tests import make


@pytest.fixture
def operator(db: None) -> Operator:
    return make.operator()


@pytest.fixture
def staff(operator: Operator) -> dict[str, User]:
    return make.staff(operator)


def _everything() -> list[list[Any]]:
    return [
        list(model.objects.order_by("pk").values_list())
        for model in (User, Operator, Role, Authorisation, Entry, Disclosure)
    ]


@pytest.fixture
def refused() -> Callable[[str], contextlib.AbstractContextManager[None]]:
    """``with refused("code"): …`` asserts the refusal, and that no row of people or history is other than before."""

    @contextlib.contextmanager
    def check(code: str) -> Iterator[None]:
        before = _everything()
        with pytest.raises(Refused) as caught:
            yield
        assert caught.value.code == code
        assert caught.value.sentence.endswith(".")
        assert _everything() == before

    return check
