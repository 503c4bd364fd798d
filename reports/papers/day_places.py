"""What was checked: every sheet of every place. Sound items run on in a dense paragraph; figures stand in a table."""

from __future__ import annotations

from django.utils.translation import gettext as _

from reports.papers.day import DayPaper, sentences
from reports.papers.photos import draw_photos
from reports.papers.style import (
    DENSE,
    DENSE_STRONG,
    GAP_1,
    GAP_2,
    GAP_4,
    LINE,
    PLACE,
    SHEET,
    SMALL,
    SMALL_STRONG,
)
from reports.papers.table import Column, Figure, Mark, Table
from reports.papers.text import Piece, width_of
from reports.papers.words import Data, kind_word, verdict_shape, verdict_word

CODE, VALUE, UNIT, LIMIT, CLAUSE, RESULT = 42.0, 51.0, 26.0, 72.0, 98.0, 79.0  # widths; the item has what is left


def draw(day: DayPaper) -> None:
    places = day.data.get("places", ())
    if not places:
        return
    paper = day.paper
    paper.section(_("What was checked"), keep=130)
    checked = _Checked(day)
    checked.table.head()
    with paper.continued(checked.table.head), paper.continued(checked.again):
        for place in places:
            checked.place(place)
    paper.rule(paper.y, width=LINE, grey=0)
    paper.gap(GAP_4)


class _Checked:
    """The places in one table: its head stands once a page, and a page that begins within a place says so."""

    def __init__(self, day: DayPaper) -> None:
        self.day, self.paper = day, day.paper
        item = day.paper.width - (CODE + VALUE + UNIT + LIMIT + CLAUSE + RESULT)
        columns = (
            Column(_("Code"), CODE, type=DENSE_STRONG),
            Column(_("Item"), item),
            Column(_("Figure"), VALUE, "figure", DENSE_STRONG),
            Column(_("Unit"), UNIT),
            Column(_("Limit"), LIMIT),
            Column(_("Clause or source"), CLAUSE),
            Column(_("Result"), RESULT),
        )
        self.table = Table(day.paper, columns)
        self.running = ""  # what a new page continues

    def again(self) -> None:
        if self.running:
            self.paper.gap(GAP_1)
            self.paper.paragraph(_("%(what)s, continued") % {"what": self.running}, SMALL_STRONG)
            self.paper.gap(GAP_1)

    def place(self, place: Data) -> None:
        paper = self.paper
        self.running = ""
        name = place.get("name") or _("no name")
        paper.need(PLACE.leading + 76)
        paper.gap(GAP_2)
        paper.outline(name, 1)
        number = str(place.get("line") or "")
        words = [Piece(f"{number}  " if number and number != name else "", PLACE), Piece(name, PLACE)]
        kind = kind_word(place.get("kind"))
        if kind and kind.lower() not in name.lower():
            words.append(Piece(f"  {kind}", SMALL))
        paper.paragraph(words, PLACE)
        paper.rule(paper.y - 1, width=LINE, grey=0)
        paper.gap(GAP_1 + 1)
        for count, sheet in enumerate(place.get("sheets", ())):
            self.running = name
            if count:
                paper.gap(GAP_1)
            self.sheet(name, sheet)
        paper.gap(GAP_2)
        self.running = ""

    def sheet(self, place: str, sheet: Data) -> None:
        paper = self.paper
        paper.need(62)
        label = sheet.get("label") or _("no name")
        signed = _signed(self.day, sheet)
        wide = width_of(label, SHEET) + 12
        paper.gap(GAP_1)
        if wide + 120 < paper.width:
            top = paper.y
            paper.text(paper.left, top - SHEET.leading * 0.78, label, SHEET)
            paper.y = paper.block(paper.left + wide, top - 1.8, signed, SMALL, paper.width - wide)
            paper.y = min(paper.y, top - SHEET.leading)
        else:
            paper.paragraph(label, SHEET)
            paper.paragraph(signed, SMALL)
        for words in _remarks(sheet):
            paper.paragraph(words, SMALL_STRONG)
        paper.gap(GAP_1)
        self.running = f"{place}, {label}"
        readings = sheet.get("readings", ())
        plain = [reading for reading in readings if _is_plain(reading)]
        if plain:
            self.sound(plain)
            paper.gap(GAP_1)
        self.table.begin()
        for reading in readings:
            if not _is_plain(reading):
                self.reading(reading)

    def sound(self, readings: list[Data]) -> None:
        """All sound items in dense text, a paragraph for each component, in the order of the sheet."""
        paper = self.paper
        of_component: dict[str, list[Data]] = {}
        for reading in readings:
            of_component.setdefault(str(reading.get("component") or ""), []).append(reading)
        paper.need(2 * DENSE.leading)
        paper.mark("ok", paper.left, paper.y - 9.4, 8)
        paper.text(paper.left + 11, paper.y - DENSE.leading * 0.73, _("Sound"), DENSE_STRONG)
        for component, its in of_component.items():
            words = [Piece(f"{component}: " if component else "", DENSE)]
            for number, reading in enumerate(its):
                space = " " if number else ""
                if reading.get("code"):
                    words.append(Piece(f"{space}{reading['code']} ", DENSE_STRONG))
                    space = ""
                words.append(Piece(space + _ended(reading.get("wording") or "", number == len(its) - 1), DENSE))
            paper.paragraph(words, DENSE, indent=CODE)

    def reading(self, reading: Data) -> None:
        paper, verdict = self.paper, reading.get("verdict")
        said, bar = _said(reading), BARS.get(verdict or "", BARS["unknown"])
        value, before = str(reading.get("text") or ""), reading.get("before")
        self.table.row(
            (
                reading.get("code") or "",
                _item(reading),
                Figure(value, str(before)) if before else value,
                reading.get("unit") or "",
                reading.get("limit") or "",
                reading.get("clause") or "",
                Mark(verdict_shape(verdict), verdict_word(verdict)),
            ),
            keep=DENSE.leading if said else 0,
            bar=bar,
        )
        if said:
            paper.paragraph(said, DENSE, indent=CODE, bar=bar)
            paper.gap(GAP_1)
        if reading.get("photos"):
            caption = ", ".join(part for part in (reading.get("code"), reading.get("wording")) if part)
            left = paper.left + CODE
            draw_photos(paper, reading["photos"], caption, self.day.photos, left=left, width=paper.right - left)


