"""Service life as the first of its clocks, and completeness of a record: our own rules, checked by hand."""

import doctest
import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engineering import reliability_completeness, reliability_service
from engineering.reliability_completeness import Due, Record, completeness
from engineering.reliability_service import Age, Cycles, Wear, age_clock, cycle_clock, months_after, service_life

TODAY = date(2026, 5, 4)
DAYS = [TODAY + timedelta(days=i) for i in range(100)]
OPENING = datetime(2026, 5, 4, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize("module", [reliability_completeness, reliability_service])
def test_examples(module):
    found = doctest.testmod(module)
    assert found.attempted
    assert not found.failed


# --- service life


def cycles(limit=1000.0, done=900.0, riders=(10.0,) * 60, days=DAYS):
    return Cycles(limit, done, riders, days)


def test_cycles_by_hand():
    """100 left at 10 a day: the tenth operating day, today the first of them; 101 left: the eleventh."""
    assert cycle_clock(TODAY, cycles()).ends == TODAY + timedelta(days=9)
    assert cycle_clock(TODAY, cycles(done=899.0)).ends == TODAY + timedelta(days=10)
    assert cycle_clock(TODAY, cycles(done=990.0)).ends == TODAY
    assert cycle_clock(TODAY, cycles(done=999.5)).ends == TODAY
    closed = [day for day in DAYS if day.weekday() in (5, 6)]
    assert cycle_clock(TODAY, cycles(days=closed)).ends == closed[9]
    assert cycle_clock(DAYS[3], cycles()).ends == DAYS[12]  # days gone by are not operated again


def test_riders_of_the_early_date():
    """The 0.9 quantile of the last sixty operating days, never between two figures (numpy's 'higher' or the like)."""
    riders = [float(i) for i in range(1, 101)]
    clock = cycle_clock(TODAY, cycles(limit=9500.0, done=0.0, riders=riders))
    # Days 41 to 100 count; their 54th figure in order is 94.
    assert float(np.quantile(riders[-60:], 0.9, method="inverted_cdf")) == 94.0
    assert clock.note.code == "clock-beyond"
    assert cycle_clock(TODAY, cycles(limit=9400.0, done=0.0, riders=riders)).ends == DAYS[99]
    assert cycle_clock(TODAY, cycles(done=990.0, riders=[7.0])).ends == DAYS[1]
    assert cycle_clock(TODAY, cycles(riders=[0.0] * 54 + [10.0] * 6)).note.code == "clock-no-rides"
    assert cycle_clock(TODAY, cycles(riders=[0.0] * 53 + [10.0] * 7)).ends == DAYS[9]


def test_cycles_at_the_limit_are_used_up():
    for done in (1000.0, 1000.1):
        clock = cycle_clock(TODAY, cycles(done=done))
        assert (clock.reached, clock.ends, clock.note) == (True, None, None)
    assert not cycle_clock(TODAY, cycles(done=999.9)).reached
    assert cycle_clock(TODAY, cycles(done=1000.0, riders=())).reached  # whatever else is missing


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"limit": None}, "clock-missing"),
        ({"done": None}, "clock-missing"),
        ({"done": math.nan}, "clock-missing"),
        ({"limit": math.nan}, "clock-missing"),
        ({"limit": 0.0}, "clock-impossible"),
        ({"limit": math.inf}, "clock-impossible"),
        ({"done": -1.0}, "clock-impossible"),
        ({"riders": [10.0, -1.0]}, "clock-impossible"),
        ({"riders": [10.0, math.nan]}, "clock-impossible"),
        ({"riders": [math.inf]}, "clock-impossible"),
        ({"riders": []}, "clock-no-rides"),
        ({"riders": [0.0, 0.0]}, "clock-no-rides"),
        ({"days": []}, "clock-beyond"),
        ({"days": DAYS[:9]}, "clock-beyond"),
    ],
)
def test_cycles_that_cannot_be_told(changed, code):
    clock = cycle_clock(TODAY, cycles(**changed))
    assert (clock.note.code, clock.ends, clock.reached) == (code, None, False)
    assert clock.note.sentence
    answer = service_life(TODAY, cycles=cycles(**changed), age=Age(60, TODAY))
    expected = "life-ends" if code == "clock-beyond" else "life-unknown"
    assert answer.status.code == expected
    assert (answer.ends is None) == (expected == "life-unknown")


def test_age_in_calendar_months():
    assert age_clock(TODAY, Age(12, date(2025, 5, 5))).ends == date(2026, 5, 5)
    assert age_clock(TODAY, Age(12, date(2025, 5, 4))).reached
    assert age_clock(TODAY, Age(12, date(2025, 5, 4))).ends is None
    assert age_clock(TODAY, Age(1, TODAY)).ends == date(2026, 6, 4)
    for wrong, code in (
        (Age(None, TODAY), "clock-missing"),
        (Age(12, None), "clock-missing"),
        (Age(0, TODAY), "clock-impossible"),
        (Age(12, TODAY + timedelta(days=1)), "clock-impossible"),
        (Age(10**6, TODAY), "clock-impossible"),
    ):
        clock = age_clock(TODAY, wrong)
        assert (clock.note.code, clock.ends, clock.reached) == (code, None, False)
        assert service_life(TODAY, age=wrong).status.code == "life-unknown"


