"""A paper: pages of one size, a foot that knows how many pages there are, and a pen that moves downwards."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from io import BytesIO
from typing import Any

from reportlab.pdfgen.canvas import Canvas

from reports.papers import marks
from reports.papers.fonts import HEAVY, REGULAR, clean, pieces, text_width
from reports.papers.style import BAR, GAP_1, GAP_2, HAIR, HAIR_GREY, MM, SECTION, Type
from reports.papers.text import Line, Words, line_width, set_words, width_of

Margins = tuple[float, float, float, float]  # left, right, top, bottom, in points
MARGINS: Margins = (19 * MM, 14 * MM, 13 * MM, 21 * MM)  # left is wide enough to be punched


def _date(canvas: Canvas, made_at: datetime) -> None:
    """Give the file the time of what it shows instead of the library's fixed one, so that it stays the same."""
    stamp = canvas._doc._timeStamp
    stamp.t, stamp.lt = int(made_at.timestamp()), made_at.timetuple()
    stamp.YMDhms = tuple(made_at.timetuple())[:6]


class Paper:
    """One PDF in the making. ``y`` is the height up to which the page is still empty; it falls.

    ``head`` draws the top of every page but the first and ``foot`` the bottom of every page; both are called with this
    paper, the page's number and the number of pages, when all pages are there. ``stamps`` are words that lie grey under
    everything, on every page.
    """

    def __init__(
        self,
        *,
        size: tuple[float, float],
        title: str,
        author: str,
        subject: str,
        language: str,
        margins: Margins = MARGINS,
        head: Callable[[Paper, int, int], None] | None = None,
        head_height: float = 0.0,
        foot: Callable[[Paper, int, int], None] | None = None,
        stamps: Sequence[str] = (),
        made_at: str = "",
    ) -> None:
        self._out = BytesIO()
        # Invariant: no clock and no random number in the file, so the same data gives the same bytes.
        self.canvas = Canvas(
            self._out,
            pagesize=size,
            invariant=1,
            pageCompression=1,
            pdfVersion=(1, 7),
            lang=language,
            initialFontName=REGULAR,
        )
        if made_at:
            _date(self.canvas, datetime.fromisoformat(made_at).astimezone(UTC))
        self.canvas.setTitle(clean(title))
        self.canvas.setAuthor(clean(author))
        self.canvas.setSubject(clean(subject))
        self.canvas.setCreator("Lineworthy")
        self.canvas.setViewerPreference("DisplayDocTitle", "true")
        self.size = size
        left, right, top, bottom = margins
        self.left, self.right = round(left, 2), round(size[0] - right, 2)
        self.top, self.bottom = size[1] - top, bottom
        self.width = self.right - self.left
        self._head, self._head_height, self._foot, self._stamps = head, head_height, foot, stamps
        self._pages: list[dict[str, Any]] = []
        self._marks: list[list[tuple[str, int]]] = [[]]
        self._continued: list[Callable[[], None]] = []
        self._type: Type | None = None  # what the page's text and lines are set to; None where it is not known
        self._line: tuple[float, float] | None = None
        self.y = self.top
        self._begin_ink()
        self._stamp()

    # --- pages

    @property
    def body_height(self) -> float:
        """Height of an empty page after the first."""
        return self.top - self._head_height - self.bottom

    def need(self, height: float) -> None:
        """Begin a new page unless ``height`` is left on this one."""
        if self.y - height < self.bottom and not self._is_fresh():
            self.new_page()

    def _is_fresh(self) -> bool:
        return self.y >= self._fresh_y

    def new_page(self) -> None:
        # The page is only put by: its foot names the number of pages, which is not known yet.
        self._dry_ink()
        self._pages.append(dict(self.canvas.__dict__))
        self.canvas._startPage()
        self._marks.append([])
        self._begin_ink()
        self.y = self.top - self._head_height
        self._stamp()
        for draw in tuple(self._continued):
            draw()
        self._fresh_y = self.y

    @contextmanager
    def continued(self, draw: Callable[[], None]) -> Iterator[None]:
        """Within the block ``draw`` is called at the top of every new page: a heading or the head of a table."""
        self._continued.append(draw)
        try:
            yield
        finally:
            self._continued.remove(draw)

    def outline(self, title: str, level: int) -> None:
        """Name this place in the reader's table of contents."""
        self._marks[-1].append((clean(title), level))

    def finish(self) -> bytes:
        """Draw heads and feet and return the file."""
        self._dry_ink()
        self._pages.append(dict(self.canvas.__dict__))
        count, level_before = len(self._pages), -1
        for number, state in enumerate(self._pages, 1):
            self.canvas.__dict__.update(state)
            self._begin_ink()
            for place, (title, level) in enumerate(self._marks[number - 1]):
                key = f"p{number}-{place}"
                level = min(level, level_before + 1)  # the reader's list may not skip a level
                self.canvas.bookmarkPage(key)
                self.canvas.addOutlineEntry(title, key, level, closed=level > 0)
                level_before = level
            if self._head and number > 1:
                self._head(self, number, count)
            if self._foot:
                self._foot(self, number, count)
            self._dry_ink()
            self.canvas.showPage()
        self.canvas.save()
        return self._out.getvalue()

    def _stamp(self) -> None:
        """Lay the stamps under the page."""
        self._fresh_y = self.y
        canvas, (width, height) = self.canvas, self.size
        for row, words in enumerate(self._stamps):
            words = clean(words)
            share = 0.82 if len(self._stamps) == 1 else 0.68  # beside the diagonal there is less room
            size = min(96.0, share * (width**2 + height**2) ** 0.5 / text_width(words, HEAVY, 1))
            canvas.saveState()
            canvas.translate(width / 2, height / 2)
            canvas.rotate(52 if height > width else 33)
            canvas.setFillGray(0.88)
            canvas.setFont(HEAVY, size)
            canvas.drawCentredString(0, (len(self._stamps) / 2 - row - 0.8) * 120, words)
            canvas.restoreState()

    # --- the pen

    def _begin_ink(self) -> None:
        """Begin the page's one text object: a new one for every word would cost a quarter of the time."""
        self._ink = self.canvas.beginText(0, 0)
        self._type = self._line = None

    def _dry_ink(self) -> None:
        """Lay the page's text over its lines and shapes."""
        self.canvas.drawText(self._ink)

    def text(self, x: float, y: float, words: str, kind: Type, *, align: str = "left") -> float:
        """Write one line with its base line at ``y``; return its width. Does not move the pen."""
        words = clean(words)
        if not words:
            return 0.0
        width = text_width(words, kind.face, kind.size)
        if align != "left":
            x -= width if align == "right" else width / 2
        self._write(x, y, words, kind)
        return width

    def _write(self, x: float, y: float, words: str, kind: Type) -> None:
        if words.isascii():  # nearly all of it: one face writes it
            if self._type is not kind:
                self._ink.setFillGray(kind.grey)
                self._ink.setFont(kind.face, kind.size, kind.leading)
                self._type = kind
            self._ink.setTextOrigin(round(x, 2), round(y, 2))
            self._ink.textLine(words)
            return
        parts = pieces(words, kind.face)
        for place, (face, part) in enumerate(parts, 1):
            if self._type is not kind or face != kind.face:
                self._ink.setFillGray(kind.grey)
                self._ink.setFont(face, kind.size, kind.leading)
                self._type = kind if face == kind.face else None
            self._ink.setTextOrigin(round(x, 2), round(y, 2))
            self._ink.textLine(part)
            if place < len(parts):
                x += text_width(part, face, kind.size)

    def set_line(self, x: float, y: float, line: Line) -> None:
        """Write a line that has been set."""
        for span in line:
            if span.text:
                self._write(x + span.x, y, span.text, span.type)
                if span.struck:
                    middle = y + span.type.size * 0.25
                    self.rule(middle, x + span.x, x + span.x + span.width, width=0.9, grey=0)

    def lines(
        self, x: float, y: float, lines: Sequence[Line], leading: float, *, align: str = "left", width: float = 0
    ) -> float:
        """Write lines under one another, the top of the first at ``y``; return the height below the last."""
        for line in lines:
            y -= leading
            shift = (width - line_width(line)) / (1 if align == "right" else 2) if align != "left" else 0
            self.set_line(x + shift, y + leading * 0.26, line)
        return y

    def block(self, x: float, y: float, words: Words, kind: Type, width: float, *, align: str = "left") -> float:
        """Write a paragraph whose top is at ``y`` without moving the pen; return the height below it."""
        return self.lines(x, y, set_words(words, kind, width), kind.leading, align=align, width=width)

    def _stroke(self, width: float, grey: float) -> None:
        if self._line != (width, grey):
            self.canvas.setStrokeGray(grey)
            self.canvas.setLineWidth(width)
            self._line = (width, grey)

    def rule(
        self,
        y: float,
        x1: float | None = None,
        x2: float | None = None,
        *,
        width: float = HAIR,
        grey: float = HAIR_GREY,
    ) -> None:
        self._stroke(width, grey)
        y = round(y, 2)
        self.canvas.line(self.left if x1 is None else x1, y, self.right if x2 is None else x2, y)

    def upright(self, x: float, y1: float, y2: float, *, width: float = HAIR, grey: float = HAIR_GREY) -> None:
        self._stroke(width, grey)
        self.canvas.line(round(x, 2), round(y1, 2), round(x, 2), round(y2, 2))

    def box(self, x: float, y: float, width: float, height: float, *, line: float = HAIR, grey: float = 0.0) -> None:
        self._stroke(line, grey)
        self.canvas.rect(x, y, width, height)

    def mark(self, state: str, x: float, y: float, height: float) -> float:
        """Draw the shape of a state, its lower left corner at (x, y); return its width."""
        return marks.draw(self.canvas, state, round(x, 2), round(y, 2), height)

    def banner(self, words: str, kind: Type) -> None:
        """Write white on a black strip over the whole width and move the pen below it."""
        lines = set_words(words, kind, self.width - 2 * GAP_2)
        height = len(lines) * kind.leading + 2 * GAP_1
        self.need(height)
        self.canvas.setFillGray(0)
        self.canvas.rect(self.left, self.y - height, self.width, height, stroke=0, fill=1)
        white = Type(kind.face, kind.size, kind.leading, 1.0)
        self.lines(self.left + GAP_2, self.y - GAP_1, set_words(words, white, self.width - 2 * GAP_2), kind.leading)
        self.y -= height + GAP_2

    def lift(self) -> None:
        """Forget how lines were drawn last: somebody drew on the canvas itself."""
        self._line = None

    # --- what moves the pen

    def gap(self, height: float) -> None:
        self.y -= height

    def paragraph(
        self,
        words: Words,
        kind: Type,
        *,
        indent: float = 0.0,
        width: float | None = None,
        label: str = "",
        bar: float = 0.0,
    ) -> None:
        """Write a paragraph, over pages where it must. A label stands before its first line, within the indent; ``bar``
        is the thickness of a black bar beside it."""
        lines = set_words(words, kind, (self.width if width is None else width) - indent)
        self.need(min(len(lines), 2) * kind.leading)
        if label:
            self.text(self.left + indent - GAP_2, self.y - kind.leading * 0.74, label, kind, align="right")
        for line in lines:
            self.need(kind.leading)
            if bar:
                self.bar(self.y, self.y - kind.leading, bar)
            self.y -= kind.leading
            self.set_line(self.left + indent, self.y + kind.leading * 0.26, line)

    def bar(self, top: float, bottom: float, width: float) -> None:
        """Draw a black bar in the left margin, beside what one must not overlook."""
        self.upright(self.left - 5, top, bottom, width=width, grey=0)

    def section(self, title: str, *, keep: float = 60, level: int = 0) -> None:
        """Open a section: a heavy rule, then its title. ``keep`` is the height that must follow on the same page."""
        self.need(SECTION.leading + 2 * GAP_2 + keep)
        if not self._is_fresh():
            self.gap(GAP_2)
        self.rule(self.y, width=BAR, grey=0)
        self.gap(GAP_1)
        self.outline(title, level)
        self.paragraph(title, SECTION)
        self.gap(GAP_1)


def fit(words: str, kind: Type, width: float) -> Type:
    """Return ``kind``, smaller where ``words`` would be wider than ``width``; not below half."""
    wide = width_of(words, kind)
    if wide <= width:
        return kind
    share = max(0.5, width / wide)
    return Type(kind.face, kind.size * share, kind.leading * share, kind.grey)
