"""A course of one line on the tests' morning, with a clock that runs: a browser waits for answers."""

from collections.abc import Iterator
from datetime import datetime
from types import SimpleNamespace

import pytest
import time_machine

from tests import make


@pytest.fixture
def w(transactional_db: None, morning: datetime) -> Iterator[SimpleNamespace]:
    """The course of ``make.ready`` with one line; nothing is inspected yet and the manager has signed nothing.

    The session's cookie is given with its age, which a browser counts by its own clock, so that the log-in holds.
    """
    with time_machine.travel(morning, tick=True) as traveller:
        w = make.ready(lines=1, on=morning)
        w.clock = traveller
        yield w
