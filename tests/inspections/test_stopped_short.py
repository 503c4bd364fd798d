"""A ballast that stopped short of the landing is told as such, whatever its figures are: limits ask the other side.

That a light ballast which stops short raises the minimum is the rule of this project (its clearance, tested in
``tests/engineering/test_clearance_reasons.py``); that it is never told as a good ride is judgement, no source.
"""

from __future__ import annotations

import re
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from inspections.facts import line_statuses
from inspections.models import Ride
from inspections.riding import covered_weights, ride_row
from tests import make
from tests.inspections.pages import text, url

pytestmark = pytest.mark.usefixtures("clock")

RAISES = "Stopped short of the landing: today's weights begin above it."


def row_of(page: str, weight: str) -> str:
    """Return the list row of a page that names a ballast."""
    return next(one for one in re.findall(r"<li.*?</li>", page) if re.search(rf"\b{weight} kg", one))


@pytest.fixture
def short(w: SimpleNamespace) -> SimpleNamespace:
    """Everything signed, 115 and 60 kg arrived, and then 35 kg stopped short with figures well within the limits."""
    for where, name in make.sections(w, at=w.t(0)):
        make.sign(w, where, name, at=w.t(0))
    for one in w.lines:
        make.ride(w, one, mass="115", at=w.t(1))
    make.ride(w, w.line, mass="60", at=w.t(1))
    make.ride(w, w.line, mass="35", at=w.t(2), reached="no")
    return w


def test_its_limits_find_nothing_and_the_minimum_is_raised_all_the_same(short: SimpleNamespace) -> None:
    ride = Ride.objects.get(place=short.line, mass="35", day__date=short.at.date())
    assert ride.verdict == "ok"  # this is why the mark has to say more than the verdict
    assert (ride.stopped_short, ride.mark) == (True, ("watch", "Stopped short"))
    assert line_statuses(make.picture(short, short.t(3)))[0].clearance.limits.mass_min_kg == 60


def test_the_next_day_it_is_to_be_sent_again_and_counts_until_then(short: SimpleNamespace) -> None:
    def due(at: Any) -> tuple[str, ...]:
        return ride_row(make.picture(short, at), short.line).due

    assert due(short.t(3)) == ()  # sent today: the day's weights begin above it
    morning = short.t(24 * 60)
    assert due(morning) == ("35",)
    for where, name in make.sections(short, at=morning):
        make.sign(short, where, name, at=morning)
    make.ride(short, short.line, mass="115", at=morning)
    found = line_statuses(make.picture(short, morning + timedelta(minutes=5)))[0].clearance
    assert found.limits.mass_min_kg == 60
    make.ride(short, short.line, mass="35", at=morning + timedelta(minutes=10))
    assert due(morning + timedelta(minutes=11)) == ()
    found = line_statuses(make.picture(short, morning + timedelta(minutes=11)))[0].clearance
    assert found.limits.mass_min_kg == 35


@pytest.mark.parametrize(
    ("fields", "verdict", "voided", "mark"),
    [
        ({"reached": "yes"}, "ok", None, ("ok", "")),
        ({"reached": "yes"}, "watch", None, ("watch", "")),
        ({"reached": "no"}, "watch", None, ("watch", "Stopped short")),
        ({"reached": "no"}, "withdraw", None, ("withdraw", "")),  # what is worse comes first; the words stand beside it
        ({"reached": "no"}, "unknown", None, ("unknown", "")),
        ({"reached": "no"}, "ok", 7, ("unknown", "Does not count any more")),
        ({}, "ok", None, ("ok", "")),  # before it was asked
    ],
)
def test_mark_of_a_ride(fields: dict[str, str], verdict: str, voided: int | None, mark: tuple[str, str]) -> None:
    assert Ride(fields=fields, verdict=verdict, voided_by=voided).mark == mark


def test_ride_page_and_line_page_say_so_with_what_follows(short: SimpleNamespace, as_: Any) -> None:
    for name in ("ride", "line"):
        page = text(as_("technician").get(url(short, name, short.line.pk))).replace("&#x27;", "'")
        row = row_of(page, "35")
        assert RAISES in row
        assert "Stopped short</span>" in row
        assert "is-ok" not in row
        assert "is-ok" in row_of(page, "115")


def test_walk_says_so_for_the_line(short: SimpleNamespace, as_: Any) -> None:
    row = ride_row(make.picture(short, short.t(3)), short.line)
    assert (row.state, row.has_stopped_short) == ("ok", True)
    page = text(as_("technician").get(url(short, "walk")))
    shown = next(one for one in re.findall(r"<li.*?</li>", page) if "stopped short" in one)
    assert f"/ride/{short.line.pk}/" in shown
    assert "Stopped short</span>" in shown
    assert "is-ok" not in shown


def test_on_a_later_day_it_is_told_as_long_as_it_counts(short: SimpleNamespace, as_: Any, clock: Any) -> None:
    clock.move_to(short.t(24 * 60))
    client = as_("technician")

    def rows() -> list[str]:
        pages = (text(client.get(url(short, name, short.line.pk))) for name in ("line", "ride"))
        return [row_of(page.replace("&#x27;", "'"), "35") for page in pages]

    for row in rows():
        assert "Stopped short of the landing: weights begin above it until a ballast no heavier arrives." in row
        assert RAISES not in row
        assert "Stopped short</span>" in row
    make.ride(short, short.line, mass="34", at=short.t(24 * 60))
    assert all("Stopped short of the landing.</" in row for row in rows())


def test_what_is_due_is_what_the_band_needs(short: SimpleNamespace) -> None:
    """One somewhat heavier than the posted minimum stops short after that one arrived: the band begins above it."""
    day, later = 24 * 60, 2 * 24 * 60
    make.ride(short, short.line, mass="35", at=short.t(day))
    make.ride(short, short.line, mass="40", at=short.t(day + 5), reached="no")
    for where, name in make.sections(short, at=short.t(later)):
        make.sign(short, where, name, at=short.t(later))
    make.ride(short, short.line, mass="115", at=short.t(later))
    now = make.picture(short, short.t(later + 1))
    assert line_statuses(now)[0].clearance.limits.mass_min_kg == 60
    assert ride_row(now, short.line).due == ("35",)
    assert covered_weights(now, short.line) == ["60", "115"]
