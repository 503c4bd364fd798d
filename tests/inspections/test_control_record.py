"""The charts of a line over its mornings: baseline, alarm, watch, look, service; what they never do to a line.

Baseline and its sigma: twenty mornings, mean moving range over 1.128 (NIST/SEMATECH e-Handbook 6.3.2.2, READ
second-hand). That an alarm opens one watch and holds nothing is the course's own rule.
"""

from __future__ import annotations

import itertools
from datetime import timedelta
from statistics import fmean
from types import SimpleNamespace
from typing import Any

import pytest

from engineering.control_residual import STROKE
from inspections import actions
from inspections.control_record import airs_for, charts_of, rides_of
from inspections.control_words import said_of
from inspections.facts import line_statuses
from inspections.judging import Answer
from inspections.models import Finding, Reading
from inspections.rebuild import chain_faults, projection_faults
from tests import make
from tests.inspections.control_season import SCATTER_M, chart, expected_m, ridden, settled

JUMP_M = 0.6  # twelve sigmas, and far from any limit of the brake
STATISTICS = ("sigma", "residual", "baseline", "control limit", "deviation", "cusum", "mean", "chart")

pytestmark = pytest.mark.usefixtures("twenty_mornings", "nothing_kept")


def watches(w: SimpleNamespace) -> list[Finding]:
    return list(Finding.objects.filter(course=w.course, key="chart@stroke").order_by("seq"))


def status(w: SimpleNamespace, day: int) -> Any:
    return line_statuses(make.picture(w, w.at + timedelta(days=day, minutes=60)))[0].clearance


def test_twenty_mornings_are_the_baseline_and_it_stands_in_the_entries(w: SimpleNamespace) -> None:
    kept = [ride.control["charts"][0] for ride in w.rides]
    assert kept[0]["status"]["code"] == "baseline-short"
    assert all("baseline" not in one for one in kept[:19])
    assert kept[19]["status"]["code"] == "baseline-complete"
    baseline = kept[19]["baseline"]
    assert baseline["count"] == 20
    # The travels were typed with three decimals.
    assert float(baseline["centre"]) == pytest.approx(fmean(SCATTER_M), abs=1e-3)
    ranges = [abs(later - earlier) for earlier, later in itertools.pairwise(SCATTER_M)]
    assert float(baseline["sigma"]) == pytest.approx(fmean(ranges) / 1.128, abs=1e-3)
    after = ridden(w, 0.0, day=20).control["charts"][0]
    assert after["status"]["code"] == "in-control"
    assert after["baseline"] == baseline
    assert float(after["measured"]) - float(after["expected"]) == pytest.approx(0.0, abs=1e-3)


def test_a_frozen_baseline_outlives_what_becomes_of_its_rides(w: SimpleNamespace) -> None:
    before = chart(w, day=19).control.baseline
    type(w.rides[0]).objects.filter(pk=w.rides[3].pk).update(stroke_used="9.9")  # behind the history's back
    ridden(w, 0.0, day=20)
    after = chart(w, day=20).control
    assert after.baseline.same_figures(before)
    assert "baseline-moved" in [one.code for one in after.notes]
    assert list(projection_faults(w.operator))  # and verify_ledger names the row


def test_an_alarm_opens_one_watch_with_what_to_look_at_first(w: SimpleNamespace) -> None:
    ride = ridden(w, JUMP_M, day=20)
    (watch,) = watches(w)
    assert (watch.is_watch, watch.severity, watch.out_of_service, watch.state) == (True, "minor", False, "open")
    assert (watch.place_id, watch.slot, watch.seq) == (w.line.pk, "primary-1", ride.seq)
    assert watch.component is not None
    assert watch.clause.startswith("Look first at the brake")
    assert watch.title.startswith("Brake travel much longer than usual")
    ridden(w, JUMP_M, day=21)
    ridden(w, 0.0, day=22)
    assert watches(w) == [watch]
    assert list(projection_faults(w.operator)) == []
    assert list(chain_faults(w.operator)) == []


def test_a_slow_creep_is_told_as_one(w: SimpleNamespace) -> None:
    for day in range(20, 30):
        ridden(w, 0.045 * (day - 19), day=day)
    (watch,) = watches(w)
    assert watch.title.startswith("Brake travel is getting longer, since about ")
    assert watch.clause.startswith("Look first at the wear of the brake")


