"""The newest of what was read, where something may arrive after what was read later."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from inspections.models import Ride

Row = TypeVar("Row")


def newest_two(rows: Sequence[Row], when: Callable[[Row], datetime]) -> list[Row]:
    """Return the newest to arrive and the newest by its own time, of ``rows`` in the order of their arrival.

    Mostly they are one. Where they are two, nobody can be sure that the later one knew of the other: both count, so
    that the worse of them does.
    """
    if not rows:
        return []
    newest = max(range(len(rows)), key=lambda number: (when(rows[number]), number))
    return [rows[-1]] if newest == len(rows) - 1 else [rows[-1], rows[newest]]


def by_time(rides: Sequence[Ride]) -> tuple[list[Ride], list[Ride]]:
    """Return the rides of which it is known when they were, and the others, which came from a phone without a clock.

    What one of the others read may be hours older than all else: it may add to the wind, and stands for nothing else.
    """
    untimed = [ride for ride in rides if ride.fields.get("untimed")]
    return [ride for ride in rides if ride not in untimed], untimed
