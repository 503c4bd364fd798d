"""The test rides of the last days: which of them say something of a line, and of which weights it may be opened for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

EXTREMES_DAYS = 7  # judgement: posted maximum and minimum tested at least every seven days


@dataclass(frozen=True)
class RideFact:
    """One test ride with ballast. ``stands`` is false after work, adjustment or an emergency-brake test.

    ``rode_at`` may be well before it arrived, where a phone had no signal.
    """

    id: str
    rode_at: datetime
    today: bool
    mass_kg: Decimal
    verdict: str
    stands: bool
    reached: bool = True  # false where a light ballast stopped short of the landing
    days_ago: int = 0
    number: int = 0  # the place of its arrival in the history


def tested(rides: Iterable[RideFact]) -> list[RideFact]:
    """Return the rides of the last days that stand and were good, whether they arrived or not."""
    return [ride for ride in rides if _is_recent(ride) and ride.verdict in {"ok", "watch"}]


def stopped_short(rides: Iterable[RideFact]) -> list[RideFact]:
    """Return the rides that stopped short and after which nothing as light has arrived.

    On its own day such a ride counts whatever arrives after it: the wind that stopped it may come again. From the next
    day on it counts like every ride for seven days, unless a ballast no heavier has arrived since.
    """
    rides = list(rides)
    arrived_at = [(ride.rode_at, ride.mass_kg) for ride in tested(rides) if ride.reached]
    return [
        ride for ride in rides
        if _is_recent(ride) and not ride.reached
        and (ride.today or not any(at > ride.rode_at and mass <= ride.mass_kg for at, mass in arrived_at))
    ]  # fmt: skip


def arrived(rides: Iterable[RideFact]) -> list[Decimal]:
    """Return the weights that arrived and were good: a light one that stopped short leaves only what is heavier."""
    rides = list(rides)
    short = [ride.mass_kg for ride in stopped_short(rides)]
    return [ride.mass_kg for ride in tested(rides) if ride.reached and all(ride.mass_kg > other for other in short)]


def _is_recent(ride: RideFact) -> bool:
    return ride.stands and 0 <= ride.days_ago < EXTREMES_DAYS
