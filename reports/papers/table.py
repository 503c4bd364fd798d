"""Tables drawn straight onto the canvas: hairlines, a head repeated on every page, figures under one another."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from reports.papers import marks
from reports.papers.frame import Paper
from reports.papers.style import DENSE, DENSE_STRONG, GAP_1, LABEL, LINE, Type
from reports.papers.text import Line, Words, line_width, set_words, width_of

_POINT = re.compile(r"\d([.,]|(?!\d))")
GUTTER = 7.0


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its title, its width in points, and how it is set: ``left``, ``right``, ``figure`` or ``mark``.

    A ``figure`` stands with its decimal point under the others'.
    """

    title: str
    width: float
    align: str = "left"
    type: Type = DENSE


@dataclass(frozen=True, slots=True)
class Mark:
    """A cell with the shape and the word of a state."""

    state: str
    word: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A cell with a figure and, struck through below it, what stood there before an amendment."""

    text: str
    before: str


Cell = Words | Mark | Figure


@dataclass(frozen=True, slots=True)
class _Set:
    """A cell that has been set: its lines, how far each is moved right, and the shape before the first."""

    lines: Sequence[Line]
    shifts: list[float]
    state: str = ""


class Table:
    """Rows under a head. Use as ``with table.on_pages(): table.row(...)`` so that the head is repeated."""

    def __init__(self, paper: Paper, columns: Sequence[Column], *, indent: float = 0.0, gutter: float = GUTTER) -> None:
        self.paper, self.columns, self.gutter = paper, columns, gutter
        self.lefts: list[float] = []
        x = paper.left + indent
        for column in columns:
            self.lefts.append(x)
            x += column.width
        self.left, self.right = paper.left + indent, x
        self._first = True

    @contextmanager
    def on_pages(self, keep: float = 28) -> Iterator[None]:
        """Draw the head now and again at the top of every new page within the block."""
        self.paper.need(keep)
        self.head()
        with self.paper.continued(self.head):
            yield

    def head(self) -> None:
        paper = self.paper
        titles = [set_words(c.title, LABEL, c.width - self.gutter) for c in self.columns]
        height = max(map(len, titles)) * LABEL.leading
        for column, left, lines in zip(self.columns, self.lefts, titles, strict=True):
            top = paper.y - height + len(lines) * LABEL.leading  # titles stand on the rule
            align = "right" if column.align in ("right", "figure") else "left"
            paper.lines(left, top, lines, LABEL.leading, align=align, width=column.width - self.gutter)
        paper.y -= height + GAP_1 * 0.6
        paper.rule(paper.y, self.left, self.right, width=LINE, grey=0)
        self._first = True

    def begin(self) -> None:
        """Let the next row be a first one, with no hairline above it."""
        self._first = True

    def row(self, cells: Sequence[Cell], *, pad: float = 1.7, keep: float = 0.0, bar: float = 0.0) -> None:
        """Draw one row.

        One that is higher than what is left of a page goes to the next; one that is higher than a page is split between
        lines. ``keep`` is the height that must follow on the same page, ``bar`` the thickness of a bar beside the row.
        """
        paper = self.paper
        ready = [self._set(column, cell) for column, cell in zip(self.columns, cells, strict=True)]
        leading = max(column.type.leading for column in self.columns)
        count = max(len(cell.lines) for cell in ready)
        if (height := count * leading + 2 * pad + keep) < 0.6 * paper.body_height:
            paper.need(height)
        if not self._first:
            paper.rule(paper.y, self.left, self.right)
        self._first = False
        if bar:
            paper.bar(paper.y - 1, paper.y - pad, bar)
        paper.y -= pad
        done = 0
        while done < count:
            paper.need(leading)
            room = max(1, int((paper.y - paper.bottom) / leading))
            for column, left, cell in zip(self.columns, self.lefts, ready, strict=True):
                self._draw(column, left, cell, done, done + room, leading)
            height = min(room, count - done) * leading
            if bar:
                paper.bar(paper.y, paper.y - height, bar)
            paper.y -= height
            done += room
        if bar:
            paper.bar(paper.y, paper.y - pad, bar)
        paper.y -= pad

    def _set(self, column: Column, cell: Cell) -> _Set:
        width = column.width - self.gutter
        if isinstance(cell, Mark):
            inset = marks.width(cell.state, self._mark_height(column, cell.state)) + 3.5
            kind = column.type if cell.state == "ok" else DENSE_STRONG
            lines = set_words(cell.word, kind, width - inset)
            return _Set(lines, [inset] * len(lines), cell.state)
        if isinstance(cell, Figure):
            now, before = self._set(column, cell.text), self._set(column, cell.before)
            struck = [tuple(span._replace(struck=True) for span in line) for line in before.lines]
            return _Set([*now.lines, *struck], now.shifts + before.shifts)
        shift = _decimal_shift(cell, column.type, width) if column.align == "figure" and isinstance(cell, str) else None
        if shift is not None:
            return _Set(set_words(cell, column.type, width), [shift])
        lines = set_words(cell, column.type, width)
        if column.align in ("right", "figure"):
            return _Set(lines, [width - line_width(line) for line in lines])
        return _Set(lines, [0.0] * len(lines))

    def _draw(self, column: Column, left: float, cell: _Set, start: int, end: int, leading: float) -> None:
        y = self.paper.y
        if cell.state and start == 0:
            height = self._mark_height(column, cell.state)
            self.paper.mark(cell.state, left, y - leading * 0.5 - height * 0.5, height)
        for line, shift in zip(cell.lines[start:end], cell.shifts[start:end], strict=True):
            y -= leading
            self.paper.set_line(left + shift, y + leading * 0.27, line)

    @staticmethod
    def _mark_height(column: Column, state: str) -> float:
        return column.type.size * 1.02


def _decimal_shift(text: str, kind: Type, width: float) -> float | None:
    """Return how far a figure is moved right so that its decimal point stands at two thirds of the column.

    None where the figure would not fit so.
    """
    found = _POINT.search(text)
    if not found:
        return None
    before = width_of(text[: found.start() + 1], kind)
    shift = width * 0.66 - before
    if shift < 0 or shift + width_of(text, kind) > width + 0.01:
        return None
    return shift
