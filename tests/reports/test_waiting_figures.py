"""Figures of a line that are proposed, or confirmed for a later day: named everywhere, computed with where it advises.

That a confirmed change counts from the next operating day, and that nothing a day goes by reads it before, are the
course's own rules (judgement). The tension of the return wave: three returns in 15.07 s over 300 m of 1.05 kg/m are
15.0 kN (mechanics dossier, COMPUTED).
"""

from __future__ import annotations

import re
from copy import deepcopy
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import strip_tags

from courses import actions
from courses.advised import advised, advised_setup
from courses.models import Version
from courses.queries import setup_at, versions_in_force
from inspections.band import today_of
from inspections.control import basis_of
from inspections.demo.mechanics import MECHANICS
from tests import make

PROPOSED = "Proposed, waits for a second person"
CONFIRMED = "Confirmed, counts from 16 June"
MIND = "These figures are not in force yet."


def propose(w: SimpleNamespace, **changes: Any) -> Version:
    return actions.propose(
        w.course, "mechanics", deepcopy(MECHANICS[2]) | changes, source="Calculation 7", place=w.line,
        deed=make.deed(w.engineer, at=w.t(6)),
    )  # fmt: skip


def confirm(w: SimpleNamespace, version: Version) -> Version:
    return actions.confirm(version, deed=make.deed(w.manager, at=w.t(7)))


@pytest.fixture
def waits(w: SimpleNamespace) -> Version:
    return propose(w)


def page(w: SimpleNamespace, as_one: Any, name: str, role: str = "engineer", **asked: Any) -> str:
    answer = as_one(role).get(reverse(name, args=[w.course.pk, w.line.pk]), asked)
    assert answer.status_code == 200
    return answer.content.decode()  # type: ignore[no-any-return]


def said(html: str) -> str:
    return re.sub(r"\s+", " ", strip_tags(html[html.index("<main") :]))


PAGES = [
    "inspections:line", "courses:mechanics", "reports:rides", "inspections:stopwatch", "reports:calibration",
    "reports:mechanics",
]  # fmt: skip


@pytest.mark.parametrize("name", PAGES)
def test_each_page_says_how_far_the_figures_have_come_and_leads_to_them(
    w: SimpleNamespace, as_one: Any, waits: Version, name: str
) -> None:
    version = reverse("courses:proposal", args=[w.course.pk, waits.pk])
    role = "manager" if name == "reports:rides" else "engineer"

    before = page(w, as_one, name, role)
    confirm(w, waits)
    after = page(w, as_one, name, role)

    assert PROPOSED in said(before)
    assert CONFIRMED in said(after)
    for html in (before, after):
        assert f'href="{version}"' in html
        assert not re.search(r"mechanics[^.]* not entered|Nothing is entered", said(html))


@pytest.mark.parametrize("name", ["inspections:stopwatch", "reports:calibration", "reports:mechanics"])
def test_where_it_only_advises_it_is_computed_and_said_to_be_a_look_ahead(
    w: SimpleNamespace, as_one: Any, waits: Version, name: str
) -> None:
    assert MIND in said(page(w, as_one, name))
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
    assert MIND not in said(page(w, as_one, name))


def test_the_return_wave_tells_a_tension_by_figures_that_wait(w: SimpleNamespace, as_one: Any) -> None:
    propose(w, span_m="300", cable={**MECHANICS[2]["cable"], "mass_kg_per_m": "1.05"})
    line = {**make.picture(w, w.t(6)).setup.document(w.line), "length_m": "300.5", "drop_m": "18"}
    make.settle(w, "line", line, place=w.line)

    text = said(page(w, as_one, "inspections:stopwatch", returns="3", time="15.07"))

    assert "15.01 kN" in text
    assert "No tension" not in text


def test_a_ride_is_computed_by_figures_that_wait_but_no_band(w: SimpleNamespace, as_one: Any, waits: Version) -> None:
    asked = {"weight": "90", "wind": "-1.5", "air": "18", "launch": "1", "brakes": "new"}
    ahead = page(w, as_one, "reports:mechanics", **asked)
    again = page(w, as_one, "reports:mechanics", part="all", **asked)
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
    now = page(w, as_one, "reports:mechanics", **asked)

    def speed(html: str) -> str:
        return re.search(r"Arrival speed ?([\d.]+) ?m/s", re.sub(r"\s+", " ", strip_tags(html)))[1]  # type: ignore[index]

    assert speed(ahead) == speed(again) == speed(now)  # the same figures, in force or not
    for html in (ahead, again):
        assert "The band of weights and winds is computed once these figures are in force." in html
        assert "It holds for every arrangement" not in html
        assert "Planning aid: not a design approval" in html
    assert "It holds for every arrangement" in now
    assert "once these figures are in force" not in now


def test_nothing_a_day_goes_by_reads_them(w: SimpleNamespace, as_one: Any, waits: Version) -> None:
    """The band, the charts and what is in force know nothing of a version that has not begun."""
    confirm(w, waits)
    picture = make.picture(w, w.t(20))

    assert today_of(picture, w.line) is None
    assert basis_of(picture.setup, w.line) is None
    assert picture.setup.mechanics(w.line) == {}
    board = as_one("manager").get(reverse("inspections:board", args=[w.course.pk])).content.decode()
    assert "Computed for" not in board


