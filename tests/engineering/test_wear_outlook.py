"""A part's days to come by rides and by age: days counted by hand from forecasts that other tests hold."""

import doctest
import math
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engineering import wear_outlook, wear_words
from engineering.wear import FALLING, forecast
from engineering.wear_outlook import DUE_SENTENCES, Ahead, Due, Reading, outlook, parts_ahead, since_reset
from tests.engineering.tables import column

START = date(2026, 3, 1)
DAY0 = START.toordinal()
KCYCLES, SIZES = column("wear_example_derived", "kcycles"), column("wear_example_derived", "thickness_mm")
TODAY = START + timedelta(days=50)
OPEN = [TODAY + timedelta(days=k) for k in range(300)]
U = 0.0577
# The worked example, a reading every ten days: early 19.6233 thousand rides or day 98.1167, middle 21.4286 or 107.14.
WORN = [Reading(DAY0 + 5 * x, y, x) for x, y in zip(KCYCLES, SIZES, strict=True)]
AHEAD = Ahead(TODAY, OPEN, [0.5] * 30, 10.0)


def told(found):
    return found.status, found.clock, found.early, found.middle, found.beyond


def test_examples():
    assert doctest.testmod(wear_outlook).attempted
    assert not doctest.testmod(wear_outlook).failed


def test_rides_come_first():
    """(19.6233 - 10) / 0.5 = 19.2, the twentieth open day; (21.4286 - 10) / 0.5 = 22.9, the twenty-third."""
    found = outlook(WORN, 9.0, FALLING, U, AHEAD)
    assert told(found) == ("ok", "cycles", OPEN[19], OPEN[22], None)
    assert found.cycles.early == pytest.approx(19.6233, abs=6e-5)
    assert found.notes == ("gauge-coarse",)
    assert found.sentence == wear_words.STATUS_SENTENCES["ok"]


def test_age_comes_first():
    """Few riders: by age, on day 98 (early) and day 107 (middle) after the first reading."""
    found = outlook(WORN, 9.0, FALLING, U, replace(AHEAD, per_open_day=[0.05] * 30))
    assert told(found) == ("ok", "age", START + timedelta(days=98), START + timedelta(days=107), None)
    assert found.age.early == pytest.approx(DAY0 + 5 * 19.6233, abs=5e-4)


def test_busy_days_for_the_early_day_median_days_for_the_middle():
    rides = [0.2] * 18 + [0.5] * 3
    found = outlook(WORN, 9.0, FALLING, U, replace(AHEAD, per_open_day=rides))
    assert found.early == OPEN[19]
    assert found.middle == START + timedelta(days=107)  # by age: day 57 from today, rides would need 58 days
    slow = outlook(WORN[:-1], 9.0, FALLING, U, replace(AHEAD, per_open_day=[0.0] * 18 + [0.5] * 3))
    assert slow.middle > slow.early


def test_closed_days_bring_no_rides():
    days = [day for day in OPEN if day.weekday() >= 4]
    found = outlook([replace(one, day=DAY0) for one in WORN], 9.0, FALLING, U, replace(AHEAD, open_days=days))
    assert (found.early, found.middle) == (days[19], days[22])


def test_without_a_count_of_rides_age_speaks():
    by_age = ("ok", "age", START + timedelta(days=98), START + timedelta(days=107), None)
    for ahead in (
        replace(AHEAD, cycles=None),
        replace(AHEAD, cycles=math.nan),
        replace(AHEAD, per_open_day=[]),
        replace(AHEAD, per_open_day=[0.5, -0.1]),
    ):
        assert told(outlook(WORN, 9.0, FALLING, U, ahead)) == by_age
    bare = [replace(one, cycles=None) for one in WORN]
    found = outlook(bare, 9.0, FALLING, U, AHEAD)
    assert told(found) == by_age
    assert found.cycles.status == "no-clock"
    assert "dropped" not in found.notes


