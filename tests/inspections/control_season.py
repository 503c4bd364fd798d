"""Mornings on which a line is ridden with the heavy ballast, for the tests of its charts.

The fixtures are for every folder that has a course ``built`` of its own; its conftest takes them in.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction

from engineering.control_residual import STROKE, MorningRide
from inspections.control import basis_of, expectations
from inspections.control_record import charts_of, forget
from inspections.demo.mechanics import MECHANICS
from inspections.models import Ride
from tests import make
from tests.engineering.control_rides import FORTNIGHT

WIND = ("head", "1.0")
SCATTER_M = [0.2 * one for one in FORTNIGHT]  # how the twenty mornings lie about what is expected, in m


def settled(w: SimpleNamespace, **changes: Any) -> None:
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]) | changes, place=w.line)


def expected_m(w: SimpleNamespace, at: Any, *, air_c: float = 12.0) -> float:
    """Return the brake travel that the mechanics expect of the heavy ballast in the wind of these mornings."""
    now = make.picture(w, at)
    basis = basis_of(now.setup, now.setup.places[w.line.pk])
    assert basis is not None
    ride = MorningRide(at, 2.0, 115.0, float(WIND[1]), air_c)
    found = expectations(basis, [ride])[0].figures[STROKE]
    assert isinstance(found, float)
    return found


def ridden(w: SimpleNamespace, by_m: float, *, day: int, minutes: int = 0, **more: Any) -> Ride:
    """Ride so many days after the first morning, the brake travel longer by ``by_m`` than expected."""
    at = w.at + timedelta(days=day, minutes=minutes)
    travel = f"{expected_m(w, at) + by_m:.3f}"
    given = {"air": "12", "wind": WIND[1], "wind_from": WIND[0], **more}
    entry = make.ride(w, w.line, at=at, figures={"stroke.used": travel}, **given)
    return Ride.objects.get(day__course=w.course, seq=entry.seq)


def twenty(w: SimpleNamespace) -> list[Ride]:
    return [ridden(w, by_m, day=day) for day, by_m in enumerate(SCATTER_M)]


def chart(w: SimpleNamespace, *, day: int, minutes: int = 60) -> Any:
    """Return the chart of the brake travel as asked for on a morning."""
    now = make.picture(w, w.at + timedelta(days=day, minutes=minutes))
    return charts_of(now.setup, [now.setup.places[w.line.pk]])[w.line.pk][STROKE]


@pytest.fixture(scope="module")
def twenty_mornings(built: SimpleNamespace) -> Iterator[list[Ride]]:
    """Give the course of the file's tests mechanics on its first line, and twenty good mornings of it."""
    with transaction.atomic():
        settled(built)
        built.rides = twenty(built)
        yield built.rides
        transaction.set_rollback(True)


@pytest.fixture
def nothing_kept() -> None:
    """Each test begins from the same history: what another one kept is not of it."""
    forget()
