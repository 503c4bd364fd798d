"""The out-of-service tag: two on a sheet, to be cut, punched and tied to the part.

The legend "Do not operate" and the hazard follow 29 CFR 1910.147(c)(5)(iii); that a tag names who tied it follows
(c)(5)(ii); how it is attached (c)(5)(ii)(C)(2); who takes it off (e)(3). One print and format for the whole course
(WAC 296-803-40020). Tags are numbered stock, printed beforehand without an item: the same drawing with lines to
write on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import translation
from django.utils.translation import gettext as _

from reports.papers.code import draw_code
from reports.papers.fonts import HEAVY, REGULAR, STRONG
from reports.papers.frame import Paper, fit
from reports.papers.style import HAIR, MM, Type, sheet_size
from reports.papers.text import Line, set_words
from reports.papers.times import CourseTime
from reports.papers.words import Data

LEGEND = Type(HEAVY, 60, 62, 1.0)
SECOND = Type(HEAVY, 20, 24, 1.0)
ORDERS = Type(STRONG, 13, 16)
NUMBER = Type(HEAVY, 40, 42)
ITEM = Type(STRONG, 16, 19)
FIELD = Type(REGULAR, 12, 14.5)
FIELD_LABEL = Type(REGULAR, 8.5, 10.5)
SMALL = Type(REGULAR, 7.6, 9.6)
SMALL_STRONG = Type(STRONG, 7.6, 9.6)
EDGE = 9 * MM
WRITE = 9.5 * MM  # height of a row that is written on by hand
QR_SIDE = 23 * MM


@dataclass(frozen=True, slots=True)
class _Place:
    """The part of a sheet that one tag fills."""

    left: float
    right: float
    top: float
    bottom: float

    @property
    def width(self) -> float:
        return self.right - self.left


def draw_tags(data: Data) -> bytes:
    """Draw the tags in ``data["tags"]``, two on a sheet.

    A tag is ``{"number", "item", "component", "place", "defect", "limit", "by", "at", "finding", "address"}``; ``at``
    is an ISO 8601 instant with offset. What is absent is a line to write on. ValueError for a time without an offset,
    KeyError for a paper size or zone that is not known.
    """
    with translation.override(data.get("language", "en")):
        course = data["course"]
        paper = Paper(
            size=sheet_size(data.get("paper", "a4"), across=True),
            title=_("Out-of-service tags, %(course)s") % {"course": course.get("name", "")},
            author=course.get("operator") or course.get("name", ""),
            subject=_("Do not operate"),
            language=data.get("language", "en"),
            margins=(0, 0, 0, 0),
        )
        wide, high = paper.size
        for number, tag in enumerate(data["tags"]):
            if number and number % 2 == 0:
                paper.new_page()
            left = (number % 2) * wide / 2
            if number % 2 == 0:
                _cut_line(paper, wide / 2, high)
            place = _Place(left + EDGE, left + wide / 2 - EDGE, high - EDGE, EDGE)
            time = CourseTime(course["tz"], tag["at"][:10]) if tag.get("at") else None
            _tag(paper, place, data, tag, time)
        return paper.finish()


def draw_blank_tags(numbers: Sequence[str], course: Data, *, paper: str = "a4", language: str = "en") -> bytes:
    """Draw numbered tags without an item: the stock that is printed beforehand. ``course`` is as for ``draw_tags``."""
    tags = [{"number": number} for number in numbers]
    return draw_tags({"paper": paper, "language": language, "course": course, "tags": tags})


def _cut_line(paper: Paper, x: float, high: float) -> None:
    paper.canvas.saveState()
    paper.canvas.setStrokeGray(0)
    paper.canvas.setDash([4, 4])
    paper.canvas.setLineWidth(0.5)
    paper.canvas.line(x, 12, x, high - 12)
    paper.canvas.restoreState()


def _tag(paper: Paper, place: _Place, data: Data, tag: Data, time: CourseTime | None) -> None:
    y = _hole(paper, place)
    y = _legend(paper, place, y)
    y = _number(paper, place, data, tag, y)
    bottom = _small_print(paper, place)
    _fields(paper, place, tag, time, y, bottom + 4)


def _hole(paper: Paper, place: _Place) -> float:
    """The mark where the tag is punched, with the rings of a reinforcement."""
    canvas, x, y = paper.canvas, (place.left + place.right) / 2, place.top - 15
    canvas.saveState()
    canvas.setStrokeGray(0)
    canvas.setLineWidth(0.8)
    canvas.circle(x, y, 3 * MM)
    canvas.circle(x, y, 5.2 * MM)
    canvas.setLineWidth(HAIR)
    canvas.lines([(x - 22, y, x + 22, y), (x, y - 17, x, y + 17)])
    canvas.restoreState()
    paper.text(place.left, y - 3, _("Punch here, tie through."), FIELD_LABEL)
    return y - 22


def _legend(paper: Paper, place: _Place, top: float) -> float:
    legend, second = _("DO NOT OPERATE"), _("OUT OF SERVICE")
    kind = fit(legend, LEGEND, place.width - 28)
    height = kind.leading + SECOND.leading + 10
    paper.canvas.setFillGray(0)
    paper.canvas.rect(place.left, top - height, place.width, height, stroke=0, fill=1)
    middle = (place.left + place.right) / 2
    paper.text(middle, top - kind.size * 1.02, legend, kind, align="center")
    paper.text(middle, top - height + 12, second, fit(second, SECOND, place.width - 24), align="center")
    y = top - height - 5
    orders = _("Do not start. Do not open. Do not close.\nDo not use, adjust or move. Send no rider.")
    y = paper.block(place.left, y, orders, ORDERS, place.width, align="center")
    hazard = _("Hazard: this part can fail under load, and energy may be stored in it. Using it can kill.")
    return paper.block(place.left, y - 2, hazard, FIELD, place.width, align="center") - 5


def _number(paper: Paper, place: _Place, data: Data, tag: Data, top: float) -> float:
    paper.rule(top, place.left, place.right, width=1.6, grey=0)
    number = str(tag.get("number") or "")
    paper.text(place.left, top - 12, _("Tag number"), FIELD_LABEL)
    if number:
        kind, lines = fit_lines(number, fit(number, NUMBER, place.width * 0.5), place.width - 44, 42)
        paper.lines(place.left, top - 46 + kind.leading * 0.74, lines[:1], kind.leading)
    else:
        paper.rule(top - 46, place.left, place.left + 120, width=0.8, grey=0)
    paper.mark("withdraw", place.right - 34, top - 46, 34)
    name = data["course"].get("name", "")
    kind, lines = fit_lines(name, FIELD_LABEL, place.width - 120, 14)
    paper.lines(place.left + 76, top - 4, lines, kind.leading, align="right", width=place.width - 120)
    paper.rule(top - 54, place.left, place.right, width=1.6, grey=0)
    return top - 54


def _small_print(paper: Paper, place: _Place) -> float:
    """The rules, at the foot of the tag; return the height above them."""
    removal = _(
        "Only the person who tied this tag takes it off. Anybody else only when the employer's written procedure is "
        "followed and three things are confirmed: that person is not at the site; every reasonable effort was made to "
        "tell that person; that person knows before work begins again (29 CFR 1910.147(e)(3)). Taking the tag off is "
        "no release: the part is released in the record by a second person."
    )
    attachment = _(
        "Tie with a one-piece nylon cable tie fit for all weathers or stronger: not reusable, attached by hand, "
        "self-locking, not releasable, holding at least 50 lb, 222 N (29 CFR 1910.147(c)(5)(ii)(C)(2))."
    )
    lines = set_words(removal, SMALL_STRONG, place.width)
    more = set_words(attachment, SMALL, place.width)
    top = place.bottom + (len(lines) + len(more)) * SMALL.leading + 3
    below = paper.lines(place.left, top, lines, SMALL.leading)
    paper.lines(place.left, below - 3, more, SMALL.leading)
    paper.rule(top + 3, place.left, place.right, width=0.8, grey=0)
    return top + 3


def _fields(paper: Paper, place: _Place, tag: Data, time: CourseTime | None, top: float, bottom: float) -> None:
    where = ", ".join(part for part in (tag.get("component"), tag.get("place")) if part)
    when = time.stamp(tag["at"]) if time else ""
    defect = " ".join(part for part in (tag.get("defect"), tag.get("limit")) if part)
    fields = (
        (_("Item"), tag.get("item") or "", ITEM, 1.2),
        (_("Code and place"), where, FIELD, 1.0),
        (_("Defect"), defect, FIELD, 1.9),
        (_("Taken out of service by"), tag.get("by") or "", FIELD, 1.0),
        (_("Date and time"), when, FIELD, 1.0),
    )
    address, finding = str(tag.get("address") or ""), str(tag.get("finding") or "")
    foot = QR_SIDE + 10 if address else WRITE + 4
    unit = (top - bottom - foot) / sum(share for _label, _text, _kind, share in fields)
    y = top
    for label, text, kind, share in fields:
        height = unit * share
        paper.text(place.left, y - 10, label, FIELD_LABEL)
        if text:
            kind, lines = fit_lines(text, kind, place.width, height - 13)
            paper.lines(place.left, y - 11, lines, kind.leading)
        elif share > 1.5:
            paper.rule(y - height / 2 - 2, place.left, place.right)
        y -= height
        # The code to scan has nothing beside it for four of its modules (ISO/IEC 18004), so no rule runs over it.
        is_over_code = bool(address) and label == fields[-1][0]
        paper.rule(y, place.left, place.right - (QR_SIDE + 8 if is_over_code else 0))
    paper.text(place.left, y - 10, _("Finding in the record"), FIELD_LABEL)
    width = place.width - (QR_SIDE + 8 if address else 0)
    kind, lines = fit_lines("\n".join(filter(None, (finding, address))), FIELD, width, foot - 15)
    paper.lines(place.left, y - 11, lines, kind.leading)
    if address:
        draw_code(paper, address, right=place.right, top=y - 3, side=QR_SIDE - 2)


def fit_lines(text: str, kind: Type, width: float, height: float) -> tuple[Type, Sequence[Line]]:
    """Set text into a box: smaller where it must be, down to 6 points; what then is too long is cut and says so."""
    while True:
        lines = set_words(text, kind, width)
        room = max(1, int(height / kind.leading + 0.01))
        if len(lines) <= room:
            return kind, lines
        if kind.size <= 6:
            break
        kind = Type(kind.face, kind.size * 0.92, kind.leading * 0.92, kind.grey)
    more = _("… Whole text in the record.")
    while len(lines := set_words(f"{text} {more}", kind, width)) > room:
        text = text[: max(0, len(text) - max(8, len(text) // 20))].rstrip()
        if not text:
            return kind, set_words(more, kind, width)[:room]
    return kind, lines
