"""What an engineer demands for reopening after a hold: with a source, by a second person, never below the floor.

Thirty minutes after the last thunder: R-501, READ-2. The other floors are the judgement of the service's makers.
"""

from __future__ import annotations

from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from accounts.errors import Refused
from courses import documents
from courses.tightening import tightens
from inspections import actions
from inspections.facts import line_statuses
from inspections.models import Hold
from inspections.picture import picture_of
from tests import make

MORE = {"gust_minutes": "15", "thunder_minutes": "45", "look": ["gust"], "ride": ["thunder"]}


@pytest.fixture
def stricter(w: SimpleNamespace) -> SimpleNamespace:
    """The course with more demanded since the day before, and the morning done and open at minute 10."""
    make.settle(w, "reopening", MORE, at=w.at - timedelta(days=2))
    make.inspect(w, at=w.t(5))
    make.open_lines(w, at=w.t(10))
    return w


def call(w: SimpleNamespace, cause: str) -> Hold:
    entry = actions.call_hold(make.picture(w, w.t(20)), None, cause=cause, deed=make.deed(w.technician, at=w.t(20)))
    return Hold.objects.get(seq=entry.seq, course=w.course)


def lift(w: SimpleNamespace, hold: Hold, at: float, **given: str) -> None:
    when = w.t(at)
    actions.lift_hold(make.picture(w, when), hold, given=given, deed=make.deed(w.technician, at=when))


def test_the_longer_wait_counts_and_is_said_on_the_board(stricter: SimpleNamespace) -> None:
    w = stricter
    hold = call(w, "thunder")

    for minute in (50, 64.9):  # the floor's half hour is over
        with pytest.raises(Refused) as caught:
            lift(w, hold, minute, looked="yes")
        assert caught.value.code == "too-soon"
    reasons = line_statuses(make.picture(w, w.t(50)))[0].clearance.reasons
    assert "Thunder: 15 minutes of 45 are left." in {one.sentence for one in reasons}
    lift(w, hold, 65, looked="yes")


def test_a_look_that_is_demanded_besides_is_asked(stricter: SimpleNamespace) -> None:
    w = stricter
    hold = call(w, "gust")

    with pytest.raises(Refused) as caught:
        lift(w, hold, 36, wind="2")
    assert caught.value.code == "look-needed"
    lift(w, hold, 36, wind="2", looked="yes")


def test_a_ride_that_is_demanded_besides_is_missing_after_the_hold(stricter: SimpleNamespace) -> None:
    w = stricter
    lift(w, call(w, "thunder"), 65, looked="yes")

    assert [one.word for one in line_statuses(make.picture(w, w.t(66)))] == ["held", "held"]
    for line in w.lines:
        for mass in ("35", "115"):
            make.ride(w, line, mass=mass, at=w.t(70))
    assert {one.word for one in line_statuses(make.picture(w, w.t(71)))} == {"ready"}


def test_it_counts_from_the_next_operating_day_after_a_second_person(w: SimpleNamespace) -> None:
    version = make.settle(w, "reopening", MORE, at=w.t(1))

    assert version.confirmed_by == w.manager
    assert make.picture(w, w.t(5)).setup.reopening == {}
    assert picture_of(w.course, at=w.t(24 * 60)).setup.reopening == MORE


def test_what_makes_it_stricter_counts_at_once(w: SimpleNamespace) -> None:
    make.settle(w, "reopening", MORE, at=w.at - timedelta(days=2))
    make.settle(w, "reopening", {**MORE, "thunder_minutes": "60"}, at=w.t(1))

    assert make.picture(w, w.t(2)).setup.reopening["thunder_minutes"] == "60"


@pytest.mark.parametrize(
    "changed", [{"thunder_minutes": "44"}, {"gust_minutes": "14"}, {"look": []}, {"ride": ["gust"]}]
)
def test_what_asks_for_less_is_no_tightening(changed: dict[str, Any]) -> None:
    assert not tightens("reopening", MORE, {**MORE, **changed})
    assert not tightens("reopening", None, MORE)
    less = {name: value for name, value in MORE.items() if name not in changed}
    assert not tightens("reopening", MORE, less)


@pytest.mark.parametrize(
    "content", [{"thunder_minutes": "29"}, {"gust_minutes": "9"}, {"look": ["thunder"]}, {"storm_minutes": "1"}]
)
def test_nothing_below_the_floor_or_unknown_is_taken(content: dict[str, Any]) -> None:
    with pytest.raises(Refused):
        documents.clean("reopening", content)


def test_the_engineer_proposes_it_on_a_page_and_the_hold_page_says_it(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    clock.move_to(w.at - timedelta(days=2))
    engineer: Client = as_("engineer")
    page = reverse("courses:reopening_edit", args=[w.course.pk])
    sent = {"gust_minutes": "10", "thunder_minutes": "40", "look": ["gust"], "source": "Course manual, page 12"}

    shown = engineer.post(page, sent).content.decode()
    seen = shown.split('name="seen" value="')[1].split('"')[0]
    answer = engineer.post(page, {**sent, "seen": seen})

    assert answer.status_code == 302
    version = make.course_actions.confirm(
        w.course.versions.get(kind="reopening"), deed=make.deed(w.manager, at=w.at - timedelta(days=2))
    )
    assert version.content == {"gust_minutes": "10", "thunder_minutes": "40", "look": ["gust"]}
    clock.move_to(w.t(20))
    html = as_("technician").get(reverse("inspections:hold", args=[w.course.pk])).content.decode()
    assert "40 minutes since the last thunder or lightning." in html
    told = as_("technician").get(reverse("courses:reopening", args=[w.course.pk])).content.decode()
    assert "40" in told