def test_without_an_age_rides_speak():
    same = [replace(one, day=DAY0) for one in WORN]
    found = outlook(same, 9.0, FALLING, U, AHEAD)
    assert found.age.status == "no-spread-x"
    assert told(found) == ("ok", "cycles", OPEN[19], OPEN[22], None)


def test_neither_clock():
    same = [replace(one, day=DAY0, cycles=None) for one in WORN]
    assert told(outlook(same, 9.0, FALLING, U, AHEAD)) == ("no-spread-x", "age", None, None, None)
    found = outlook(same[:0], 9.0, FALLING, U, AHEAD)
    assert told(found)[2:] == (None, None, None)
    assert found.status == "no-data"
    assert outlook(WORN[:1], 9.0, FALLING, U, AHEAD).status == "margin-only"
    assert outlook(WORN[:2], 9.0, FALLING, U, AHEAD).status == "two-point"
    same = [replace(one, day=DAY0) for one in WORN]
    assert outlook(same, 9.0, FALLING, U, replace(AHEAD, per_open_day=[])).status == "no-rides"


def test_only_readings_since_the_last_replacement_count():
    old = [Reading(DAY0 - 40 + 10 * k, 10.4 - 0.4 * k, 90.0 + k) for k in range(4)]
    reset = DAY0 - 1.0
    found = outlook([*WORN, *old], 9.0, FALLING, U, AHEAD, resets=[DAY0 - 100, reset, DAY0 - 50])
    assert told(found) == told(outlook(WORN, 9.0, FALLING, U, AHEAD))
    assert (found.cycles.n, found.age.n) == (6, 6)


def test_a_reading_at_the_instant_of_the_replacement_is_the_old_parts():
    readings = [Reading(4.9, 1), Reading(5.0, 2), Reading(5.1, 3), Reading(None, 4), Reading(math.nan, 5)]
    assert [one.size for one in since_reset(readings, [5.0])] == [3, 4, 5]
    assert [one.size for one in since_reset(reversed(readings), [])][:3] == [1, 2, 3]


def test_at_the_limit_wins():
    worn = [*WORN, Reading(DAY0 + 51, 9.0, None)]
    assert (
        told(outlook(worn, 9.0, FALLING, U, replace(AHEAD, today=TODAY + timedelta(days=2))))[0] == "already-at-limit"
    )
    back = [*WORN, Reading(DAY0 + 50.5, 8.9, 3.0)]
    assert outlook(back, 9.0, FALLING, U, AHEAD).status == "already-at-limit"


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"cycles": 9.999}, "cycles-back"),
        ({"cycles": -1.0}, "cycles-negative"),
        ({"today": date.fromordinal(DAY0 + 49)}, "day-ahead"),
    ],
)
def test_a_record_that_contradicts_itself_gives_no_day(change, status):
    found = outlook(WORN, 9.0, FALLING, U, replace(AHEAD, **change))
    assert told(found) == (status, None, None, None, None)
    assert found.sentence == wear_words.STATUS_SENTENCES[status]


def test_rides_that_go_back_between_readings():
    worn = [replace(one, cycles=5.9) if one.cycles == 8 else one for one in WORN]
    assert outlook(worn, 9.0, FALLING, U, AHEAD).status == "cycles-back"
    worn = [replace(one, cycles=6.0) if one.cycles == 8 else one for one in WORN]
    assert outlook(worn, 9.0, FALLING, U, AHEAD).status != "cycles-back"
    assert outlook([*WORN, Reading(None, 11.0, 1.0)], 9.0, FALLING, U, AHEAD).status != "cycles-back"


def test_a_count_that_is_no_figure_does_not_go_back():
    worn = [replace(one, cycles=math.inf) if one.cycles == 4 else one for one in WORN]
    found = outlook(worn, 9.0, FALLING, U, AHEAD)
    assert (found.status, found.cycles.dropped) == ("ok", 1)


