"""The season calendar: which local dates are operating days, and when the course opens on them. No database.

A calendar is the content of a version: ``{"seasons": [{"from": "2026-04-01", "to": "2026-11-01"}], "weekdays": [1, …,
7], "opens": "09:30", "closes": "17:00", "closed": ["2026-06-24"], "extra": []}``, with ISO weekdays (1 = Monday).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

ONE_DAY = timedelta(days=1)


def local_day(at: datetime, zone: ZoneInfo, day_change_hour: int) -> date:
    """Return the course's day at an instant: the local date, the night up to ``day_change_hour`` counting backwards.

    The hour is taken off the wall clock, so that the day changes at the same wall time on both nights on which the
    clocks are put forward or back.

    >>> local_day(datetime(2026, 6, 2, 1, 30, tzinfo=UTC), ZoneInfo("UTC"), 3).isoformat()
    '2026-06-01'
    """
    wall = at.astimezone(zone).replace(tzinfo=None)
    return (wall - timedelta(hours=day_change_hour)).date()


def operates(content: Mapping[str, Any], day: date) -> bool:
    """Tell whether the course is open to riders on a date."""
    text = day.isoformat()
    if text in content.get("closed", ()):
        return False
    if text in content.get("extra", ()):
        return True
    if day.isoweekday() not in content.get("weekdays", ()):
        return False
    return any(season["from"] <= text <= season["to"] for season in content.get("seasons", ()))


def opening(content: Mapping[str, Any], day: date, zone: ZoneInfo) -> datetime | None:
    """Return the opening instant in UTC, or None on a day without operation.

    A wall time that does not exist on the night of the change is read with the offset before it (PEP 495, fold 0).
    """
    if not operates(content, day):
        return None
    return datetime.combine(day, time.fromisoformat(content["opens"]), tzinfo=zone).astimezone(UTC)


def closing(content: Mapping[str, Any], day: date, zone: ZoneInfo) -> datetime | None:
    """Return the closing instant in UTC, or None on a day without operation."""
    if not operates(content, day):
        return None
    return datetime.combine(day, time.fromisoformat(content["closes"]), tzinfo=zone).astimezone(UTC)


def day_start(day: date, zone: ZoneInfo, day_change_hour: int) -> datetime:
    """Return the instant in UTC at which the course's day begins."""
    return datetime.combine(day, time(day_change_hour), tzinfo=zone).astimezone(UTC)


def in_force(versions: Sequence[tuple[datetime, Mapping[str, Any]]], at: datetime) -> Mapping[str, Any] | None:
    """Return the content in force at an instant from ``(from_at, content)`` pairs in order of time."""
    found = None
    for from_at, content in versions:
        if from_at <= at:
            found = content
    return found


def expected(
    versions: Sequence[tuple[datetime, Mapping[str, Any]]],
    first: date,
    last: date,
    zone: ZoneInfo,
    day_change_hour: int,
) -> Iterator[tuple[date, datetime | None]]:
    """Yield every date with its opening instant, or None, by the calendar that was in force when the day began.

    Expected days come from the calendar, not from rows, so that a morning nobody came is seen as missing.
    """
    day = first
    while day <= last:
        content = in_force(versions, day_start(day, zone, day_change_hour))
        yield day, None if content is None else opening(content, day, zone)
        day += ONE_DAY


def next_operating_day(content: Mapping[str, Any] | None, after: date) -> date:
    """Return the first operating day after a date; without a calendar, or beyond a year, simply the next date."""
    day = after + ONE_DAY
    if content is not None:
        for _ in range(366):
            if operates(content, day):
                return day
            day += ONE_DAY
    return after + ONE_DAY


def next_start(content: Mapping[str, Any] | None, at: datetime, zone: ZoneInfo, day_change_hour: int) -> datetime:
    """Return the instant in UTC at which the operating day after the one of ``at`` begins."""
    following = next_operating_day(content, local_day(at, zone, day_change_hour))
    return day_start(following, zone, day_change_hour)
