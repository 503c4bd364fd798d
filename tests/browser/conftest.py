"""A course of one line on the tests' morning, with a clock that runs: a browser waits for answers."""

from collections.abc import Iterator
from datetime import datetime
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine

from tests import make
from tests.browser.spoiled import SpoiledNetwork


@pytest.fixture
def w(transactional_db: None, morning: datetime) -> Iterator[SimpleNamespace]:
    """The course of ``make.ready`` with one line; nothing is inspected yet and the manager has signed nothing.

    The session's cookie is given with its age, which a browser counts by its own clock, so that the log-in holds.
    """
    with time_machine.travel(morning, tick=True) as traveller:
        w = make.ready(lines=1, on=morning)
        w.clock = traveller
        yield w


@pytest.fixture
def net(live_server: Any) -> Iterator[SpoiledNetwork]:
    """A network in front of the live server, that a test can spoil.

    Open the window at it: ``open_window({**PHONE, "base_url": net.url})``.
    """
    network = SpoiledNetwork(live_server.url)
    yield network
    network.stop()
