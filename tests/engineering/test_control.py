"""The chart of one line: baseline, missing mornings, restarts by a person, alarms that stand, and what is never done.

The charts' own figures are checked against published ones in ``test_control_charts``; here the rules of the course
(our own, in the issue's words) are, and that the parts put together give what the parts give.
"""

import doctest
import itertools
import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from statistics import fmean

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engineering import control, control_arrival, control_baseline, control_residual
from engineering.control import ARRIVAL_MOVED, LOOKED, SERVICE, Mark, follow, look_first
from engineering.control_arrival import arrival_model
from engineering.control_baseline import WILD, baseline_of, baseline_rides
from engineering.control_residual import ARRIVAL_SPEED, STROKE, Dropped, MorningRide, Plan, Residual, residual
from engineering.control_tuning import tuning
from engineering.line import Cable, Line, Rider
from engineering.refusal import refuse

FIRST = datetime(2026, 4, 1, 8, 30, tzinfo=UTC)
PLAN = Plan(STROKE, 79.0, 81.0, -3.0, 3.0, charts=12)
BOTH = replace(PLAN, both_sides=True)
FORTNIGHT = [
    -0.25,
    -0.05,
    0.0,
    0.15,
    -0.1,
    0.3,
    0.4,
    -0.2,
    -0.35,
    0.15,
    0.35,
    -0.15,
    0.1,
    0.05,
    -0.3,
    -0.4,
    0.2,
    0.1,
    -0.2,
    0.25,
]
SCATTER = [
    *FORTNIGHT,
]
GOOD = [2.0 + one for one in SCATTER]  # twenty mornings


def model(ride):
    return 2.0


def at(day):
    return FIRST + timedelta(days=day)


def rides(strokes, first=0, **others):
    return [MorningRide(at(first + i), stroke, 80.0, 0.5, 12.0, **others) for i, stroke in enumerate(strokes)]


def today(day):
    return at(day).date()


def run(strokes, marks=(), plan=PLAN, **others):
    return follow(rides(strokes), marks, plan, model, today=today(len(strokes) - 1), **others)


@pytest.mark.parametrize("module", [control, control_residual, control_baseline, control_arrival])
def test_examples(module):
    found = doctest.testmod(module)
    assert not found.failed
    assert found.attempted or module is control_baseline


# --- the residual


def test_residual_is_measured_less_expected():
    one = MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0)
    found = residual(one, PLAN, lambda ride: 2.0 + 0.1 * ride.head_mps)
    assert found.value == pytest.approx(0.45)
    assert (found.ride, found.at, found.day) == (one, FIRST, date(2026, 4, 1))


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"at": None}, "time-missing"),
        ({"arrived": False}, "not-arrived"),
        ({"measured": None}, "value-missing"),
        ({"measured": math.nan}, "value-missing"),
        ({"measured": math.inf}, "value-impossible"),
        ({"measured": -0.01}, "value-impossible"),
        ({"measured": 100.1}, "value-impossible"),
        ({"mass_kg": None}, "ballast-missing"),
        ({"mass_kg": 78.9}, "ballast-other"),
        ({"mass_kg": 81.1}, "ballast-other"),
        ({"head_mps": None}, "wind-missing"),
        ({"head_mps": math.nan}, "wind-missing"),
        ({"cross_mps": None}, "wind-missing"),
        ({"head_mps": 3.01}, "wind-other"),
        ({"head_mps": -3.01}, "wind-other"),
        ({"temperature_c": None}, "temperature-missing"),
        ({"temperature_c": -math.inf}, "value-impossible"),
    ],
)
def test_rides_that_cannot_be_charted(changed, code):
    found = residual(replace(MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0), **changed), PLAN, model)
    assert isinstance(found, Dropped)
    assert found.note.code == code
    assert found.because is None
    assert found.note.sentence


@pytest.mark.parametrize(
    "changed",
    [
        {"measured": 0.0},
        {"measured": 100.0},
        {"mass_kg": 79.0},
        {"mass_kg": 81.0},
        {"head_mps": 3.0},
        {"head_mps": -3.0},
    ],
)
def test_edges_are_charted(changed):
    assert isinstance(residual(replace(MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0), **changed), PLAN, model), Residual)


def test_fastest_arrival_that_is_possible():
    plan = replace(PLAN, quantity=ARRIVAL_SPEED)
    one = MorningRide(FIRST, 60.0, 80.0, 0.5, 12.0)
    assert isinstance(residual(one, plan, lambda ride: 60.0), Residual)
    assert residual(replace(one, measured=60.1), plan, model).note.code == "value-impossible"
    assert residual(one, plan, lambda ride: 60.1).note.code == "model-refused"


