"""The wear of a part on paper: each figure with its charts, what they say, and the readings as a table."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from django.utils import translation
from django.utils.translation import gettext as _

from reports.papers.chart import draw_chart
from reports.papers.frame import Paper
from reports.papers.style import BODY, BODY_STRONG, DENSE, GAP_1, GAP_2, GAP_3, LABEL, SMALL, TITLE, sheet_size
from reports.papers.table import Column, Table
from reports.papers.times import day_of, long_day
from reports.papers.words import planning_aid

Data = dict[str, Any]


def draw_wear_sheet(data: Data) -> bytes:
    """Draw the wear of one part.

    ``data``: ``course`` {name, operator}, ``part`` {tag, label, kind}, ``date`` (ISO 8601), ``paper``, ``language``,
    ``figures`` [{title, first, said, drawings, rows}] with rows of (date, riders, reading, by date, by riders) as text.
    KeyError for a paper size that is not known.
    """
    with translation.override(data.get("language", "en")):
        part = data["part"]
        paper = Paper(
            size=sheet_size(data.get("paper", "a4")),
            title=_("Wear of %(tag)s, %(date)s") % {"tag": part["tag"], "date": data["date"]},
            author=data["course"].get("operator") or data["course"].get("name", ""),
            subject=_("Readings of a part against date and riders"),
            language=data.get("language", "en"),
            foot=partial(_foot, data),
        )
        paper.text(paper.left, paper.y - 7, _("Wear of a part"), LABEL)
        paper.gap(11)
        paper.paragraph(f"{part['tag']} {part.get('label', '')}".strip(), TITLE)
        paper.paragraph(f"{data['course'].get('name', '')}. {long_day(data['date'])}.", BODY)
        paper.paragraph(_("No date said here puts a part back into service, and none keeps one in it."), BODY)
        paper.gap(GAP_2)
        for figure in data["figures"]:
            _figure(paper, figure)
        if not data["figures"]:
            paper.paragraph(_("No figure of this part is measured."), BODY)
        return paper.finish()


def _figure(paper: Paper, figure: Data) -> None:
    paper.section(figure["title"])
    paper.paragraph(figure["first"], BODY_STRONG)
    for sentence in figure["said"]:
        paper.paragraph(sentence, SMALL, indent=12, label="–")
    paper.gap(GAP_2)
    for drawing in figure["drawings"]:
        draw_chart(paper, drawing)
    _rows(paper, figure["rows"])
    paper.gap(GAP_3)


def _rows(paper: Paper, rows: Sequence[Sequence[str]]) -> None:
    titles = (_("Date"), _("Riders"), _("Reading"), _("Fitted by date"), _("Fitted by riders"))
    step = paper.width / len(titles)
    table = Table(paper, [Column(title, step - 5) for title in titles], gutter=5)
    with table.on_pages(keep=40):
        for on, riders, read, by_date, by_riders in rows:
            table.row((day_of(on), riders, read, by_date, by_riders), keep=DENSE.leading)


def _foot(data: Data, paper: Paper, page: int, pages: int) -> None:
    y = paper.bottom - 12
    paper.rule(y + 3)
    number = _("Page %(page)s of %(pages)s") % {"page": page, "pages": pages}
    wide = paper.text(paper.right, y - LABEL.leading, number, SMALL, align="right")
    below = paper.block(paper.left, y, f"{data['course'].get('name', '')} / {data['part']['tag']}", LABEL, 300)
    paper.block(paper.left, below - GAP_1 * 0.4, planning_aid(), LABEL, paper.width - wide - 12)
