"""How complete a record is: what was due against what was recorded, signed, and in time. Counts, no estimate.

Due is what the calendar and the checklist in force asked of each line (or other place) on each day. Everything is
counted, nothing drawn, so that there is no interval. Where nothing was due there is no share, neither 0 nor 100 %.
"""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from engineering.reliability_words import Note, note

SYNC = timedelta(hours=24)
Key = tuple[date, str, str]


@dataclass(frozen=True)
class Due:
    """One item due at a place on a day, and the instant by which it has to be recorded (the opening), if known."""

    day: date
    place: str
    item: str
    before: datetime | None = None


@dataclass(frozen=True)
class Record:
    """One record of an item: entered at the spot, received by the computer, signed; made without signal or not."""

    day: date
    place: str
    item: str
    entered: datetime | None
    received: datetime | None = None
    signed: bool = False
    offline: bool = False


@dataclass(frozen=True)
class Completeness:
    """Counts over a period.

    ``timed`` is how many of the due items have an instant to be recorded by, ``on_time`` how many of those were,
    ``late`` how many were recorded at or after it, ``median_delay`` of the late ones. ``longest_gap`` tells for each
    place how many successive days on which something was due have no record at all. ``never`` are the items of a place
    that were due and never recorded.
    """

    due: int
    present: int
    signed: int
    timed: int
    on_time: int
    late: int
    median_delay: timedelta | None
    offline: int
    offline_in_time: int
    longest_gap: dict[str, int]
    never: tuple[tuple[str, str], ...]
    notes: tuple[Note, ...] = ()

    @property
    def share_present(self) -> float:
        """Return which share of the due items is recorded."""
        return self.present / self.due

    @property
    def share_signed(self) -> float:
        """Return which share of the due items is recorded and signed."""
        return self.signed / self.due

    @property
    def share_on_time(self) -> float | None:
        """Return which share of the due items was recorded in time; ``None`` where no time is known for any."""
        return self.on_time / self.timed if self.timed else None

    @property
    def share_offline_in_time(self) -> float | None:
        """Return which share of those recorded without signal came in within 24 hours; ``None`` if there are none."""
        return self.offline_in_time / self.offline if self.offline else None


def completeness(due: Iterable[Due], records: Iterable[Record]) -> Completeness | Note:
    """Compare what was due with what was recorded. ``nothing-due`` where nothing was.

    The same item twice on a day counts once: as recorded at the earliest time, signed if one of the records is. An item
    due twice has to be recorded before the earlier instant. Records that answer nothing due are only counted in a note.

    >>> day = date(2026, 5, 4)
    >>> found = completeness([Due(day, "line 1", "brake"), Due(day, "line 2", "brake")], [
    ...     Record(day, "line 1", "brake", None, signed=True)])
    >>> found.present, found.due, found.share_signed, found.never
    (1, 2, 0.5, (('line 2', 'brake'),))
    """
    expected: dict[Key, datetime | None] = {}
    for one in due:
        key = (one.day, one.place, one.item)
        before = expected.get(key)
        expected[key] = one.before if before is None else min(before, one.before or before)
    if not expected:
        return note("nothing-due")
    answers: dict[Key, list[Record]] = defaultdict(list)
    strange = 0
    for record in records:
        key = (record.day, record.place, record.item)
        if key in expected:
            answers[key].append(record)
        else:
            strange += 1
    return _counted(expected, answers, strange)


def _counted(expected: dict[Key, datetime | None], answers: dict[Key, list[Record]], strange: int) -> Completeness:
    on_time, untimed, delays = 0, 0, []
    for key, found in answers.items():
        before = expected[key]
        entered = [one.entered for one in found if one.entered is not None]
        if not entered:
            untimed += 1
        elif before is not None and min(entered) < before:
            on_time += 1
        elif before is not None:
            delays.append((min(entered) - before).total_seconds())
    offline = [one for found in answers.values() for one in found if one.offline]
    twice = sum(1 for found in answers.values() if len(found) > 1)
    counted = (("unknown-records", strange), ("records-twice", twice), ("time-unknown", untimed))
    recorded = {(place, item) for _, place, item in answers}
    return Completeness(
        due=len(expected),
        present=len(answers),
        signed=sum(1 for found in answers.values() if any(one.signed for one in found)),
        timed=sum(1 for before in expected.values() if before is not None),
        on_time=on_time,
        late=len(delays),
        median_delay=timedelta(seconds=statistics.median(delays)) if delays else None,
        offline=len(offline),
        offline_in_time=sum(1 for one in offline if _in_time(one)),
        longest_gap=_longest_gaps(expected, answers),
        never=tuple(sorted({(place, item) for _, place, item in expected} - recorded)),
        notes=tuple(note(code, count=count) for code, count in counted if count),
    )


def _in_time(record: Record) -> bool:
    """Tell whether a record came in within a day; one that came before it was made has no usable time."""
    if record.entered is None or record.received is None:
        return False
    return timedelta(0) <= record.received - record.entered <= SYNC


def _longest_gaps(expected: Iterable[Key], answers: Iterable[Key]) -> dict[str, int]:
    days: dict[str, set[date]] = defaultdict(set)
    for day, place, _ in expected:
        days[place].add(day)
    recorded = {(place, day) for day, place, _ in answers}
    return {place: _longest_run([(place, day) not in recorded for day in sorted(due)]) for place, due in days.items()}


def _longest_run(missing: Sequence[bool]) -> int:
    longest = run = 0
    for one in missing:
        run = run + 1 if one else 0
        longest = max(longest, run)
    return longest