def test_a_watch_of_a_chart_neither_holds_a_line_nor_readies_one(w: SimpleNamespace) -> None:
    """The same mornings ridden as usual and far off: what is said of the line differs by nothing."""
    make.inspect(w, at=w.at + timedelta(days=20))
    ridden(w, 0.0, day=20, minutes=5)
    usual = status(w, 20)
    ridden(w, JUMP_M, day=20, minutes=10)
    assert watches(w)
    assert usual.is_ready
    assert status(w, 20) == usual
    # The day after, nothing inspected yet: held, whether the ride was as usual or not.
    ridden(w, 0.0, day=21)
    held = status(w, 21)
    assert not held.is_ready
    ridden(w, JUMP_M, day=21, minutes=5)
    assert {one.code for one in status(w, 21).reasons} == {one.code for one in held.reasons}


def test_in_control_makes_nothing_ready_that_is_held(w: SimpleNamespace) -> None:
    make.inspect(w, at=w.at + timedelta(days=20), but=("landing",))
    before = status(w, 20)
    assert ridden(w, 0.0, day=20, minutes=5).control["charts"][0]["status"]["code"] == "in-control"
    assert (before.is_ready, status(w, 20).reasons) == (False, before.reasons)


def released(w: SimpleNamespace, watch: Finding, *, day: int) -> None:
    at = w.at + timedelta(days=day)
    actions.record_reinspection(
        make.picture(w, at), watch, answer=Answer(mark="sound", note="Guides dry."), deed=make.deed(w.mate, at=at)
    )
    at += timedelta(minutes=5)
    actions.release(
        make.picture(w, at), watch, ticks=frozenset(("area", "intact", "clear", "told")), text="Oiled.",
        deed=make.deed(w.manager, at=at),
    )  # fmt: skip


def test_its_release_says_that_somebody_looked_and_a_new_alarm_opens_a_new_one(w: SimpleNamespace) -> None:
    ridden(w, JUMP_M, day=20)
    released(w, watches(w)[0], day=21)
    assert Reading.objects.filter(finding=watches(w)[0].pk).count() == 0
    looked = chart(w, day=21).control
    assert (looked.standing, len(looked.past), looked.baseline.count) == ((), 1, 20)
    ridden(w, 0.0, day=22)
    assert [one.state for one in watches(w)] == ["released"]
    ridden(w, JUMP_M, day=23)
    assert [one.state for one in watches(w)] == ["released", "open"]
    assert list(projection_faults(w.operator)) == []


def test_work_on_the_brake_begins_a_new_baseline(w: SimpleNamespace) -> None:
    ridden(w, JUMP_M, day=20)
    at = w.at + timedelta(days=21)
    actions.record_work(
        make.picture(w, at), watches(w)[0], what="adjustment", text="Rope set.", energy_released=True, locked_out=True,
        deed=make.deed(w.technician, at=at),
    )  # fmt: skip
    ride = ridden(w, JUMP_M, day=21, minutes=30)
    status = ride.control["charts"][0]["status"]
    assert (status["code"], status["params"]["count"]) == ("baseline-short", "1")
    assert chart(w, day=21).control.baseline is None


def test_without_the_air_s_temperature_nothing_is_computed_and_it_is_said(w: SimpleNamespace) -> None:
    ride = ridden(w, 0.0, day=20, air="")
    (kept,) = ride.control["charts"]
    assert kept["why"]["code"] == "temperature-missing"
    assert "expected" not in kept
    (said,) = said_of(ride.control, "metric")
    assert said.sentence == "Not computed. The temperature was not measured."
    assert [found.note.code for _seen, _ride, found in chart(w, day=20).rides[-1:]] == ["temperature-missing"]


def test_a_temperature_entered_earlier_that_day_holds_and_a_later_one_does_not(w: SimpleNamespace) -> None:
    first = ridden(w, 0.0, day=20, air="")
    make.ride(w, w.lines[1], at=w.at + timedelta(days=20, minutes=1), air="17")
    second = ridden(w, 0.0, day=20, minutes=2, air="")
    tomorrow = ridden(w, 0.0, day=21, air="")
    assert ["air_c" in one.control for one in (first, second, tomorrow)] == [False, True, False]
    assert float(second.control["air_c"]) == 17.0