def test_a_computation_that_refuses_is_told_on():
    why = refuse("wind-range", value=40, low=-25, high=25)
    found = residual(MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0), PLAN, lambda ride: why)
    assert (found.note.code, found.because) == ("model-refused", why)
    for figure in (math.nan, math.inf, -0.1, 100.1):
        found = residual(MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0), PLAN, lambda ride, figure=figure: figure)
        assert (found.note.code, found.because) == ("model-refused", None)
    assert isinstance(residual(MorningRide(FIRST, 2.5, 80.0, 0.5, 12.0), PLAN, lambda ride: 0.0), Residual)


def test_quantity_outside_the_list_is_a_mistake_of_the_programmer():
    with pytest.raises(ValueError, match="not a charted quantity"):
        replace(PLAN, quantity="colour")


@pytest.mark.parametrize(
    "changed",
    [
        {"ballast_low_kg": 82.0},
        {"ballast_low_kg": 0.0},
        {"ballast_low_kg": math.nan},
        {"ballast_high_kg": math.inf},
        {"head_low_mps": 4.0},
        {"head_high_mps": math.nan},
        {"gauge_u": -0.1},
        {"gauge_u": 1e-9},
        {"gauge_u": math.nan},
        {"charts": 0},
        {"charts": math.nan},
        {"gap_days": 0},
    ],
)
def test_plans_that_cannot_be(changed):
    found = follow(rides(GOOD), [], replace(PLAN, **changed), model, today=today(19))
    assert found.status.code == "setting-impossible"
    assert (found.low, found.high, found.baseline, found.points) == (None, None, None, ())


def test_residuals_of_the_arrival_speed_are_free_of_the_wind():
    """Speeds made by the ride's own computation plus 0.2 m/s: whatever wind, weight and warmth, 0.2 is left."""
    line, ballast = Line(300.0, 20.0, Cable(1.05, 10e6), 15_000.0), Rider(None)
    plan = Plan(ARRIVAL_SPEED, 75.0, 90.0, -3.0, 3.0, charts=12)
    expect = arrival_model(line, ballast)
    for mass, head, warm in ((80.0, 0.0, 15.0), (80.0, 1.0, 15.0), (80.0, -2.0, 5.0), (88.0, 0.5, 28.0)):
        one = MorningRide(FIRST, 0.0, mass, head, warm)
        speed = expect(one)
        assert residual(replace(one, measured=speed + 0.2), plan, expect).value == pytest.approx(0.2, abs=1e-9)
    assert expect(MorningRide(FIRST, 0.0, 80.0, 1.0, 15.0)) < expect(MorningRide(FIRST, 0.0, 80.0, 0.0, 15.0))
    assert expect(MorningRide(FIRST, 0.0, None, 1.0, 15.0)).code == "figure-missing"
    assert expect(MorningRide(FIRST, 0.0, 500.0, 1.0, 15.0)).code == "mass-range"


# --- the baseline


def test_twenty_good_mornings_make_a_baseline():
    found = run(GOOD[:19])
    assert (found.status.code, found.baseline, found.points) == ("baseline-short", None, ())
    assert dict(found.status.params) == {"count": "19", "needed": "20"}
    full = run(GOOD)
    assert full.status.code == "baseline-complete"
    assert full.baseline.count == 20
    assert (full.baseline.first, full.baseline.last) == (at(0), at(19))
    assert full.baseline.centre == pytest.approx(fmean(GOOD) - 2.0)
    ranges = [abs(b - a) for a, b in itertools.pairwise(GOOD)]
    assert full.baseline.sigma == pytest.approx(fmean(ranges) / 1.128)
    assert full.tuning == tuning(12)
    assert full.high == pytest.approx(full.baseline.centre + 4.55 * full.baseline.sigma)
    assert full.low == pytest.approx(full.baseline.centre - 4.55 * full.baseline.sigma)
    assert run([]).status.code == "no-rides"


def test_only_good_rides_one_a_day_make_a_baseline():
    entered = rides(GOOD)
    entered[3] = replace(entered[3], good=False, measured=9.0)
    entered[5] = replace(entered[5], struck="Marks were read from the wrong end.")
    entered.append(replace(entered[7], at=at(7) + timedelta(hours=1), measured=7.0))
    found = follow(entered, [], PLAN, model, today=today(19))
    assert dict(found.status.params)["count"] == "18"
    assert [one.note.code for one in found.dropped] == ["baseline-not-good", "baseline-struck", "baseline-second"]
    assert "wrong end" in found.dropped[1].note.sentence
    found = follow([*entered, *rides(GOOD[:3], 20)], [], PLAN, model, today=today(22))
    assert found.baseline.last == at(21)
    assert len(found.points) == 1