def test_a_reading_of_today_is_not_ahead():
    worn = [*WORN[:-1], replace(WORN[-1], day=TODAY.toordinal() + 0.99)]
    assert outlook(worn, 9.0, FALLING, U, AHEAD).status == "ok"
    worn = [*WORN[:-1], replace(WORN[-1], day=TODAY.toordinal() + 1.0)]
    assert outlook(worn, 9.0, FALLING, U, AHEAD).status == "day-ahead"


def test_limit_and_gauge():
    assert outlook(WORN, None, FALLING, U, AHEAD).status == "no-limit"
    assert outlook(WORN, 9.0, FALLING, -1.0, AHEAD).status == "gauge-impossible"


def test_a_part_that_grew():
    worn = [replace(one, size=one.size + 2.0) if k > 2 else one for k, one in enumerate(WORN)]
    assert told(outlook(worn, 9.0, FALLING, U, AHEAD)) == ("grew", None, None, None, None)
    up = [replace(one, size=24 - one.size) for one in WORN]
    assert told(outlook(up, 9.0, FALLING, U, AHEAD)) == ("wrong-sign", None, None, None, None)


def test_an_early_day_that_has_passed_is_today():
    later = replace(AHEAD, cycles=19.7)
    found = outlook(WORN, 9.0, FALLING, U, later)
    assert (found.status, found.early, found.clock) == ("ok", TODAY, "cycles")
    assert "early-passed" in found.notes
    found = outlook(WORN, 9.0, FALLING, U, replace(AHEAD, cycles=19.6))
    assert found.early == TODAY
    assert "early-passed" not in found.notes
    late = START + timedelta(days=99)
    aged = Ahead(late, [late], [], None)
    found = outlook(WORN, 9.0, FALLING, U, aged)
    assert (found.early, found.clock) == (late, "age")
    assert "early-passed" in found.notes
    on_the_day = START + timedelta(days=98)
    assert "early-passed" not in outlook(WORN, 9.0, FALLING, U, Ahead(on_the_day, [on_the_day], [], None)).notes


def test_beyond_what_can_be_told():
    """Twice the span past the last reading: 30 thousand rides, or day 150; with 0.5 a day the fortieth open day."""
    found = outlook(WORN, 5.0, FALLING, U, AHEAD)
    assert found.status == "beyond-horizon"
    assert found.beyond in {OPEN[39], START + timedelta(days=150)}
    assert (found.early, found.middle) == (None, None)
    alone = outlook(WORN, 5.0, FALLING, U, replace(AHEAD, cycles=None))
    assert told(alone) == ("beyond-horizon", "age", None, None, START + timedelta(days=150))
    rides = outlook([replace(one, day=DAY0) for one in WORN], 5.0, FALLING, U, AHEAD)
    assert told(rides) == ("beyond-horizon", "cycles", None, None, OPEN[39])


def test_open_days_that_end_before_the_limit():
    days = [replace(one, day=DAY0) for one in WORN]
    found = outlook(days, 9.0, FALLING, U, replace(AHEAD, open_days=OPEN[:10]))
    assert told(found) == ("beyond-horizon", "cycles", None, None, OPEN[9])


def test_a_year_is_the_furthest():
    slow = [Reading(DAY0 + 100 * k, y, None) for k, y in enumerate(SIZES)]
    today = date.fromordinal(DAY0 + 500)
    found = outlook(slow, 9.0, FALLING, U, Ahead(today))
    assert (found.status, found.beyond) == ("beyond-horizon", today + timedelta(days=365))
    near = outlook(slow, 9.45, FALLING, U, Ahead(today))
    assert (near.status, near.clock) == ("ok", "age")
    assert near.age.horizon == DAY0 + 865
    assert today < near.early < today + timedelta(days=365)
    assert (near.middle is None) == (near.age.at_limit > DAY0 + 866)


def test_three_readings_whose_early_day_lies_too_far():
    """Weak, and early 14.47 past 4 + 8: told is only that it lies beyond."""
    found = outlook(WORN[:3], 9.0, FALLING, None, replace(AHEAD, cycles=4.0, today=START + timedelta(days=21)))
    assert found.cycles.status == "weak"
    assert (found.status, found.early) == ("beyond-horizon", None)


