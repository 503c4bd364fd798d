"""The newest of what was read, where something may arrive after what was read later."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TypeVar

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
