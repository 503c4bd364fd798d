"""A sample of the record for an auditor: how many records to look at, which ones, what faults among them tell.

The draw rests on the list, a seed and SHA-256 alone (``engineering.reliability_sample``). The list holds what was
entered up to a named entry, so that the same address draws the same records in ten years. Nothing is written.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from django.db.models import Max
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from courses.models import Course
from engineering.reliability_bounds import UPPER, clopper_pearson
from engineering.reliability_sample import Draw, discovery_size, draw, most_bad
from engineering.reliability_words import SENTENCES, Note, note
from inspections.models import Paper, Sheet, SignOff
from inspections.words import section_label
from ledger.models import Entry
from reports.exports import LANGUAGE, rows_as_text

SHEETS, DAYS = "sheets", "days"
CONFIDENCE = 0.95
COLUMNS = (
    "order", "drawn", "key", "day", "place", "sheet", "entry", "corrects_entry", "seed", "up_to_entry", "records",
    "list_sha256",
)  # fmt: skip


@dataclass(frozen=True)
class Asked:
    """What is drawn from: ``what`` (sheets or days), local dates both included, up to which entry, by which seed."""

    what: str
    first: date
    last: date
    upto: int
    seed: str


@dataclass(frozen=True)
class Row:
    """One record that was drawn. ``entry`` is its number (of the newest signature, for a day), ``paper`` its PDF."""

    number: int
    key: str
    on: date
    place: str
    sheet: str
    entry: int
    corrects: int | None = None
    revisions: int = 0
    paper: Any = None


@dataclass(frozen=True)
class Sample:
    """The draw, its records in the order drawn, and how many of the list may be faulty if none of them is."""

    drawn: Draw
    rows: list[Row]
    most: int

    @property
    def size(self) -> int:
        return len(self.drawn.keys)

    @property
    def is_all(self) -> bool:
        return self.size == self.drawn.lot

    @property
    def plan(self) -> str:
        """Return what the sample can show, in plain words."""
        if self.is_all:
            return _("This is every record there is (%(lot)s): what is found is the fact, not an estimate.") % {
                "lot": self.drawn.lot
            }
        return _(
            "If none of these %(n)s shows a fault, then with 95 %% confidence at most %(most)s of the %(lot)s do: "
            "%(percent)s %%."
        ) % {
            "n": self.size,
            "percent": percent_up(Fraction(self.most, self.drawn.lot)),
            "lot": self.drawn.lot,
            "most": self.most,
        }


def newest_entry(course: Course) -> int:
    """Return the number of the newest entry of the record; -1 where there is none."""
    found = Entry.objects.filter(log=course.operator.log).aggregate(newest=Max("seq"))["newest"]
    return -1 if found is None else int(found)


def lot_of(course: Course, asked: Asked) -> list[str]:
    """Return what can be drawn, a key for each record; one query.

    A sheet is "entry NUMBER", corrections being sheets of their own; a day that was signed is its ISO date.
    """
    span = {"seq__lte": asked.upto, "day__course": course, "day__date__range": (asked.first, asked.last)}
    if asked.what == SHEETS:
        return [f"entry {seq}" for seq in Sheet.objects.filter(**span).values_list("seq", flat=True)]
    days = SignOff.objects.filter(**span).order_by().values_list("day__date", flat=True).distinct()
    return [day.isoformat() for day in days]


def plan_size(lot: int, percent: int) -> int | Note:
    """Return the smallest sample that, showing no fault, tells with 95 % confidence that at most ``percent`` % do.

    >>> plan_size(365, 5), plan_size(30, 3)
    (52, 29)
    """
    return discovery_size(lot, lot * percent // 100 + 1, CONFIDENCE)


def sample_of(course: Course, asked: Asked, *, size: int | None = None, percent: int = 5) -> Sample | Note:
    """Draw ``size`` records, or as many as the plan for ``percent`` asks; four queries, however many there are."""
    keys = lot_of(course, asked)
    if not keys:
        return note("lot-empty")
    wanted = plan_size(len(keys), percent) if size is None else size
    if isinstance(wanted, Note):
        return wanted
    drawn = draw(keys, wanted, asked.seed)
    if isinstance(drawn, Note):
        return drawn
    most = most_bad(drawn.lot, len(drawn.keys), 0, CONFIDENCE)
    return most if isinstance(most, Note) else Sample(drawn, rows_of(course, asked, drawn.keys), most)


def rows_of(course: Course, asked: Asked, keys: Iterable[str]) -> list[Row]:
    """Return what the keys stand for, in their order; at most two queries."""
    return list(_sheets(course, keys) if asked.what == SHEETS else _days(course, asked, keys))


def _sheets(course: Course, keys: Iterable[str]) -> Iterator[Row]:
    numbers = [int(key.removeprefix("entry ")) for key in keys]
    rows = Sheet.objects.filter(day__course=course).select_related("day", "place", "amends")
    found = {one.seq: one for one in _some(rows, "seq", numbers)}
    for number, seq in enumerate(numbers, start=1):
        one = found[seq]
        corrects = one.amends.seq if one.amends else None
        yield Row(number, f"entry {seq}", one.day.date, str(one.place), section_label(one.section), seq, corrects)


def _days(course: Course, asked: Asked, keys: Iterable[str]) -> Iterator[Row]:
    dates = [date.fromisoformat(key) for key in keys]
    signed: dict[date, list[SignOff]] = {}
    rows = SignOff.objects.filter(day__course=course, seq__lte=asked.upto).select_related("day").order_by("revision")
    for one in _some(rows, "day__date", dates):
        signed.setdefault(one.day.date, []).append(one)
    newest = [each[-1].pk for each in signed.values()]
    papers = {one.sign_off_id: one for one in _some(Paper.objects.filter(kind="day_sheet"), "sign_off", newest)}
    for number, on in enumerate(dates, start=1):
        last = signed[on][-1]
        paper = papers.get(last.pk)
        yield Row(number, on.isoformat(), on, "", "", last.seq, None, last.revision, paper.pk if paper else None)


def _some(rows: Any, name: str, values: list[Any]) -> list[Any]:
    """Return the rows with one of these values; a list too long for one query is read with all of them."""
    if len(values) <= 500:
        return list(rows.filter(**{f"{name}__in": values}))
    wanted = set(values)
    attribute = {"day__date": lambda row: row.day.date, "sign_off": lambda row: row.sign_off_id}.get(
        name, lambda row: getattr(row, name)
    )
    return [row for row in rows if attribute(row) in wanted]


def percent_up(share: Fraction | float) -> str:
    """Return a share in percent with one decimal, rounded up: a bound is never said smaller than it is.

    >>> percent_up(Fraction(18, 365)), percent_up(0.401029), percent_up(Fraction(1, 2)), percent_up(0)
    ('5', '40.2', '50', '0')
    """
    tenths = math.ceil(Fraction(share) * 1000)
    whole, tenth = divmod(tenths, 10)
    return f"{whole}.{tenth}" if tenth else str(whole)


def refusal(found: Note) -> str:
    """Return why there is no figure, in the reader's language."""
    return str(_(SENTENCES[found.code])) % dict(found.params)


