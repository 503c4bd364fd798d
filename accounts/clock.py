"""When something was really signed on a device whose clock may be wrong, or that it is not known.

A device measures how far its clock is from the server's whenever it has a signal, and signs that along with what it
signs without one. As it sends, it says what its clock shows then. Where both agree, its clock has run on undisturbed
and the true time of the signature follows; where they do not, the clock was set in between, and nothing follows.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from ledger.actions import TIME_FORMAT, as_text

# How far two measurements of the same clock may lie from each other: a slow answer and a photo on its way (judgement).
APART = timedelta(minutes=2)
# What a device's clock can show: before the first it has no such time, and beyond the last nothing can be reckoned.
FIRST, LAST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2100, 12, 31, 23, 59, 59, tzinfo=UTC)
# What can be told in any time zone.
_LEAST, _MOST = datetime(1, 1, 2, tzinfo=UTC), datetime(9999, 12, 30, tzinfo=UTC)
_TOLD = re.compile(r"(-?[0-9]{1,10})\|([0-9TZ:-]{20})")


@dataclass(frozen=True)
class Clock:
    """How far a device's clock was from the server's (server minus device), and when, by that clock."""

    offset_s: int
    measured_at: datetime

    @property
    def as_record(self) -> dict[str, int | str]:
        """Return the measurement as it stands in an act."""
        return {"offset_s": self.offset_s, "measured_at": as_text(self.measured_at)}


def told_clock(text: str) -> Clock | None:
    """Read ``offset_s|measured_at``; None where it is no such thing.

    >>> told_clock("-90|2026-06-15T05:00:00Z").offset_s
    -90
    >>> told_clock("soon") is None
    True
    """
    found = _TOLD.fullmatch(text)
    measured_at = told_time(found[2]) if found else None
    return Clock(int(found[1]), measured_at) if found and measured_at else None


def told_time(text: str) -> datetime | None:
    """Read a time as devices and entries say it: UTC, whole seconds; None where no clock can show it.

    >>> told_time("9999-12-31T23:59:59Z") is None
    True
    """
    try:
        found = datetime.strptime(text, TIME_FORMAT).replace(tzinfo=UTC)
    except ValueError:
        return None
    return found if FIRST <= found <= LAST else None


def shown_time(text: str) -> datetime:
    """Read a time that stands in an entry, so that any zone can show it: whatever it says, its pages can be read."""
    return min(max(datetime.strptime(text, TIME_FORMAT).replace(tzinfo=UTC), _LEAST), _MOST)


def true_time(
    made_at: datetime, clock: Clock | None, *, sent_at: datetime | None, at: datetime
) -> datetime | None:  # fmt: skip
    """Return when a deed was signed by the server's clock, never later than it arrived; None where it is not known.

    ``made_at`` and ``sent_at`` are by the device's clock, ``at`` is its arrival. A clock that was measured only after
    the signature, by its own time, was set back in between.
    """
    if clock is None or sent_at is None or clock.measured_at > made_at + APART:
        return None
    try:
        offset = timedelta(seconds=clock.offset_s)
        found = made_at + offset
    except OverflowError:
        return None
    if abs((at - sent_at) - offset) > APART or found > at + APART:
        return None
    return min(found, at)


def follows(record: Mapping[str, Any]) -> bool:
    """Tell whether the true time of an entry, if it has one, follows from the clock that was signed with it.

    Cut to its arrival it may be up to ``APART`` earlier. ``reports.verifier.verify`` asks the same.
    """
    judged, act = record.get("judged", {}), record["act"]
    if "true_at" not in judged:
        return True
    true_at, made_at = told_time(judged["true_at"]), told_time(act["made_at"])
    if true_at is None or made_at is None or "clock" not in act:
        return False
    cut = made_at - true_at + timedelta(seconds=act["clock"]["offset_s"])
    return judged["true_at"] <= record["t"] and timedelta() <= cut <= APART
