"""What lifting a hold asks on a course: the floor of each cause, and what its engineer demands beyond it.

Floors: thirty minutes after the last thunder, R-501 (READ-2); the others are judgement. A course can only ask for more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from engineering.clearance import GUST_WAIT, THUNDER_WAIT

LOOK_FLOOR = frozenset({"thunder", "storm", "ice", "object", "stuck", "short_stop", "not_reset", "wet"})
RIDE_FLOOR = frozenset({"wet", "storm", "emergency_brake"})


@dataclass(frozen=True)
class Reopening:
    """``waits`` by cause; the causes that ask for a look; those after which the rides of the day no longer count."""

    waits: Mapping[str, timedelta]
    look: frozenset[str]
    ride: frozenset[str]

    def wait(self, cause: str) -> timedelta | None:
        return self.waits.get(cause)


def reopening_of(content: Mapping[str, Any]) -> Reopening:
    """Return what counts with a course's content in force; empty content is the floor. Never less than the floor.

    >>> reopening_of({"thunder_minutes": "45"}).wait("thunder")
    datetime.timedelta(seconds=2700)
    """

    def longer(floor: timedelta, minutes: str) -> timedelta:
        return max(floor, timedelta(minutes=int(minutes or 0)))

    return Reopening(
        {
            "gust": longer(GUST_WAIT, content.get("gust_minutes", "")),
            "thunder": longer(THUNDER_WAIT, content.get("thunder_minutes", "")),
        },
        LOOK_FLOOR | set(content.get("look", ())),
        RIDE_FLOOR | set(content.get("ride", ())),
    )