# How thick the bar beside a row is that one must not overlook.
BARS = {"ok": 0.0, "watch": 1.4, "unknown": 1.4, "withdraw": 3.0}


def _signed(day: DayPaper, sheet: Data) -> str:
    start, end = day.time.clock(sheet.get("started_at")), day.time.clock(sheet.get("signed_at"))
    names = {"name": sheet.get("signer") or _("nobody"), "start": start or "?", "end": end or "?"}
    who = _("%(name)s, %(start)s to %(end)s.") % names if end else _("Not signed; begun %(start)s by %(name)s.") % names
    competence = str(sheet.get("competence") or "")
    entry = _("Record entry %(entry)s.") % {"entry": sheet["entry"]} if sheet.get("entry") else ""
    received = day.time.clock(sheet.get("received_at"))
    came = _("Signed without a signal, received %(at)s.") % {"at": received} if received else ""
    clock = str(sheet.get("clock") or "")
    return sentences(
        who, came, clock, competence if not competence or competence.endswith(".") else f"{competence}.", entry
    )


def _is_plain(reading: Data) -> bool:
    """Whether nothing need be said but that the item is sound."""
    said = ("text", "note", "photos", "before", "sentence")
    return reading.get("verdict") == "ok" and reading.get("mark") == "sound" and not any(map(reading.get, said))


def _ended(wording: str, is_last: bool) -> str:
    """Return a wording with the sign that ends it; a question has its own."""
    return wording if wording.endswith("?") else wording.rstrip(".") + ("." if is_last else ";")


def _item(reading: Data) -> str:
    wording, component = reading.get("wording") or "", reading.get("component")
    return f"{wording} ({component})" if component else wording


def _remarks(sheet: Data) -> list[str]:
    """What must be known about how a sheet came to be."""
    remarks = []
    if sheet.get("from_paper"):
        remarks.append(_("Filled in on paper and typed in later; the paper was photographed."))
    if sheet.get("amends"):
        reason = sheet.get("reason") or _("none is given.")
        remarks.append(_("Amendment of an earlier sheet. Reason: %(reason)s") % {"reason": reason})
    elif sheet.get("reason"):
        remarks.append(str(sheet["reason"]))
    return remarks


def _said(reading: Data) -> list[Piece]:
    """What stands under a row: how it was marked, the verdict's sentence, the note."""
    said = []
    if reading.get("mark") == "not_done":
        said.append(Piece(_("Could not be checked.") + " ", DENSE_STRONG))
    elif reading.get("mark") == "defect":
        said.append(Piece(_("Defect.") + " ", DENSE_STRONG))
    words = sentences(reading.get("sentence"), reading.get("note"))
    if words:
        said.append(Piece(words, DENSE))
    return said