def test_ranges_of_a_baseline_do_not_reach_across_a_gap():
    shifted = rides(GOOD[:10]) + rides([one + 0.8 for one in GOOD[10:]], 10 + 7)
    near = rides(GOOD[:10]) + rides([one + 0.8 for one in GOOD[10:]], 10 + 6)
    broken, whole = (follow(one, [], PLAN, model, today=today(40)).baseline for one in (shifted, near))
    assert broken.sigma < whole.sigma
    assert whole.sigma == pytest.approx(
        fmean([abs(b.measured - a.measured) for a, b in itertools.pairwise(near)]) / 1.128
    )


def test_equal_mornings_need_the_gauge():
    assert run([2.3] * 22).status.code == "no-scatter"
    found = run([2.3] * 22, plan=replace(PLAN, gauge_u=0.05))
    assert found.status.code == "in-control"
    assert found.baseline.sigma == 0.05
    assert [one.code for one in found.notes] == ["gauge-coarse"]
    assert run([2.3] * 20 + [2.3 + 0.05 * 4.5], plan=replace(PLAN, gauge_u=0.05)).status.code == "in-control"
    assert run([2.3] * 20 + [2.3 + 0.05 * 4.6], plan=replace(PLAN, gauge_u=0.05)).status.code == "alarm"


def test_rounding_of_equal_figures_is_not_scatter():
    entered = [MorningRide(at(i), 2.0 + 0.1 * i, 80.0, 0.5, 12.0) for i in range(20)]
    found = follow(entered, [], PLAN, lambda ride: ride.measured - 0.1, today=today(19))
    assert found.status.code == "no-scatter"


def test_one_wild_morning_does_not_blind_the_chart():
    wild = [*GOOD[:7], 9.0, *GOOD[8:]]
    found = run([*wild, 2.1])
    assert found.baseline.wild == (at(7),)
    assert "baseline-wild" in [one.code for one in found.notes]
    assert found.baseline.sigma < 1.6 * run(GOOD).baseline.sigma
    assert run([*wild, 5.0]).status.code == "alarm"
    struck = rides([*wild, 2.1])
    struck[7] = replace(struck[7], struck="Ballast had slipped.")
    assert follow(struck, [], PLAN, model, today=today(20)).baseline.wild == ()


def test_wild_is_more_than_five_robust_sigmas():
    values = [0.0, 0.954, 0.0, 0.954] * 4 + [0.0, 0.954, 0.954]  # median range 0.954: sigma 1
    taken = [Residual(MorningRide(at(i), 0.0, 80.0, 0.0, 0.0), at(i), v) for i, v in enumerate([*values, 0.954 + WILD])]
    assert baseline_of(taken, PLAN).wild == ()
    farther = [*taken[:-1], replace(taken[-1], value=0.954 + WILD + 0.01)]
    assert baseline_of(farther, PLAN).wild == (at(19),)


def test_mornings_that_follow_each_other_are_told():
    slow = [2.0 + math.sin(i / 3.0) for i in range(20)]
    assert "baseline-related" in [one.code for one in run([*slow, 2.0]).notes]
    assert run([*GOOD, 2.0]).notes == ()


def test_baseline_of_too_few_and_its_rides():
    assert baseline_of([], PLAN).code == "no-rides"
    assert baseline_rides([]) == ([], [])


# --- the chart


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


def test_frozen_figures_are_kept_when_old_entries_change():
    frozen = run(GOOD).baseline
    changed = rides([*GOOD, 2.1])
    changed[0] = replace(changed[0], measured=4.0)
    found = follow(changed, [], PLAN, model, today=today(20), frozen=frozen)
    assert found.baseline == frozen
    assert [one.code for one in found.notes] == ["baseline-moved"]
    assert run([*GOOD, 2.1], frozen=frozen).notes == ()
    fewer = follow(changed[3:], [], PLAN, model, today=today(20), frozen=frozen)
    assert (fewer.baseline, fewer.status.code) == (frozen, "in-control")
    service = Mark(at(20), SERVICE, "Spring pack renewed.")
    assert run([*GOOD, 2.1], [service], frozen=frozen).status.code == "baseline-short"
    assert run([*GOOD, 2.1], [replace(service, at=at(0))], frozen=frozen).baseline == frozen


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
