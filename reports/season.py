"""The season as a picture: for every date that the calendar expects, whether and when it was signed."""

from __future__ import annotations

from calendar import Calendar
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Min
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from courses import calendar
from courses.models import Course, Place
from courses.queries import calendar_versions
from inspections.models import Day, SignOff


@dataclass(frozen=True)
class Square:
    """One date in a month's grid; ``number`` 0 is an empty square. ``url`` leads to what there is to read."""

    number: int
    date: date | None = None
    state: str = ""
    word: str = ""
    url: str = ""
    is_today: bool = False


@dataclass(frozen=True)
class Month:
    first: date
    weeks: list[list[Square]]


@dataclass
class Season:
    year: int
    months: list[Month]
    counts: dict[str, int] = field(default_factory=dict)
    years: list[int] = field(default_factory=list)


def season(course: Course, year: int, *, at: datetime, line: Place | None = None) -> Season:
    """Return a year in four queries, however long the history. ``line`` narrows the states to one line."""
    today = calendar.local_day(at, course.zone, course.day_change_hour)
    versions = calendar_versions(course)
    days = {row.date: row for row in Day.objects.filter(course=course, date__year=year).only("date", "opens_at")}
    began = first_day(course)
    signed: dict[date, list[SignOff]] = {}
    rows = SignOff.objects.filter(day__course=course, day__date__year=year).select_related("day").order_by("revision")
    if line is None:
        rows = rows.defer("lines")  # with reasons and limits of every line: most of what a row weighs
    for row in rows:
        signed.setdefault(row.day.date, []).append(row)
    squares: dict[date, Square] = {}
    counts: dict[str, int] = {}
    first, last = date(year, 1, 1), date(year, 12, 31)
    pattern = reverse("reports:day", args=[course.pk, first])  # made once for a year of them
    for on, opens_at in calendar.expected(versions, first, last, course.zone, course.day_change_hour):
        if on in days:
            opens_at = days[on].opens_at  # as copied by the first deed of that day
        state, word = state_of(on, opens_at, signed.get(on, []), today=today, at=at, line=line, began=began)
        counts[state] = counts.get(state, 0) + 1
        text = f"{date_format(on, 'j F')}: {word}"
        url = pattern.replace(first.isoformat(), on.isoformat()) if on in days or state == "day_missing" else ""
        squares[on] = Square(on.day, on, state, text, url, on == today)
    years = sorted({*range((began or today).year, today.year + 1), year})
    return Season(year, list(_months(year, squares)), counts, years)


def first_day(course: Course) -> date | None:
    """Return the first day of the course on which anything was entered; None where nothing was."""
    found: date | None = Day.objects.filter(course=course).aggregate(first=Min("date"))["first"]
    return found


def state_of(
    on: date,
    opens_at: datetime | None,
    signed: list[SignOff],
    *,
    today: date,
    at: datetime,
    line: Place | None = None,
    began: date | None = None,
) -> tuple[str, str]:
    """Return (state, words) of one date: signed before opening, late, missing, not operating, still to come.

    ``began`` is the first day on which anything was entered: before it nobody was expected to sign here.
    """
    if signed and line is not None:
        return _line_state(opens_at, signed, line)
    if signed:
        if opens_at is None:
            return "day_signed", _("signed, though the calendar had the course closed")
        if signed[0].signed_at <= opens_at:
            if signed[0].from_paper:
                return "day_signed", _("signed on paper before opening, typed in later")
            return "day_signed", _("signed before opening")
        if signed[0].from_paper:
            return "day_late", _("signed on paper after the opening time, typed in later")
        return "day_late", _("signed after the opening time")
    if opens_at is None:
        return "day_off", _("not operating")
    if on > today or (on == today and at < opens_at):
        return "day_ahead", _("still to come")
    if began is not None and on < began:
        return "day_off", _("before the first day of this record")
    return "day_missing", _("expected by the calendar, and not signed")


def _line_state(opens_at: datetime | None, signed: list[SignOff], line: Place) -> tuple[str, str]:
    key = str(line.pk)
    named = [one for one in signed if key in one.lines]
    if not named:
        return "day_missing", _("the line is not named in the signature")
    opened = [one for one in named if one.lines[key].get("decision") == "open"]
    if not opened:
        return "closed_today", _("closed that day")
    if opens_at is None or opened[0].signed_at <= opens_at:
        return "day_signed", _("opened before opening time")
    return "day_late", _("opened after the opening time")


def _months(year: int, squares: dict[date, Square]) -> Iterator[Month]:
    """Yield the months of a year in which the course was open, or anything was done."""
    for month in range(1, 13):
        weeks = [
            [squares[one] if one.month == month else Square(0) for one in week]
            for week in Calendar(firstweekday=0).monthdatescalendar(year, month)
        ]
        if any(square.state not in {"", "day_off"} for week in weeks for square in week):
            yield Month(date(year, month, 1), weeks)
