"""Samples for the auditor: how many records to look at, which ones, and what it tells to have found none or some bad.

All counts are exact (whole numbers). The draw can be repeated by anyone, on any machine and in any language: it rests
on SHA-256 alone. The auditor chooses the seed, so that nobody who keeps the record can know the draw beforehand.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from engineering.reliability_words import Note, note


def discovery_size(lot: int, bad: int, confidence: float = 0.95) -> int | Note:
    """Return the smallest sample that shows at least one bad record with this confidence, if ``bad`` of ``lot`` are.

    Smallest n with C(lot - bad, n) / C(lot, n) <= 1 - confidence. Small lots mean looking at nearly all.

    >>> discovery_size(365, 19), discovery_size(30, 1)
    (52, 29)
    """
    bad_input = lot_problem(lot, bad, confidence)
    if bad_input:
        return bad_input
    if bad < 1:
        return note("count-impossible", part=bad, whole=lot)
    missed = 1 - _exact(confidence)

    def shows(size: int) -> bool:
        return _none_found(lot, bad, size) <= missed

    low, high = 0, 1
    while not shows(high):
        low, high = high, min(2 * high, lot)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shows(middle) else (middle, high)
    return high


def most_bad(lot: int, size: int, found: int, confidence: float = 0.95) -> int | Note:
    """Return how many bad records there are at most in the lot, with this confidence, after ``found`` in a sample.

    The largest D with P(at most ``found`` in the sample | D) > 1 - confidence, hypergeometric, exact. With the whole
    lot looked at it is what was found.

    >>> most_bad(365, 52, 0), most_bad(365, 365, 3)
    (18, 3)
    """
    bad_input = lot_problem(lot, found, confidence)
    if bad_input:
        return bad_input
    if not 1 <= size <= lot:
        return note("sample-large", size=size, lot=lot)
    if found > size:
        return note("count-impossible", part=found, whole=size)
    missed, every = 1 - _exact(confidence), math.comb(lot, size)

    def possible(bad: int) -> bool:
        ways = sum(math.comb(bad, k) * math.comb(lot - bad, size - k) for k in range(found + 1))
        return Fraction(ways, every) > missed

    # What is found is possible with what was found; with all but the good ones seen as the most.
    low, high = found, lot - (size - found) + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if possible(middle) else (low, middle)
    return low


@dataclass(frozen=True)
class Draw:
    """What was drawn, and all that is needed to draw it again. ``list_sha256`` is of the sorted entries, one a line."""

    keys: tuple[str, ...]
    seed: str
    lot: int
    list_sha256: str


def draw(keys: Iterable[str], size: int, seed: str) -> Draw | Note:
    """Draw a sample without replacement, the same for the same list and seed, in whatever order the list comes.

    Each entry's rank is the SHA-256 of "seed, line feed, entry" in UTF-8, as hexadecimal digits; the ``size`` smallest
    ranks are drawn, in their order. A larger sample of the same seed contains the smaller one, so that a sample can be
    extended. Whoever keeps the record must not choose the seed; tell it before drawing.

    >>> drawn = draw(["2026-05-01 line 1", "2026-05-01 line 2", "2026-05-02 line 1"], 2, "audit 2026")
    >>> drawn.keys, drawn.lot
    (('2026-05-01 line 1', '2026-05-02 line 1'), 3)
    """
    entries = sorted(keys)
    if not entries:
        return note("lot-empty")
    if not seed.strip() or "\n" in seed:
        return note("seed-missing")
    for i, entry in enumerate(entries):
        if not entry or "\n" in entry:
            return note("key-bad")
        if i and entry == entries[i - 1]:
            return note("key-twice", key=entry)
    if not 1 <= size <= len(entries):
        return note("sample-large", size=size, lot=len(entries))
    ranked = sorted(entries, key=lambda entry: hashlib.sha256(f"{seed}\n{entry}".encode()).hexdigest())
    listed = hashlib.sha256("".join(f"{entry}\n" for entry in entries).encode()).hexdigest()
    return Draw(tuple(ranked[:size]), seed, len(entries), listed)


def _none_found(lot: int, bad: int, size: int) -> Fraction:
    """Return C(lot - bad, size) / C(lot, size), by the shorter of its two products."""
    few, many = sorted((bad, size))
    if few + many > lot:
        return Fraction(0)
    return Fraction(math.perm(lot - many, few), math.perm(lot, few))


def _exact(confidence: float) -> Fraction:
    """Return the level as it is written: 0.95 is 95/100, not the nearest binary figure."""
    return Fraction(repr(float(confidence)))


def lot_problem(lot: int, bad: int, confidence: float) -> Note | None:
    """Return why these counts and this level cannot be, if they cannot."""
    if lot < 1:
        return note("lot-empty")
    if not 0 <= bad <= lot:
        return note("count-impossible", part=bad, whole=lot)
    return None if 0.0 < confidence < 1.0 else note("level-impossible", value=confidence)
