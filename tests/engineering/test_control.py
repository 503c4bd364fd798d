"""The chart of one line: baseline, missing mornings, restarts by a person, alarms that stand, and what is never done.

The charts' own figures are checked against published ones in ``test_control_charts``; here the rules of the course
(our own, in the issue's words) are, and that the parts put together give what the parts give.
"""

import doctest
import math
from dataclasses import replace
from datetime import timedelta
from statistics import fmean

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engineering import control, control_arrival, control_baseline, control_residual
from engineering.control import ARRIVAL_MOVED, LOOKED, SERVICE, Mark, follow, look_first
from engineering.control_residual import ARRIVAL_SPEED, STROKE, MorningRide
from engineering.control_tuning import tuning
from tests.engineering.control_rides import BOTH, GOOD, PLAN, SCATTER, at, model, rides, run, today


@pytest.mark.parametrize("module", [control, control_residual, control_baseline, control_arrival])
def test_examples(module):
    found = doctest.testmod(module)
    assert not found.failed
    assert found.attempted or module is control_baseline


def test_a_morning_within_its_past_is_in_control():
    found = run([*GOOD, 2.1, 1.9])
    assert found.status.code == "in-control"
    assert [point.value for point in found.points] == pytest.approx([0.1, -0.1])
    assert found.points[0].sigmas == pytest.approx((0.1 - found.baseline.centre) / found.baseline.sigma)
    assert found.points[0].average == pytest.approx(found.baseline.centre + 0.2 * (0.1 - found.baseline.centre))
    assert (found.standing, found.past, found.dropped) == ((), (), ())
    assert found.points[1].low > 0.0 or found.points[1].sigmas > -0.75


def test_nothing_is_said_of_today_without_a_ride_of_today():
    strokes = [*GOOD, 2.1]
    assert follow(rides(strokes), [], PLAN, model, today=today(20)).status.code == "in-control"
    assert follow(rides(strokes), [], PLAN, model, today=today(21)).status.code == "today-missing"
    unmeasured = [*rides(strokes), MorningRide(at(21), 2.0, 80.0, None, 12.0)]
    found = follow(unmeasured, [], PLAN, model, today=today(21))
    assert found.status.code == "today-missing"
    assert found.dropped[-1].note.code == "wind-missing"
    assert follow(rides(GOOD), [], PLAN, model, today=today(20)).status.code == "today-missing"
    assert follow(rides(strokes), [], PLAN, model, today=today(19)).points == ()  # rides to come are not looked at


def test_a_jump_either_way_alarms_at_once():
    base = run(GOOD).baseline
    edge = 4.55 * base.sigma
    within = run([*GOOD, 2.0 + base.centre + 0.999 * edge])
    assert within.status.code == "in-control"
    longer = run([*GOOD, 2.0 + base.centre + 1.001 * edge])
    assert longer.status.code == "alarm"
    (alarm,) = longer.standing
    assert (alarm.code, alarm.at, alarm.since, alarm.look_first.code) == (
        "beyond-high",
        at(20),
        today(20),
        "first-longer-jump",
    )
    assert alarm.words.sentence == (
        f"This morning's figure is {1.001 * edge:.2f} m above what was expected, "
        f"beyond the control limit of {edge:.2f} m."
    )
    shorter = run([*GOOD, 2.0 + base.centre - 1.001 * edge])
    assert (shorter.standing[0].code, shorter.standing[0].look_first.code) == ("beyond-low", "first-shorter-jump")


def creeping(step, mornings=30):
    base = run(GOOD).baseline
    return [2.0 + base.centre + step * base.sigma * (i + 1) for i in range(mornings)]


def test_a_creep_alarms_and_says_since_when():
    found = run([*GOOD, *creeping(0.2)])
    creep = found.standing[0]
    assert (creep.code, creep.look_first.code) == ("creep-high", "first-longer-creep")
    assert today(20) < creep.since < creep.at.date()
    # Above 0.75 sigma since the fourth of them; the sum is over 6.9 when (0.05 + 0.25 + ... ) is.
    assert creep.since == today(20 + 3)
    sums = np.cumsum([0.2 * i - 0.75 for i in range(4, 31)])
    assert creep.at == at(20 + 3 + int(np.argmax(sums > 6.9)))
    assert creep.words.sentence == f"The figures have been creeping up, probably since {today(23).isoformat()}."
    assert [alarm.code for alarm in found.standing] == ["creep-high", "beyond-high"]  # it went on


