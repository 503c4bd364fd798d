"""What was computed for the lines of the day: its edges, from what, and what to mind. Drawn from the snapshot."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from reports.papers.day import DayPaper, sentences
from reports.papers.style import DENSE, DENSE_STRONG, GAP_1, GAP_3, SMALL, SMALL_STRONG
from reports.papers.table import Column, Table
from reports.papers.text import Piece
from reports.papers.words import Data


def draw(day: DayPaper) -> None:
    """Draw the section; nothing where no line has anything computed."""
    lines = [line for line in day.data.get("lines", ()) if line.get("computed")]
    if not lines:
        return
    paper = day.paper
    paper.section(_("Computed for the day"))
    paper.paragraph(
        _("It can only make the day's weights and winds narrower than posted and tested; it opens no line."), DENSE
    )
    paper.gap(GAP_1)
    for line in lines:
        _line(day, line)
    for sentence in shared([line["computed"].get("warnings", ()) for line in lines]):
        paper.paragraph(sentence, SMALL, indent=12, label="–")
    paper.gap(GAP_3)


def shared(warnings: Sequence[Sequence[str]]) -> list[str]:
    """Return the warnings that all lines have, in their order; what is one line's own stands with it."""
    told = [one for one in warnings if one]
    return [one for one in told[0] if all(one in other for other in told)] if told else []


def _line(day: DayPaper, line: Data) -> None:
    paper, computed = day.paper, line["computed"]
    everywhere = shared([one["computed"].get("warnings", ()) for one in day.data["lines"] if one.get("computed")])
    paper.need(60)
    name = _("Line %(number)s %(name)s") % {"number": line.get("number", "?"), "name": line.get("name", "")}
    paper.paragraph([Piece(f"{name}. ", DENSE_STRONG), Piece(computed.get("short", ""), DENSE)], DENSE)
    if computed.get("edges"):
        table = Table(
            paper,
            [Column(_("What"), 120), Column(_("Computed"), 110), Column(_("What lies beyond"), paper.width - 240)],
            gutter=5,
        )
        with table.on_pages(keep=40):
            for edge in computed["edges"]:
                table.row((edge["label"], edge["value"], edge["why"]), keep=DENSE.leading)
    given = "; ".join(f"{one['label']}: {one['value']}" for one in computed.get("given", ()))
    if given:
        paper.paragraph([Piece(_("From") + " ", SMALL_STRONG), Piece(f"{given}.", SMALL)], SMALL, indent=12)
    own = [one for one in computed.get("warnings", ()) if one not in everywhere]
    paper.paragraph(sentences(*computed.get("left_out", ()), *own), SMALL, indent=12)
    paper.gap(GAP_1)