def test_what_is_in_force_goes_before_what_waits_and_takes_no_query(w: SimpleNamespace) -> None:
    settled = make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
    propose(w, tension_kn="11.5")
    setup = setup_at(w.course, w.t(20))

    with CaptureQueriesContext(connection) as queries:
        found, waiting = advised_setup(setup, w.line)

    assert len(queries) == 0
    assert (waiting, found.version("mechanics", w.line.pk)) == ((), settled)


def test_a_version_that_was_turned_down_is_not_computed_with(w: SimpleNamespace, waits: Version) -> None:
    actions.refuse(waits, why="Wrong line.", deed=make.deed(w.manager, at=w.t(7)))

    found = advised(versions_in_force(w.course, w.t(20)), w.line)

    assert found.waiting == ()
    assert found.version("mechanics", w.line) is None


def test_the_set_up_that_advises_leaves_the_one_in_force_as_it_was(w: SimpleNamespace, waits: Version) -> None:
    setup = setup_at(w.course, w.t(20))
    fitted = [one.component for one in setup.at_slot(w.line, "primary-1")]

    made, waiting = advised_setup(setup, w.line)

    assert waiting == (waits,)
    assert made.mechanics(w.line) == waits.content
    assert setup.mechanics(w.line) == {}
    for one in (setup, made):
        assert [each.component for each in one.at_slot(w.line, "primary-1")] == fitted


# --- the steps, and the arrival speed that a calibration needs


def steps(w: SimpleNamespace, as_one: Any) -> list[tuple[str, bool]]:
    found = as_one("engineer").get(reverse("courses:mechanics", args=[w.course.pk, w.line.pk])).context["steps"]
    return [(step.words, step.is_done) for step in found]


ORDER = ["Line data", "Mechanics", "Second person", "Return wave", "Ballasts", "Calibrate", "Second person"]


def test_the_steps_stand_in_order_and_are_ticked_as_they_are_done(w: SimpleNamespace, as_one: Any) -> None:
    def done() -> str:
        found = steps(w, as_one)
        assert [words for words, _done in found] == ORDER
        return "".join("x" if is_done else "." for _words, is_done in found)

    assert done() == "x......"
    waits = propose(w, tension_how="designer")
    assert done() == "xx....."
    confirm(w, waits)
    assert done() == "xxx...."
    again = propose(w, tension_how="stopwatch")
    assert done() == "xxxx..."
    calibration = {"rides": "6", "least_kg": "35", "most_kg": "115", "interval_mps": "0.4", "on": "2026-06-15"}
    confirm(w, again)
    last = propose(w, calibration=calibration)
    assert done() == "xxxx.x."
    confirm(w, last)
    assert done() == "xxxx.xx"


def test_six_ballasts_with_an_arrival_speed_tick_their_step(w: SimpleNamespace, as_one: Any) -> None:
    for n, ride in enumerate(w.line.rides.order_by("seq")):
        w.line.rides.filter(pk=ride.pk).update(speed="8.1" if n else "")
    there = w.line.rides.exclude(speed="").count()
    for n in range(6 - there):
        make.ride(w, w.line, at=w.t(8 + n))
    w.line.rides.filter(speed="").exclude(pk=w.line.rides.order_by("seq")[0].pk).update(speed="8.2")

    assert dict(steps(w, as_one))["Ballasts"]
    one = w.line.rides.exclude(speed="").order_by("seq").last()
    for more in w.line.rides.exclude(speed="").order_by("seq")[5:]:
        w.line.rides.filter(pk=more.pk).update(speed="")
    assert one is not None
    assert not dict(steps(w, as_one))["Ballasts"]


def test_calibration_says_how_the_arrival_speed_comes_into_the_checklist(
    w: SimpleNamespace, as_one: Any, waits: Version
) -> None:
    confirm(w, waits)
    html = page(w, as_one, "reports:calibration")
    assert "“Instrument for the arrival speed”" in said(html)
    assert f'href="{reverse("courses:place_edit", args=[w.course.pk, w.line.pk])}"' in html

    setup = make.picture(w, w.t(6)).setup
    make.settle(w, "line", {**setup.document(w.line), "speed_instrument": "radar"}, at=w.t(8), place=w.line)
    html = page(w, as_one, "reports:calibration")
    edit = reverse("courses:checklist_edit", args=[w.course.pk, w.line.pk])
    assert "although an instrument is entered" in said(html)
    assert f'href="{edit}"' in html

    form = as_one("engineer").get(edit).context["form"]
    (added,) = [one for one in form.lacking if one["measures"] == "arrival.speed"]  # that is where it stands
    checklist = setup.checklist(w.line).content
    version = actions.propose(
        w.course, "checklist", {**checklist, "items": [*checklist["items"], added]}, source="Radar", place=w.line,
        from_next_day=True, deed=make.deed(w.engineer, at=w.t(9)),
    )  # fmt: skip
    html = page(w, as_one, "reports:calibration")
    assert "The checklist will ask for the arrival speed. Confirmed, counts from 16 June." in said(html)
    assert reverse("courses:proposal", args=[w.course.pk, version.pk]) in html