def test_a_creep_downwards_is_watched_if_asked():
    down = creeping(-0.2, 18)
    assert run([*GOOD, *down]).status.code == "in-control"
    found = run([*GOOD, *down], plan=BOTH)
    assert (found.standing[0].code, found.standing[0].look_first.code) == ("creep-low", "first-shorter-creep")
    assert found.tuning == tuning(12, both_sides=True)
    assert found.standing[0].since == today(23)


def test_an_alarm_stands_until_somebody_has_looked():
    strokes = [*GOOD, 9.0, 2.0, 2.0]
    found = run(strokes)
    assert found.status.code == "alarm"
    assert [alarm.code for alarm in found.standing] == ["beyond-high"]  # the sum it threw up is no second alarm
    looked = Mark(at(20) + timedelta(hours=2), LOOKED, "Two trolleys were mixed up.")
    after = run(strokes, [looked])
    assert after.status.code == "in-control"
    assert [alarm.code for alarm in after.past] == ["beyond-high"]
    assert after.points[1].high == max(0.0, after.points[1].sigmas - 0.75)
    assert after.baseline == found.baseline
    same_day = follow(rides(strokes[:21]), [looked], PLAN, model, today=today(20))
    assert (same_day.status.code, len(same_day.past)) == ("in-control", 1)
    before = Mark(at(20) - timedelta(minutes=1), LOOKED, "Nothing yet.")
    assert run(strokes, [before]).status.code == "alarm"
    again = run([*strokes, 9.0], [looked])
    assert ([one.at for one in again.past], [one.at for one in again.standing]) == ([at(20)], [at(23)])


@pytest.mark.parametrize(
    "mark",
    [
        Mark(at(21), LOOKED, ""),
        Mark(at(21), SERVICE, "  "),
        Mark(None, LOOKED, "Looked."),
        Mark(at(21), "wished", "Hm."),
    ],
)
def test_without_time_and_reason_nothing_restarts(mark):
    found = run([*GOOD, 9.0, 2.0, 2.0], [mark])
    assert found.status.code == "alarm"
    assert found.notes[-1].code == "mark-ignored"


def test_service_begins_a_new_baseline():
    strokes = [*GOOD, *[2.6 + one for one in SCATTER], 2.6]
    service = Mark(at(20) - timedelta(hours=1), SERVICE, "Spring pack renewed.")
    found = run(strokes, [service])
    assert found.baseline.first == at(20)
    assert found.baseline.centre == pytest.approx(fmean(strokes[20:40]) - 2.0)
    assert found.status.code == "in-control"
    short = follow(rides(strokes[:25]), [service], PLAN, model, today=today(24))
    assert (short.status.code, dict(short.status.params)["count"]) == ("baseline-short", "5")
    exact = run(strokes, [replace(service, at=at(20))])
    assert exact.baseline == found.baseline
    later = run(strokes, [replace(service, at=at(20) + timedelta(seconds=1))])
    assert later.baseline.first == at(21)
    to_come = run(GOOD, [replace(service, at=at(25))])
    assert to_come.status.code == "baseline-complete"


def test_the_latest_service_counts():
    strokes = [*GOOD, *GOOD, *GOOD, 2.0]
    marks = [Mark(at(40), SERVICE, "Pads renewed."), Mark(at(20), SERVICE, "Rope renewed.")]
    assert run(strokes, marks).baseline.first == at(40)


def test_an_alarm_never_moves_the_baseline():
    """However long a shift lasts, the baseline is the one before it and the alarm stands."""
    found = run([*GOOD, *[2.0 + 2.0] * 200])
    assert found.baseline == run(GOOD).baseline
    assert found.status.code == "alarm"
    assert found.points[-1].signals == ("beyond-high", "creep-high")


@given(st.lists(st.floats(0.0, 20.0), max_size=30))
def test_later_mornings_never_move_baseline_or_take_back_an_alarm(later):
    before = run([*GOOD, 9.0])
    after = run([*GOOD, 9.0, *later])
    assert after.baseline == before.baseline
    assert after.standing[: len(before.standing)] == before.standing
    assert after.status.code == "alarm"


@given(st.permutations(range(25)))
def test_order_of_entry_does_not_matter(order):
    entered = rides([*GOOD, 2.1, 2.6, 9.0, 1.9, 2.2])
    looked = Mark(at(22) + timedelta(hours=1), LOOKED, "Wind gauge was stuck.")
    expected = follow(entered, [looked], PLAN, model, today=today(24))
    assert follow([entered[i] for i in order], [looked], PLAN, model, today=today(24)) == expected


