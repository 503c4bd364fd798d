"""Dates and times as they are printed: local time, with the offset and the name of the zone where it counts."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from django.utils.dateformat import format as spell
from django.utils.translation import gettext as _


def instant(text: str) -> datetime:
    """Read an ISO 8601 instant. ValueError if it names no offset: a time without one cannot be placed.

    >>> instant("2026-06-14T07:30:00Z").isoformat()
    '2026-06-14T07:30:00+00:00'
    """
    at = datetime.fromisoformat(text)
    if at.tzinfo is None:
        raise ValueError(f"{text} names no time zone.")
    return at.astimezone(UTC)


class CourseTime:
    """Prints instants in the zone of a course, seen from one of its days."""

    def __init__(self, zone: str, day: str) -> None:
        self.zone = ZoneInfo(zone)
        self.name = zone
        self.day = date.fromisoformat(day)

    def local(self, text: str) -> datetime:
        return instant(text).astimezone(self.zone)

    def clock(self, text: str | None) -> str:
        """Return ``07:41``, with the date before it where that is another than the day's; empty for nothing."""
        if not text:
            return ""
        at = self.local(text)
        if at.date() == self.day:
            return spell(at, "H:i")
        return spell(at, "j M H:i" if at.year == self.day.year else "j M Y H:i")

    def stamp(self, text: str | None) -> str:
        """Return the whole of a time: ``14 June 2026, 07:41 (UTC+02:00, Europe/Vienna)``."""
        if not text:
            return ""
        at = self.local(text)
        return f"{spell(at, 'j F Y')}, {spell(at, 'H:i')} ({self.offset(at)}, {self.name})"

    def offset(self, at: datetime) -> str:
        """Return ``UTC+02:00``.

        >>> time = CourseTime("America/St_Johns", "2026-06-14")
        >>> time.offset(datetime(2026, 6, 14, tzinfo=time.zone))
        'UTC-02:30'
        """
        written = at.strftime("%z")
        return f"UTC{written[:3]}:{written[3:5]}"

    def zone_sentence(self) -> str:
        """Say in which zone the times on a paper are, and that both offsets hold where the clock changes that day."""
        offsets = {
            self.offset(datetime(self.day.year, self.day.month, self.day.day, h, tzinfo=self.zone)) for h in (0, 23)
        }
        return _("Times are local: %(zone)s, %(offset)s.") % {"zone": self.name, "offset": " / ".join(sorted(offsets))}


def long_day(day: str) -> str:
    """Return ``Sunday 14 June 2026`` in the paper's language."""
    return spell(date.fromisoformat(day), "l j F Y")


def short_day(day: str) -> str:
    """Return ``14 June 2026``."""
    return spell(date.fromisoformat(day), "j F Y")


def day_of(text: str) -> str:
    """Return an ISO date spelled shortly; text that is no ISO date comes back as it is."""
    try:
        return spell(date.fromisoformat(text), "j M Y")
    except ValueError:
        return text
