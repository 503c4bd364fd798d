"""Sheets and rolls of labels by their measures: common sizes, from memory and by no source; no maker is named.

The labels of a sheet lie in its middle, so that what is left over is the same on both sides, above and below.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from reportlab.lib.pagesizes import A4, letter

from reports.papers.style import MM

INCH = 72.0
EDGE = 5 * MM  # what office printers leave white at the edge of a sheet; judgement
INNER = 1.5 * MM


class Box(NamedTuple):
    """One label on its page, in points from the page's lower left corner."""

    left: float
    bottom: float
    right: float
    top: float


@dataclass(frozen=True, slots=True)
class LabelSize:
    """Labels of one size: ``width`` and ``height`` of one and ``gap`` between columns, all in points."""

    name: str
    words: str
    width: float
    height: float
    page: tuple[float, float]
    across: int = 1
    down: int = 1
    gap: float = 0.0

    @property
    def count(self) -> int:
        """How many labels a sheet has; a roll gives one at a time."""
        return self.across * self.down

    @property
    def margins(self) -> tuple[float, float]:
        """What is left beside the labels and above them."""
        wide = self.across * self.width + (self.across - 1) * self.gap
        return (self.page[0] - wide) / 2, (self.page[1] - self.down * self.height) / 2

    @property
    def inset(self) -> float:
        """How far from the label's edge print begins: where labels reach to the sheet's edge no printer gets there."""
        return max(INNER, EDGE - min(self.margins)) if self.count > 1 else INNER

    def boxes(self) -> Iterator[Box]:
        """Yield the labels of one sheet, row by row from the top, each row from the left."""
        left, above = self.margins
        for row in range(self.down):
            top = self.page[1] - above - row * self.height
            for column in range(self.across):
                x = left + column * (self.width + self.gap)
                yield Box(x, top - self.height, x + self.width, top)


def _metric(name: str, words: str, width: float, height: float, across: int, down: int, gap: float = 0.0) -> LabelSize:
    return LabelSize(name, words, width * MM, height * MM, A4, across, down, gap * MM)


def _inches(name: str, words: str, width: float, height: float, across: int, down: int, gap: float) -> LabelSize:
    return LabelSize(name, words, width * INCH, height * INCH, letter, across, down, gap * INCH)


def _roll(name: str, words: str, width: float, height: float) -> LabelSize:
    return LabelSize(name, words, width * MM, height * MM, (width * MM, height * MM))


SIZES = {
    one.name: one
    for one in (
        _metric("a4-24", "A4, 3 × 8, 70 × 37 mm", 70, 37, 3, 8),
        _metric("a4-21", "A4, 3 × 7, 63.5 × 38.1 mm", 63.5, 38.1, 3, 7, 2.54),
        _metric("a4-14", "A4, 2 × 7, 99.1 × 38.1 mm", 99.1, 38.1, 2, 7, 2.54),
        _metric("a4-8", "A4, 2 × 4, 99.1 × 67.7 mm", 99.1, 67.7, 2, 4, 2.54),
        _inches("letter-30", "US Letter, 3 × 10, 2 5/8 × 1 in", 2.625, 1, 3, 10, 0.125),
        _inches("letter-10", "US Letter, 2 × 5, 4 × 2 in", 4, 2, 2, 5, 0.1875),
        _roll("roll-62", "Roll, 62 × 29 mm", 62, 29),
        _roll("roll-50", "Roll, 50 × 25 mm", 50, 25),
    )
}