def bound_of(lot: int, looked: int, faults: int) -> list[str]:
    """Return what so many faults among so many records tell, a sentence each.

    The bound for records of this kind is Clopper and Pearson's, one-sided 95 %; that for this list counts exactly.
    """
    if looked == lot:
        return [_("All %(lot)s were looked at; %(faults)s show a fault. That is the fact, not an estimate.")
                % {"lot": lot, "faults": faults}]  # fmt: skip
    share, most = clopper_pearson(faults, looked, CONFIDENCE, UPPER), most_bad(lot, looked, faults, CONFIDENCE)
    if isinstance(share, Note):
        return [refusal(share)]
    if isinstance(most, Note):
        return [refusal(most)]
    values = {"looked": looked, "faults": faults, "percent": percent_up(share[1]), "most": most, "lot": lot}
    return [
        _("%(faults)s of the %(looked)s looked at show a fault.") % values,
        _("With 95 %% confidence at most %(percent)s %% of all records kept in this way do (upper bound of Clopper and "
          "Pearson, rounded up).") % values,
        _("Of the %(lot)s in this list at most %(most)s do, with the same confidence.") % values,
        _("This holds only if they were taken in the order drawn and none was left out."),
    ]  # fmt: skip


def as_csv(course: Course, asked: Asked, found: Sample, *, whole: bool = False) -> Iterator[str]:
    """Yield the records drawn as a table; with ``whole`` all that could have been, in the order of the draw."""
    keys: Iterable[str] = found.drawn.keys
    if whole and isinstance(every := draw(lot_of(course, asked), found.drawn.lot, asked.seed), Draw):
        keys = every.keys
    with translation.override(LANGUAGE):
        rows = rows_of(course, asked, keys)
        yield from list(rows_as_text(COLUMNS, (_cells(one, asked, found) for one in rows)))


def _cells(one: Row, asked: Asked, found: Sample) -> list[Any]:
    return [
        one.number, one.number <= found.size, one.key, one.on, one.place, one.sheet, one.entry,
        "" if one.corrects is None else one.corrects, asked.seed, asked.upto, found.drawn.lot, found.drawn.list_sha256,
    ]  # fmt: skip


def span(first: date, last: date) -> str:
    """Return a range of days as it is written in a sentence."""
    return _("%(first)s to %(last)s") % {
        "first": date_format(first, "j F Y"),
        "last": date_format(last, "j F Y"),
    }
