"""The day sheet: the daily sign-off report as a PDF.

Page one is the decision at a glance; then findings, test rides, what was checked, and the signatures. It is drawn once,
from the text of the sign-off's snapshot, and kept; drawn again from the same data and photos it has the same bytes.
"""

from __future__ import annotations

from django.utils import translation
from django.utils.translation import gettext as _

from reports.papers import day_computed, day_events, day_front, day_places, day_record
from reports.papers.completeness import missing_sentences
from reports.papers.day import DayPaper
from reports.papers.frame import Paper
from reports.papers.photos import Photos
from reports.papers.style import GAP_1, LABEL, SMALL, SMALL_STRONG, sheet_size
from reports.papers.text import shortened, width_of
from reports.papers.times import CourseTime, long_day, short_day
from reports.papers.words import Data, planning_aid


def draw_day_sheet(data: Data, *, photos: Photos) -> bytes:
    """Draw a day's sheet from its snapshot; names and notes in it are resolved text.

    A field that rule R-241 asks for and that is missing puts INCOMPLETE on every page and is named on the first; a
    course on trial gets its own stamp. ``data["language"]`` is the paper's language, English where there is none.
    ValueError for a time without an offset, KeyError for a paper size or zone that is not known.
    """
    with translation.override(data.get("language", "en")):
        missing = missing_sentences(data)
        day = DayPaper(_paper(data, missing), data, _time(data), photos)
        day_front.draw(day, missing)
        day_computed.draw(day)
        day_events.draw(day)
        day_places.draw(day)
        day_record.draw(day)
        return day.paper.finish()


def _time(data: Data) -> CourseTime:
    return CourseTime(data["course"]["tz"], data.get("date") or data["made_at"][:10])


def stamps(data: Data, missing: list[str]) -> list[str]:
    """Return the words that lie under every page."""
    return ([_("INCOMPLETE")] if missing else []) + (
        [_("TRIAL: the paper log is the record")] if data.get("trial") else []
    )


def _paper(data: Data, missing: list[str]) -> Paper:
    course = data["course"]
    name, date = course.get("name", ""), data.get("date")
    revision = _("revision %(number)s") % {"number": data.get("revision", 1)}
    title = _("Day sheet, %(course)s, %(date)s") % {"course": name, "date": date or "?"}
    marked = stamps(data, missing)

    def head(paper: Paper, page: int, pages: int) -> None:
        y = paper.top - 6
        when = long_day(date) if date else _("no date")
        wide = paper.text(paper.left, y, _("Day sheet") + ", " + when, SMALL_STRONG)
        mine = " / ".join(["", revision, *marked])
        room = paper.width - wide - width_of(mine, SMALL) - 14
        paper.text(paper.right, y, shortened(name, SMALL, room) + mine, SMALL, align="right")
        paper.rule(y - 5)

    def foot(paper: Paper, page: int, pages: int) -> None:
        y = paper.bottom - 12
        paper.rule(y + 3)
        record = data.get("record") or {}
        left = [name, short_day(date) if date else _("no date"), revision]
        if record.get("entry"):
            left.append(_("record entry %(entry)s") % {"entry": record["entry"]})
        if record.get("hash"):
            left.append(_("check value of the entry %(hash)s") % {"hash": record["hash"][:12]})
        number = _("Page %(page)s of %(pages)s") % {"page": page, "pages": pages}
        wide = paper.text(paper.right, y - LABEL.leading, number, SMALL_STRONG, align="right")
        below = paper.block(paper.left, y, " / ".join(left), LABEL, paper.width - wide - 12)
        paper.block(paper.left, below - GAP_1 * 0.4, planning_aid(), LABEL, paper.width)

    return Paper(
        size=sheet_size(data.get("paper", "a4")),
        title=f"{title}, {revision}",
        author=course.get("operator") or name,
        subject=_("Daily inspection and sign-off"),
        language=data.get("language", "en"),
        head=head,
        head_height=24,
        foot=foot,
        stamps=marked,
        made_at=data.get("made_at", ""),
    )