def test_rides_from_before_are_computed_with_what_their_day_knew(w: SimpleNamespace) -> None:
    """A ride that keeps nothing, as before there were charts, has its own air or one entered before it that day."""
    ridden(w, 0.0, day=20)
    second = ridden(w, 0.0, day=20, minutes=5, air="")
    type(second).objects.filter(pk=second.pk).update(control={})
    rides = rides_of([w.line], w.course.zone)[w.line.pk]
    assert airs_for(rides)[second.pk] == 12.0


@pytest.mark.parametrize(
    ("given", "charts"), [({"mass": "35"}, 0), ({"mass": "35", "air": ""}, 0), ({"kind": "emergency"}, None)]
)
def test_another_ballast_or_brake_is_not_on_the_chart(w: SimpleNamespace, given: dict[str, str], charts: Any) -> None:
    control = ridden(w, 0.0, day=20, **given).control
    assert (len(control["charts"]) if control else None) == charts
    assert len(chart(w, day=20).control.points) == 0


def test_a_line_without_mechanics_keeps_nothing(w: SimpleNamespace) -> None:
    make.ride(w, w.lines[1], at=w.at + timedelta(days=20), air="12")
    ride = w.rides[0].__class__.objects.filter(place=w.lines[1]).latest("seq")
    assert ride.control == {}
    now = make.picture(w, w.at + timedelta(days=20))
    assert charts_of(now.setup, [now.setup.places[w.lines[1].pk]]) == {}


def test_changed_mechanics_compute_the_mornings_anew(w: SimpleNamespace) -> None:
    before = chart(w, day=19).control.baseline
    settled(w, tension_kn="8.6")
    after = chart(w, day=19).control.baseline
    assert (after.first, after.last, after.count) == (before.first, before.last, before.count)
    # A slacker cable is slower, so that the same travels are longer than expected (mechanics, part 0).
    assert after.centre > before.centre + 0.01
    ride = ridden(w, after.centre, day=20)
    assert float(ride.control["charts"][0]["baseline"]["centre"]) == pytest.approx(after.centre)
    assert watches(w) == []


def test_what_is_said_after_a_ride_is_plain(w: SimpleNamespace) -> None:
    (said,) = said_of(ridden(w, 0.1, day=20).control, "metric")
    assert "0.1 m more than usual on this line at this wind and weight." in said.sentence
    assert said.sentence.endswith("It is within what this line has shown.")
    assert not said.asks
    (said,) = said_of(ridden(w, JUMP_M, day=21).control, "metric")
    assert said.sentence.endswith("It has left what this line has shown: look today.")
    assert said.asks
    (said,) = said_of(ridden(w, 0.0, day=22).control, "us")
    assert "as usual on this line" in said.sentence
    assert " ft (" in said.sentence
    assert said.sentence.endswith("The last rides taken together have left what this line has shown: look today.")
    assert not any(word in said.sentence.lower() for word in STATISTICS)


def test_charts_are_kept_until_something_they_rest_on_changes(
    w: SimpleNamespace, django_assert_num_queries: Any
) -> None:
    now = make.picture(w, w.at + timedelta(days=20, minutes=60))
    line = now.setup.places[w.line.pk]
    with django_assert_num_queries(5):  # two for how it stands; rides, deeds, airs of the rides before the mechanics
        first = charts_of(now.setup, now.setup.lines)
    with django_assert_num_queries(2):
        assert charts_of(now.setup, [line])[w.line.pk] is first[w.line.pk]
    ridden(w, 0.0, day=20)
    assert len(charts_of(now.setup, [line])[w.line.pk][STROKE].rides) == len(first[w.line.pk][STROKE].rides) + 1


def test_signing_a_ride_takes_three_queries_more_with_charts_than_without(
    w: SimpleNamespace, django_assert_max_num_queries: Any
) -> None:
    travel = f"{expected_m(w, w.at + timedelta(days=20)):.2f}"

    def ride(line: Any, minutes: int) -> int:
        at = w.at + timedelta(days=20, minutes=minutes)
        with django_assert_max_num_queries(200) as counted:
            make.ride(w, line, at=at, air="12", wind="1.0", figures={"stroke.used": travel})
        return len(counted)

    ride(w.line, 0)  # makes the day
    # Rides, work and releases, and one for the airs of the ride from before the mechanics.
    assert ride(w.line, 1) - ride(w.lines[1], 2) == 3
