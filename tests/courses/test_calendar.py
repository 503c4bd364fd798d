"""Operating days and their instants. Wall times and offsets are those of the European and the US rule of clock change
(Directive 2000/84/EC: last Sundays of March and October, 01:00 UTC; US Energy Policy Act 2005: from memory, second
Sunday of March and first of November, 02:00 local); the UTC instants are worked out by hand.
"""

from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from courses import calendar, season

VIENNA, NEW_YORK = ZoneInfo("Europe/Vienna"), ZoneInfo("America/New_York")
ALL_YEAR: dict[str, Any] = {
    "seasons": [{"from": "2026-01-01", "to": "2026-12-31"}], "weekdays": [1, 2, 3, 4, 5, 6, 7],
    "opens": "09:30", "closes": "17:00", "closed": ["2026-06-24"], "extra": [],
}  # fmt: skip


@pytest.mark.parametrize(
    ("instant", "zone", "day"),
    [
        ("2026-06-15T22:30", VIENNA, "2026-06-15"),  # half past midnight: still the day before
        ("2026-06-16T00:59", VIENNA, "2026-06-15"),
        ("2026-06-16T01:00", VIENNA, "2026-06-16"),  # three o'clock
        ("2026-03-29T00:59", VIENNA, "2026-03-28"),  # 01:59 winter time, the last minute before the clocks go forward
        ("2026-03-29T01:00", VIENNA, "2026-03-29"),  # 03:00 summer time: the hour of the change is the hour of the day
        ("2026-10-25T00:30", VIENNA, "2026-10-24"),  # 02:30 summer time
        ("2026-10-25T01:30", VIENNA, "2026-10-24"),  # 02:30 once more, winter time
        ("2026-10-25T02:00", VIENNA, "2026-10-25"),  # 03:00 winter time
        ("2026-03-08T07:00", NEW_YORK, "2026-03-08"),  # 03:00 summer time, a moment after 01:59
        ("2026-11-01T07:59", NEW_YORK, "2026-10-31"),  # 02:59 winter time
        ("2026-11-01T08:00", NEW_YORK, "2026-11-01"),
    ],
)
def test_the_day_changes_at_three_by_the_clock_on_the_wall(instant: str, zone: ZoneInfo, day: str) -> None:
    at = datetime.fromisoformat(instant).replace(tzinfo=UTC)

    assert calendar.local_day(at, zone, 3).isoformat() == day


@pytest.mark.parametrize(
    ("day", "zone", "opens", "closes", "starts"),
    [
        ("2026-03-28", VIENNA, "2026-03-28T08:30", "2026-03-28T16:00", "2026-03-28T02:00"),
        ("2026-03-29", VIENNA, "2026-03-29T07:30", "2026-03-29T15:00", "2026-03-29T01:00"),
        ("2026-10-24", VIENNA, "2026-10-24T07:30", "2026-10-24T15:00", "2026-10-24T01:00"),
        ("2026-10-25", VIENNA, "2026-10-25T08:30", "2026-10-25T16:00", "2026-10-25T02:00"),
        ("2026-03-08", NEW_YORK, "2026-03-08T13:30", "2026-03-08T21:00", "2026-03-08T07:00"),
        ("2026-11-01", NEW_YORK, "2026-11-01T14:30", "2026-11-01T22:00", "2026-11-01T08:00"),
    ],
)
def test_opening_closing_and_beginning_of_a_day_with_and_without_a_change_of_clocks(
    day: str, zone: ZoneInfo, opens: str, closes: str, starts: str
) -> None:
    on = date.fromisoformat(day)

    found = (
        calendar.opening(ALL_YEAR, on, zone), calendar.closing(ALL_YEAR, on, zone), calendar.day_start(on, zone, 3)
    )  # fmt: skip

    assert [at and at.replace(tzinfo=None).isoformat(timespec="minutes") for at in found] == [opens, closes, starts]


def test_a_day_begins_where_the_day_before_ends_all_year_round() -> None:
    for zone in (VIENNA, NEW_YORK, ZoneInfo("Australia/Lord_Howe")):
        day = date(2026, 1, 1)
        while day < date(2026, 12, 31):
            start = calendar.day_start(day, zone, 3)
            assert calendar.local_day(start, zone, 3) == day
            assert calendar.local_day(start - calendar.ONE_DAY / 86400, zone, 3) == day - calendar.ONE_DAY
            day += calendar.ONE_DAY


@pytest.mark.parametrize(
    ("change", "day", "operates"),
    [
        ({}, "2026-06-15", True),
        ({}, "2026-06-24", False),  # closed
        ({}, "2027-01-01", False),  # out of season
        ({"weekdays": [6, 7]}, "2026-06-15", False),  # a Monday
        ({"weekdays": [6, 7], "extra": ["2026-06-15"]}, "2026-06-15", True),
        ({"closed": ["2026-06-15"], "extra": ["2026-06-15"]}, "2026-06-15", False),  # closed wins
        ({"seasons": []}, "2026-06-15", False),
    ],
)
def test_which_dates_are_operating_days(change: dict[str, Any], day: str, operates: bool) -> None:
    assert calendar.operates(ALL_YEAR | change, date.fromisoformat(day)) is operates


def test_expected_days_follow_the_calendar_in_force_when_each_day_began() -> None:
    weekend = ALL_YEAR | {"weekdays": [6, 7]}
    versions = [
        (datetime(2026, 6, 1, 5, 0, tzinfo=UTC), ALL_YEAR),  # seven in the morning: from the day after
        (datetime(2026, 6, 16, 9, 0, tzinfo=UTC), weekend),  # during Tuesday: Tuesday itself stays an operating day
    ]

    days = dict(calendar.expected(versions, date(2026, 5, 31), date(2026, 6, 17), VIENNA, 3))

    assert [day.isoformat() for day, opens in days.items() if opens is None] == [
        "2026-05-31",
        "2026-06-01",
        "2026-06-17",
    ]
    assert len(days) == 18


def test_the_next_operating_day_may_be_next_year() -> None:
    assert calendar.next_operating_day(ALL_YEAR, date(2026, 6, 23)) == date(2026, 6, 25)
    two = ALL_YEAR | {"seasons": [*ALL_YEAR["seasons"], {"from": "2027-04-10", "to": "2027-10-01"}]}
    assert calendar.next_operating_day(two, date(2026, 12, 31)) == date(2027, 4, 10)


def test_without_a_calendar_or_with_none_ahead_it_is_simply_the_next_date() -> None:
    assert calendar.next_operating_day(None, date(2026, 6, 23)) == date(2026, 6, 24)
    assert calendar.next_operating_day(ALL_YEAR, date(2026, 12, 31)) == date(2027, 1, 1)


def test_months_are_drawn_from_monday_with_today_and_the_closed_days() -> None:
    june, july = season.months_ahead(ALL_YEAR, date(2026, 6, 15), 2)

    # June 2026 begins on a Monday and ends on a Tuesday; July begins on a Wednesday (any calendar).
    assert [square.day for square in june.weeks[0]] == [1, 2, 3, 4, 5, 6, 7]
    assert [square.day for square in june.weeks[-1]] == [29, 30, 0, 0, 0, 0, 0]
    assert [square.day for square in july.weeks[0]] == [0, 0, 1, 2, 3, 4, 5]
    squares = {square.day: square for week in june.weeks for square in week if square.day}
    assert [day for day, square in squares.items() if square.is_today] == [15]
    assert [day for day, square in squares.items() if not square.operates] == [24]