def test_months():
    assert months_after(date(2025, 10, 31), 4) == date(2026, 2, 28)
    assert months_after(date(2024, 2, 29), 12) == date(2025, 2, 28)
    assert months_after(date(2024, 2, 29), 48) == date(2028, 2, 29)
    assert months_after(date(2024, 11, 30), 1) == date(2024, 12, 30)
    assert months_after(date(9999, 12, 1), 0) == date(9999, 12, 1)
    assert months_after(date(9999, 12, 1), 1) is None


def test_the_first_clock_counts():
    wear = Wear(DAYS[5])
    found = service_life(TODAY, cycles=cycles(), age=Age(12, date(2025, 5, 8)), wear=wear)
    assert (found.status.code, found.first, found.ends) == ("life-ends", "age", DAYS[4])
    assert dict(found.status.params) == {"clock": "age"}
    assert [clock.name for clock in found.clocks] == ["cycles", "age", "wear"]
    later = service_life(TODAY, cycles=cycles(), age=Age(12, date(2025, 8, 8)), wear=wear)
    assert (later.first, later.ends) == ("wear", DAYS[5])
    no_wear = service_life(TODAY, cycles=cycles(), age=Age(12, date(2025, 8, 8)), wear=Wear(None))
    assert (no_wear.first, no_wear.ends) == ("cycles", DAYS[9])


def test_what_is_used_up_outranks_what_is_unknown():
    found = service_life(TODAY, cycles=cycles(done=None), age=Age(12, date(2025, 5, 4)))
    assert (found.status.code, found.ends, found.first) == ("life-reached", None, None)
    worn = service_life(TODAY, cycles=cycles(), wear=Wear(DAYS[50], at_limit=True))
    assert worn.status.code == "life-reached"
    assert worn.clocks[1].ends is None
    unknown = service_life(TODAY, cycles=cycles(done=None), wear=Wear(DAYS[5]))
    assert (unknown.status.code, unknown.ends) == ("life-unknown", None)
    assert dict(unknown.status.params) == {"clock": "cycles"}


def test_no_clock_and_no_date():
    assert service_life(TODAY).status.code == "life-no-clock"
    assert service_life(TODAY, wear=Wear(None)).status.code == "life-not-soon"
    assert service_life(TODAY, cycles=cycles(days=DAYS[:3])).status.code == "life-not-soon"


@given(st.integers(0, 99), st.integers(1, 40), st.integers(0, 99))
def test_a_further_clock_never_lengthens_a_life(wear, months, done):
    parts = {
        "cycles": cycles(done=float(10 * done)),
        "age": Age(months, date(2024, 5, 20)),
        "wear": Wear(DAYS[wear]),
    }
    whole = service_life(TODAY, **parts)
    for name, part in parts.items():
        alone = service_life(TODAY, **{name: part})
        if alone.status.code == "life-reached":
            assert whole.status.code == "life-reached"
        elif whole.ends and alone.ends:
            assert whole.ends <= alone.ends


# --- completeness


def due(days=2, places=("line 1",), items=("brake", "cable")):
    asked = [(i, place, item) for i in range(days) for place in places for item in items]
    return [Due(DAYS[i], place, item, OPENING + timedelta(days=i)) for i, place, item in asked]


def record(one, hours=-1.0, **others):
    return Record(one.day, one.place, one.item, one.before + timedelta(hours=hours), signed=True, **others)


def test_a_full_record():
    asked = due()
    found = completeness(asked, [record(one) for one in asked])
    assert (found.due, found.present, found.signed, found.timed, found.on_time, found.late) == (4, 4, 4, 4, 4, 0)
    assert (found.share_present, found.share_signed, found.share_on_time) == (1.0, 1.0, 1.0)
    assert (found.median_delay, found.never, found.notes) == (None, (), ())
    assert found.longest_gap == {"line 1": 0}
    assert (found.offline, found.share_offline_in_time) == (0, None)


def test_nothing_due_has_no_share():
    assert completeness([], []).code == "nothing-due"
    assert completeness([], [record(due()[0])]).code == "nothing-due"


def test_what_is_missing_late_and_unsigned():
    asked = due()
    found = completeness(asked, [record(asked[0]), replace(record(asked[1], 2.0), signed=False), record(asked[2], 0.0)])
    assert (found.present, found.signed, found.on_time, found.late) == (3, 2, 1, 2)
    assert found.median_delay == timedelta(hours=1)
    assert (found.share_present, found.share_signed, found.share_on_time) == (0.75, 0.5, 0.25)
    assert found.never == ()
    three = completeness(asked, [record(asked[0], 1.0), record(asked[1], 5.0), record(asked[2], 2.0)])
    assert three.median_delay == timedelta(hours=2)