def test_the_worse_ride_of_a_day_is_charted():
    base = rides([*GOOD, 2.1])
    second = replace(base[-1], at=at(20) + timedelta(minutes=20), measured=9.0)
    for entered in ([*base, second], [*base[:-1], replace(base[-1], measured=9.0), replace(second, measured=2.1)]):
        found = follow(entered, [], PLAN, model, today=today(20))
        assert found.status.code == "alarm"
        assert [point.value for point in found.points] == [7.0]
        assert [one.note.code for one in found.dropped] == ["other-ride"]
    low = follow([*base, replace(second, measured=0.0)], [], PLAN, model, today=today(20))
    assert low.points[0].value == -2.0
    last_day = follow([*rides(GOOD), replace(second, at=at(19) + timedelta(hours=1))], [], PLAN, model, today=today(19))
    assert last_day.status.code == "alarm"  # a second ride on the day that completed the baseline


def test_a_break_is_told_and_the_sum_goes_on():
    entered = rides([*GOOD, 2.4]) + rides([2.4], 21 + 7)
    found = follow(entered, [], PLAN, model, today=today(28))
    assert (found.points[1].gap_days, found.notes[-1].code) == (8, "gap")
    assert dict(found.notes[-1].params) == {"days": "8"}
    assert found.points[1].high == pytest.approx(found.points[0].high + found.points[1].sigmas - 0.75)
    assert found.points[0].high > 0.0
    near = follow(rides([*GOOD, 2.4]) + rides([2.4], 27), [], PLAN, model, today=today(27))
    assert (near.points[1].gap_days, near.notes) == (0, ())
    first = follow(rides(GOOD) + rides([2.4], 30), [], PLAN, model, today=today(30))
    assert first.points[0].gap_days == 11


def test_many_charts_are_told():
    found = run([*GOOD, 2.1], plan=replace(PLAN, charts=49))
    assert found.notes[0].code == "tuned-for-fewer"
    assert found.tuning.charts == 48
    assert run([*GOOD, 2.1], plan=replace(PLAN, charts=48)).notes == ()


@pytest.mark.parametrize(
    ("quantity", "code", "arrival", "expected"),
    [
        (STROKE, "beyond-high", None, "first-longer-jump"),
        (STROKE, "creep-low", None, "first-shorter-creep"),
        (ARRIVAL_SPEED, "beyond-high", None, "first-faster-jump"),
        (ARRIVAL_SPEED, "creep-low", None, "first-slower-creep"),
        (ARRIVAL_SPEED, "creep-high", 9.0, "first-faster-creep"),
        (STROKE, "beyond-high", ARRIVAL_MOVED, "first-longer-jump"),
        (STROKE, "beyond-high", 2.1, "first-arrival"),
        (STROKE, "beyond-high", -2.1, "first-longer-jump"),
        (STROKE, "creep-low", -2.1, "first-arrival"),
        (STROKE, "creep-low", 2.1, "first-shorter-creep"),
    ],
)
def test_where_to_look_first(quantity, code, arrival, expected):
    assert look_first(quantity, code, arrival).code == expected


def test_the_chart_of_a_line_raises_what_the_drawn_charts_raise():
    """Against the simulation's own loop (``test_control_run_length``), on thirty drawn lines, alarm for alarm."""
    generator = np.random.default_rng(28)
    plan, settings = replace(PLAN, charts=1), tuning(1)
    total = 0
    for _ in range(30):
        drawn = 5.0 + 0.3 * generator.standard_normal(140)
        found = run(drawn.tolist(), plan=plan)
        base = drawn[:20] - 2.0
        centre, sigma = base.mean(), np.abs(np.diff(base)).mean() / 1.128
        if found.baseline.wild:
            centre, sigma = found.baseline.centre, found.baseline.sigma
        high = 0.0
        for point, value in zip(found.points, drawn[20:] - 2.0, strict=True):
            z = (value - centre) / sigma
            high = max(0.0, high + z - settings.slack)
            assert point.high == pytest.approx(high, abs=1e-9)
            assert ("creep-high" in point.signals) == (high > settings.decision)
            assert (point.signals != () and point.signals[0].startswith("beyond")) == (abs(z) > settings.width)
            total += bool(point.signals)
    assert total > 0


def test_on_the_limit_is_not_beyond():
    """Centre 0 and sigma 1 by a frozen baseline, so that the sigmas are the figures themselves."""
    frozen = replace(run(GOOD).baseline, centre=0.0, sigma=1.0)
    width = tuning(12).width
    for stroke, signals in ((width, ()), (math.nextafter(width, 9.0), ("beyond-high",))):
        entered = [*rides(GOOD), *rides([stroke], 20)]
        found = follow(entered, [], PLAN, lambda ride: 0.0, today=today(20), frozen=frozen)
        assert (found.points[0].sigmas, found.points[0].signals) == (stroke, signals)
