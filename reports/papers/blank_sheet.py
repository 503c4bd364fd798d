"""Blank inspection sheets, printed the evening before for the day when no phone works.

The same items in the same order, with what to look at, the limit and the last reading; rows high enough for a gloved
hand. They are typed in later with a photo of the paper and are marked so.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from django.utils import translation
from django.utils.translation import gettext as _

from reports.papers.frame import Paper
from reports.papers.style import (
    BODY,
    BODY_STRONG,
    DENSE,
    DENSE_STRONG,
    GAP_1,
    GAP_2,
    GAP_3,
    LABEL,
    LINE,
    MM,
    SECTION,
    SHEET,
    SMALL,
    SMALL_STRONG,
    sheet_size,
)
from reports.papers.text import Line, Piece, set_words
from reports.papers.times import day_of, long_day, short_day
from reports.papers.words import Data, kind_word, planning_aid, stored_energy

ROW = 9.5 * MM  # rows, lines and cells to write on are never lower
CODE, LAST, LIMIT, FIGURE, BOX = 38.0, 60.0, 76.0, 74.0, 33.0  # widths; the item has what is left
TICK = 5 * MM
CELLS = {"figure": 1, "count": 1, "date": 1, "pair": 2, "dates": 2}  # how many cells a kind of item has


def draw_blank_sheets(data: Data) -> bytes:
    """Draw the sheets of ``data["places"]``, each place on pages of its own.

    A place is ``{"name", "kind", "sheets": [{"label", "items": [{"code", "component", "text", "look", "kind", "unit",
    "limit", "last", "last_on"}]}]}``; figures are text in ``unit``, dates ISO 8601. KeyError for a paper size
    that is not known.
    """
    with translation.override(data.get("language", "en")):
        course, date = data["course"], data["date"]
        paper = Paper(
            size=sheet_size(data.get("paper", "a4")),
            title=_("Blank inspection sheets, %(course)s, %(date)s") % {"course": course.get("name", ""), "date": date},
            author=course.get("operator") or course.get("name", ""),
            subject=_("Inspection by hand when no phone works"),
            language=data.get("language", "en"),
            foot=partial(_foot, data),
            stamps=[_("TRIAL: the paper log is the record")] if data.get("trial") else [],
        )
        for number, place in enumerate(data["places"]):
            if number:
                paper.new_page()
            _Sheets(paper, data, place).draw()
        return paper.finish()


class _Sheets:
    """The sheets of one place."""

    def __init__(self, paper: Paper, data: Data, place: Data) -> None:
        self.paper, self.data, self.place = paper, data, place
        self.x_item = paper.left + CODE
        self.x_boxes = paper.right - 3 * BOX
        self.x_figure = self.x_boxes - FIGURE
        self.x_limit = self.x_figure - LIMIT
        self.x_last = self.x_limit - LAST
        self.label = ""

    def draw(self) -> None:
        paper = self.paper
        name = self.place.get("name") or _("no name")
        paper.outline(name, 0)
        top = paper.y
        side = 190.0
        below = paper.block(paper.right - side, top, long_day(self.data["date"]), SHEET, side, align="right")
        below = paper.block(paper.right - side, below, self.data["course"].get("name", ""), SMALL, side, align="right")
        kind = kind_word(self.place.get("kind"))
        words = [Piece(name, SECTION), Piece(f"  {kind}" if kind else "", SMALL)]
        paper.paragraph(words, SECTION, width=paper.width - side - 10)
        paper.y = min(paper.y, below)
        paper.gap(GAP_1)
        paper.paragraph(
            _(
                "For a day when no phone works. One tick for each item; figures with their unit as read. What is not "
                "sure is not checked, and holds the line. Typed in later with a photo of this sheet."
            ),
            SMALL,
        )
        paper.paragraph(stored_energy(), SMALL)
        paper.gap(GAP_2)
        for number, sheet in enumerate(self.place.get("sheets", ())):
            if number:
                paper.gap(GAP_3)
            self.sheet(sheet)

    def sheet(self, sheet: Data) -> None:
        paper = self.paper
        items = sheet.get("items", ())
        self.label = sheet.get("label") or _("no name")
        paper.need(64 + ROW * 2.5)
        paper.rule(paper.y, width=1.6, grey=0)
        y = paper.y - 22
        self._blank(paper.right - 190, y, _("Begun"), 56)
        self._blank(paper.right - 86, y, _("Done"), 56)
        below = paper.block(paper.left, paper.y - 10, self.label, SECTION, paper.width - 210)
        paper.y = min(below, y) - 10
        self.head()
        with paper.continued(self.again):
            for number, item in enumerate(items):
                self.item(item, is_first=number == 0)
            paper.rule(paper.y, width=LINE, grey=0)
            self.end()

    def again(self) -> None:
        words = _("%(what)s, continued") % {"what": f"{self.place.get('name', '')}, {self.label}"}
        self.paper.paragraph(words, SMALL_STRONG)
        self.paper.gap(GAP_2)
        self.head()

    def head(self) -> None:
        paper, y = self.paper, self.paper.y - LABEL.leading
        for x, words in (
            (paper.left, _("Code")),
            (self.x_item, _("Item and what to look at")),
            (self.x_last, _("Last reading")),
            (self.x_limit, _("Limit")),
            (self.x_figure, _("Figure")),
        ):
            paper.text(x, y, words, LABEL)
        for place, words in enumerate((_("Sound"), _("Defect"), _("Can't check"))):
            lines = set_words(words, LABEL, BOX - 2)
            x = self.x_boxes + place * BOX
            paper.lines(x, y + 7 + (len(lines) - 1) * LABEL.leading, lines, LABEL.leading, align="center", width=BOX)
        paper.gap(LABEL.leading + GAP_1)
        paper.rule(paper.y, width=LINE, grey=0)

    def item(self, item: Data, *, is_first: bool) -> None:
        paper = self.paper
        width = self.x_last - self.x_item - 8
        text = set_words(item.get("text") or "?", DENSE_STRONG, width)
        look = set_words(item["look"], SMALL, width) if item.get("look") else []
        last: Sequence[Line] = set_words(_last(item), DENSE, LAST - 8)
        on = set_words(day_of(str(item["last_on"])), SMALL, LAST - 8) if item.get("last_on") else []
        limit = set_words(_limit(item), DENSE, LIMIT - 8)
        code = set_words(str(item.get("code") or ""), DENSE_STRONG, CODE - 6)
        component = set_words(str(item["component"]), SMALL, CODE - 6) if item.get("component") else []
        needed = max(
            len(code) * DENSE.leading + len(component) * SMALL.leading,
            len(text) * DENSE.leading + len(look) * SMALL.leading,
            len(last) * DENSE.leading + len(on) * SMALL.leading,
            len(limit) * DENSE.leading,
        )
        height = max(ROW, needed + 6)
        paper.need(height)
        if not is_first and paper.y < paper.top - 30:
            paper.rule(paper.y)
        top = paper.y - 2.5
        y = paper.lines(paper.left, top, code, DENSE.leading)
        paper.lines(paper.left, y, component, SMALL.leading)
        y = paper.lines(self.x_item, top, text, DENSE.leading)
        paper.lines(self.x_item, y, look, SMALL.leading)
        y = paper.lines(self.x_last, top, last, DENSE.leading)
        paper.lines(self.x_last, y, on, SMALL.leading)
        paper.lines(self.x_limit, top, limit, DENSE.leading)
        self._cells(item, height)
        for place in range(3):
            x = self.x_boxes + place * BOX + (BOX - TICK) / 2
            paper.box(x, paper.y - (ROW + TICK) / 2, TICK, TICK, line=0.9)
        paper.gap(height)

    def _cells(self, item: Data, height: float) -> None:
        """Where a figure is written: one cell with the unit at its right, two for a pair of readings."""
        cells = CELLS.get(str(item.get("kind")), 0)
        if not cells:
            return
        paper, high = self.paper, ROW - 5
        unit = str(item.get("unit") or "")
        room = FIGURE - 8
        top = paper.y - 2.5
        wide = room / cells
        for cell in range(cells):
            paper.box(self.x_figure + cell * wide, top - high, wide - (2 if cells > 1 else 0), high, line=0.7)
        if unit:
            right = self.x_figure + room - 3 - (2 if cells > 1 else 0)
            paper.text(right, top - high + 3, unit, LABEL, align="right")

    def end(self) -> None:
        """Note lines and the signature with its meaning."""
        paper = self.paper
        paper.need(ROW * 4 + 30)
        paper.text(paper.left, paper.y - 10, _("Notes, defects, tag numbers"), LABEL)
        for _row in range(2):
            paper.gap(ROW)
            paper.rule(paper.y)
        paper.gap(GAP_2)
        meaning = _("By signing I say: I inspected these items at the place and wrote down what I found.")
        paper.paragraph(meaning, BODY_STRONG)
        paper.gap(ROW)
        step = paper.width / 4
        for place, (label, share) in enumerate(
            ((_("Name"), 1.25), (_("Signature"), 1.4), (_("Date"), 0.65), (_("Time"), 0.7))
        ):
            x = paper.left + step * (0, 1.25, 2.65, 3.3)[place]
            paper.rule(paper.y, x, x + step * share - 10, width=LINE, grey=0)
            paper.text(x, paper.y - 9, label, LABEL)
        paper.gap(14)

    def _blank(self, x: float, y: float, label: str, width: float) -> None:
        wide = self.paper.text(x, y, label, BODY) + 5
        self.paper.rule(y - 2, x + wide, x + wide + width, width=LINE, grey=0)


def _limit(item: Data) -> str:
    """Return the limit; where a figure has none it is said so, and a look has a dash."""
    return str(item.get("limit") or (_("none stated") if item.get("kind") in CELLS else "–"))


def _last(item: Data) -> str:
    """Return the last reading, a figure with its unit."""
    last = str(item.get("last") or "–")
    return f"{last} {item['unit']}" if item.get("unit") and last[-1].isdigit() else last


def _foot(data: Data, paper: Paper, page: int, pages: int) -> None:
    y = paper.bottom - 12
    paper.rule(y + 3)
    number = _("Page %(page)s of %(pages)s") % {"page": page, "pages": pages}
    wide = paper.text(paper.right, y - LABEL.leading, number, SMALL_STRONG, align="right")
    words = " / ".join((data["course"].get("name", ""), short_day(data["date"]), _("blank inspection sheets")))
    below = paper.block(paper.left, y, words, LABEL, paper.width - wide - 12)
    paper.block(paper.left, below - 1, planning_aid(), LABEL, paper.width)