def test_at_the_opening_is_late():
    asked = due(1, items=("brake",))
    assert completeness(asked, [record(asked[0], 0.0)]).late == 1
    assert completeness(asked, [record(asked[0], -1e-6)]).on_time == 1


def test_without_an_opening_no_time_is_claimed():
    asked = [replace(one, before=None) for one in due(1)]
    made = [Record(one.day, one.place, one.item, OPENING) for one in asked]
    found = completeness(asked, made)
    assert (found.timed, found.on_time, found.late, found.share_on_time) == (0, 0, 0, None)
    untimed = completeness(due(1), [replace(made[0], entered=None)])
    assert (untimed.present, untimed.on_time, untimed.late) == (1, 0, 0)
    assert [(one.code, dict(one.params)) for one in untimed.notes] == [("time-unknown", {"count": "1"})]


def test_the_same_item_twice():
    asked = due(1, items=("brake",))
    late_signed = record(asked[0], 3.0)
    early = replace(record(asked[0], -2.0), signed=False)
    found = completeness(asked, [late_signed, early])
    assert (found.present, found.signed, found.on_time, found.late) == (1, 1, 1, 0)
    assert [one.code for one in found.notes] == ["records-twice"]
    earlier = replace(asked[0], before=OPENING - timedelta(hours=3))
    for order in ([asked[0], earlier], [earlier, asked[0]], [earlier, replace(asked[0], before=None)]):
        twice = completeness(order, [record(asked[0], -2.0)])
        assert (twice.due, twice.late) == (1, 1)
    only = completeness([replace(asked[0], before=None), asked[0]], [record(asked[0], -2.0)])
    assert (only.timed, only.on_time) == (1, 1)


def test_records_of_what_was_not_due():
    asked = due(1)
    found = completeness(asked, [replace(record(asked[0]), item="rope"), replace(record(asked[0]), day=DAYS[9])])
    assert found.present == 0
    assert [(one.code, dict(one.params)) for one in found.notes] == [("unknown-records", {"count": "2"})]
    assert found.never == (("line 1", "brake"), ("line 1", "cable"))


def test_the_longest_gap_counts_days_on_which_something_was_due():
    """Due on days 0, 1, 5, 6, 7, 8 (closed between): nothing on 1, 5, 6, then 8: three days running."""
    asked = [Due(DAYS[i], "line 1", item, None) for i in (8, 0, 1, 5, 6, 7) for item in ("brake", "cable")]
    asked.append(Due(DAYS[0], "line 2", "brake"))
    made = [Record(DAYS[i], "line 1", "brake", None) for i in (0, 7)]
    found = completeness(asked, made)
    assert found.longest_gap == {"line 1": 3, "line 2": 1}
    assert found.never == (("line 1", "cable"), ("line 2", "brake"))


@pytest.mark.parametrize(("hours", "in_time"), [(0.0, 1), (24.0, 1), (24.001, 0), (-0.001, 0), (None, 0)])
def test_without_signal(hours, in_time):
    asked = due(1, items=("brake",))
    made = record(asked[0], offline=True)
    received = None if hours is None else made.entered + timedelta(hours=hours)
    found = completeness(asked, [replace(made, received=received)])
    assert (found.offline, found.offline_in_time, found.share_offline_in_time) == (1, in_time, float(in_time))
    assert completeness(asked, [replace(made, received=received, entered=None)]).offline_in_time == 0


@given(st.lists(st.integers(0, 19), max_size=60))
def test_counts_hold_together(chosen):
    asked = due(5, ("line 1", "line 2"))
    found = completeness(asked, [record(asked[i], (i % 3) - 1.0, offline=i % 2 == 0) for i in chosen])
    assert found.present == len(set(chosen))
    assert found.on_time + found.late == found.present
    assert found.signed == found.present <= found.due == found.timed == 20
    assert found.offline_in_time == 0
    assert all(0 <= gap <= 5 for gap in found.longest_gap.values())


def test_a_year_of_twelve_lines_is_counted_right():
    """About 88,000 items: due every day, every tenth not recorded."""
    asked = [
        Due(date(2026, 1, 1) + timedelta(days=day), f"line {line}", f"item {item}")
        for day in range(365)
        for line in range(12)
        for item in range(20)
    ]
    found = completeness(asked, [Record(one.day, one.place, one.item, None) for i, one in enumerate(asked) if i % 10])
    assert (found.due, found.present) == (87_600, 78_840)
    assert found.longest_gap == {f"line {line}": 0 for line in range(12)}
    assert len(found.never) == 12 * 2  # the tenths fall on the items 0 and 10, always
