"""The end of the day sheet: gear, who signed what it means, and how this paper belongs to the record."""

from __future__ import annotations

from collections.abc import Iterator

from django.utils.translation import gettext as _

from reports.papers import day_file
from reports.papers.code import draw_code
from reports.papers.day import DayPaper, grouped, sentences
from reports.papers.photos import draw_photos
from reports.papers.style import BODY, DENSE, DENSE_STRONG, GAP_1, GAP_2, GAP_4, LABEL, SMALL, Type
from reports.papers.table import Cell, Column, Mark, Table
from reports.papers.text import Piece
from reports.papers.words import Data, planning_aid

CODE_SIDE = 84  # points: a module of the code is then half a millimetre or more
STATE = Type(LABEL.face, LABEL.size, LABEL.leading)  # in full black: somebody may have to type it off
PIECE = 96  # characters of a line without spaces: a signature of 92 stays whole


def draw(day: DayPaper) -> None:
    _gear(day)
    _signatures(day)
    _record(day)


def _gear(day: DayPaper) -> None:
    racks = (day.data.get("gear") or {}).get("racks", ())
    if not racks:
        return
    paper = day.paper
    paper.section(_("Gear store"))
    columns = (
        Column(_("Rack"), 116),
        Column(_("Counted"), 50, "right"),
        Column(_("In the register"), 68, "right"),
        Column(_("Not to be issued"), paper.width - 334),
        Column(_("Signed"), 100),
    )
    table = Table(paper, columns, gutter=12)
    with table.on_pages():
        for rack in racks:
            table.row(
                (
                    rack.get("label") or "?",
                    _number(rack.get("count")),
                    _number(rack.get("register")),
                    _exceptions(rack),
                    _signed(day, rack),
                )
            )
    paper.gap(GAP_4)


def _number(value: object) -> str:
    return _("not counted") if value in (None, "") else str(value)


def _signed(day: DayPaper, rack: Data) -> Cell:
    """Say when and by whom a rack was counted. A name that was not resolved is left out."""
    if not rack.get("signed_at"):
        return Mark("unknown", _("Not signed"))
    signer = rack.get("signer") if isinstance(rack.get("signer"), str) else ""
    entry = _("Record entry %(entry)s.") % {"entry": rack["entry"]} if rack.get("entry") else ""
    received = day.time.clock(rack.get("received_at"))
    came = _("Received %(at)s.") % {"at": received} if received else ""
    when = ", ".join(part for part in (day.time.clock(rack["signed_at"]), signer) if part) + "."
    return sentences(when, came, rack.get("clock"), entry)


def _exceptions(rack: Data) -> list[Piece] | str:
    words: list[Piece] = []
    for number, exception in enumerate(rack.get("exceptions", ())):
        words.append(Piece((" " if number else "") + f"{exception.get('tag') or '?'} ", DENSE_STRONG))
        words.append(Piece(str(exception.get("what") or "").rstrip(".") + ".", DENSE))
    count, register = rack.get("count"), rack.get("register")
    if count is not None and register is not None and str(count) != str(register):
        difference = _("The count is not the register's.")
        words.append(Piece(f" {difference}" if words else difference, DENSE_STRONG))
    return words or _("none")


def _signatures(day: DayPaper) -> None:
    paper, signatures = day.paper, day.data.get("signatures", ())
    paper.section(_("Signatures"), keep=70)
    if not signatures:
        paper.paragraph(_("No signature is on this record."), BODY)
    else:
        columns = (
            Column(_("Name"), 96, type=DENSE_STRONG),
            Column(_("Role"), 74),
            Column(_("Meaning of the signature"), paper.width - 330),
            Column(_("Last signed"), 160),
        )
        table = Table(paper, columns)
        with table.on_pages():
            for signature in signatures:
                table.row(
                    (
                        signature.get("name") or "?",
                        signature.get("role") or "",
                        signature.get("meaning") or Mark("unknown", _("Not stated")),
                        day.time.stamp(signature.get("at")) or Mark("unknown", _("Not stated")),
                    ),
                    pad=2.4,
                )
    sign_off = day.data.get("sign_off") or {}
    if sign_off.get("photo"):
        caption = _("The paper on which the day was signed")
        draw_photos(paper, [sign_off["photo"]], caption, day.photos, left=paper.left, width=paper.width)
    paper.gap(GAP_4)