def test_old_readings_tell_nothing_about_today():
    late = date.fromordinal(DAY0 + 150)
    stale = outlook(WORN, 5.0, FALLING, U, Ahead(late, [late], [0.5], 30.0))
    assert told(stale)[0] == "stale"
    assert outlook(WORN, 5.0, FALLING, U, Ahead(late, [late], [0.5], 29.9)).status == "stale"  # by age
    fresh = date.fromordinal(DAY0 + 149)
    assert outlook(WORN, 5.0, FALLING, U, Ahead(fresh, [fresh], [0.5], 29.9)).status == "beyond-horizon"
    equal = [replace(one, size=12.0) for one in WORN]
    assert outlook(equal, 9.0, FALLING, U, Ahead(late, [late], [0.5], 30.0)).status == "stale"


def test_equal_readings_say_until_when_at_least():
    equal = [replace(one, size=12.0) for one in WORN]
    found = outlook(equal, 9.0, FALLING, U, AHEAD)
    assert found.status == "no-wear-resolved"
    assert (found.early, found.middle) == (None, None)
    assert found.beyond in {OPEN[39], START + timedelta(days=150)}
    noisy = [replace(one, size=12.0 + (-1) ** k) for k, one in enumerate(WORN)]
    assert told(outlook(noisy, 9.0, FALLING, U, AHEAD))[2:] == (None, None, None)


def test_what_is_no_figure_is_noted():
    found = outlook([*WORN, Reading(DAY0 + 3, None, 1.0)], 9.0, FALLING, U, AHEAD)
    assert found.notes == ("dropped", "gauge-coarse")


def test_parts_ahead():
    ok, later = outlook(WORN, 9.0, FALLING, U, AHEAD), outlook(WORN, 8.9, FALLING, U, AHEAD)
    at, stale = outlook(WORN, 10.6, FALLING, U, AHEAD), replace(ok, status="stale", early=None)
    few = outlook(WORN[:1], 9.0, FALLING, U, AHEAD)
    parts = {"later": later, "ok": ok, "few": few, "stale": stale, "at": at}
    assert ok.early < later.early
    found = parts_ahead(parts, later.early)
    assert found == [
        Due("at", "limit"),
        Due("stale", "look"),
        Due("ok", "due", ok.early),
        Due("later", "due", later.early),
    ]
    assert [one.key for one in parts_ahead(parts, ok.early)] == ["at", "stale", "ok"]
    assert [one.key for one in parts_ahead(parts, ok.early - timedelta(days=1))] == ["at", "stale"]
    assert {one.why for one in found} == set(DUE_SENTENCES)


numbers = st.one_of(st.none(), st.just(math.nan), st.floats(-5, 30))


@given(
    st.lists(st.builds(Reading, st.one_of(numbers, st.floats(DAY0, DAY0 + 60)), numbers, numbers), max_size=8),
    st.sampled_from([None, 0.0, 9.0, math.nan]),
    st.sampled_from([None, 0.05, -1.0]),
    st.builds(Ahead, st.just(TODAY), st.sampled_from([[], OPEN]), st.lists(numbers, max_size=4), numbers),
)
def test_nothing_raises_and_a_day_comes_only_with_a_good_status(readings, limit, u, ahead):
    found = outlook(readings, limit, FALLING, u, ahead)
    assert found.sentence
    assert (found.early is not None) == (found.status in {"ok", "weak"})
    assert found.early is None or TODAY <= found.early <= TODAY + timedelta(days=365)
    assert found.middle is None or found.early is not None
    assert found.beyond is None or found.status in {"beyond-horizon", "no-wear-resolved"}


def test_both_forecasts_are_those_of_wear():
    found = outlook(WORN, 9.0, FALLING, U, AHEAD, confidence=0.975)
    assert found.cycles == forecast(zip(KCYCLES, SIZES, strict=True), 9.0, FALLING, U, confidence=0.975)
    assert found.age.early < outlook(WORN, 9.0, FALLING, U, AHEAD).age.early
