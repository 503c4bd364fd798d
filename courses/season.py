"""Months of a season as a picture: each date with its state. Pure: a calendar's content in, weeks out."""

from __future__ import annotations

from calendar import Calendar
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from courses.calendar import operates


@dataclass(frozen=True)
class Square:
    """One date in a month's grid; ``day`` is 0 for the empty squares before the first and after the last."""

    day: int
    operates: bool = False
    is_today: bool = False


@dataclass(frozen=True)
class Month:
    first: date
    weeks: list[list[Square]]


def months_ahead(content: Mapping[str, Any], today: date, count: int) -> list[Month]:
    """Return ``count`` months from the one of ``today`` on, weeks beginning on Monday."""
    found = []
    year, month = today.year, today.month
    for _ in range(count):
        weeks = [
            [Square(one.day, operates(content, one), one == today) if one.month == month else Square(0) for one in week]
            for week in Calendar(firstweekday=0).monthdatescalendar(year, month)
        ]
        found.append(Month(date(year, month, 1), weeks))
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    return found