def _record(day: DayPaper) -> None:
    paper, data = day.paper, day.data
    record = data.get("record") or {}
    paper.section(_("This paper and the record"), keep=60)
    drawn = (
        _("Drawn %(time)s from the record.") % {"time": day.time.stamp(data["made_at"])} if data.get("made_at") else ""
    )
    words = _(
        "It is drawn once and kept; corrections make a new revision and never change this one. Readings, limits and "
        "clauses stand as they were judged that morning."
    )
    compare = (
        _(
            "This signature is entry %(entry)s of the record. The check values below are computed from it: whoever "
            "holds this paper can compare them with the record, under History on this day."
        )
        % {"entry": record["entry"]}
        if record.get("entry")
        else ""
    )
    paper.paragraph(sentences(drawn, words, compare), DENSE)
    paper.gap(GAP_2)
    rows = [
        (_("Record entry"), str(record.get("entry") or "")),
        (_("Check value of the entry (SHA-256)"), grouped(record.get("hash"))),
        (_("Check value of the content (SHA-256)"), grouped(record.get("snapshot"))),
    ]
    for label, value in rows:
        if value:
            paper.need(2 * SMALL.leading)
            paper.text(paper.left, paper.y - DENSE.leading * 0.74, label, SMALL)
            paper.paragraph(value, DENSE, indent=150)
    _proof(day)
    day_file.draw(day)
    paper.gap(GAP_1)
    for sentence in _criteria(data):
        paper.paragraph(sentence, SMALL)
    paper.paragraph(planning_aid(), DENSE_STRONG)


def _proof(day: DayPaper) -> None:
    """Draw the signed state of the record as text and as a code: a copy of it outside the server shows any change."""
    paper, proof = day.paper, day.data.get("proof") or {}
    if not proof.get("note"):
        if proof.get("why"):
            paper.gap(GAP_2)
            paper.paragraph(proof["why"], SMALL)
        return
    words = _(
        "The state of the record when this sheet was drawn, signed by the record's own key. Keep this paper: whoever "
        "audits the record later can hold it to these lines (the first three are enough; the square holds them all, to "
        "be scanned), and no entry up to here can be changed or left out without that being seen."
    )
    width = paper.width - CODE_SIDE - 14
    paper.gap(GAP_2)
    paper.need(CODE_SIDE + GAP_2)
    top = paper.y
    draw_code(paper, proof["note"], right=paper.right, top=top, side=CODE_SIDE)
    y = paper.block(paper.left, top, words, DENSE, width)
    y -= GAP_1
    for line in proof["note"].rstrip("\n").split("\n"):
        y = paper.block(paper.left, y, " ".join(_pieces(line)), STATE, width)
    paper.gap(max(CODE_SIDE, top - y) + GAP_2)


def _pieces(line: str) -> list[str]:
    """Return a line in pieces that fit, where it has no spaces to break it at."""
    return [word[start : start + PIECE] for word in line.split(" ") for start in range(0, len(word), PIECE)]


def _criteria(data: Data) -> Iterator[str]:
    """Say which of the published criteria are law where the course lies, and which it has adopted."""
    found = data.get("criteria") or {}
    if found.get("law"):
        yield _("Criteria that are law at this place: %(sets)s.") % {"sets": "; ".join(found["law"])}
    if found.get("adopted"):
        yield _("Criteria that this course has adopted: %(sets)s.") % {"sets": "; ".join(found["adopted"])}
    yield _("Every other limit is the course's own, with its source beside it.")
