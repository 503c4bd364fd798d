"""The wear of one part as its page shows it: an outlook for each measured figure, its charts, and the same as a table.

Advice only: what is drawn and said here makes no verdict and frees nothing. Where the record does not allow a date, the
points stand alone and the reason is named.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from courses.calendar import local_day
from courses.models import Component, Course, Place, Placement, Version
from courses.queries import Setup, setup_at
from engineering.wear import Forecast
from engineering.wear_outlook import Outlook
from engineering.wear_words import AT_LIMIT
from inspections.coming import Coming, cycled, dated, worn
from inspections.coming_words import basis, sentence
from inspections.wear import Life, Reset, Season, Seen, Told, figures_at, resets_of
from inspections.wear_record import Record, readings_of
from reports.charts import Drawing, drawn, svg
from reports.wear_charts import by_date, by_riders
from reports.wear_words import TELLING, Scale, digits, first_sentence, riders, sentences

SOON = 30  # open days to come
LISTED = 60  # rows of the table under a chart


@dataclass(frozen=True)
class Line:
    """One row of the table under the charts; what is not known is empty."""

    on: date
    riders: str
    read: str
    counts: bool
    by_date: str
    by_riders: str


@dataclass(frozen=True)
class Wear:
    """What is shown of one figure. ``first`` is said first, then ``said``; ``drawings`` are its charts.

    ``state`` is the tone: withdraw at the limit, watch with an early day within 30 open days, else empty.
    """

    told: Told
    first: str
    said: list[str]
    drawings: list[Drawing]
    lines: list[Line]
    state: str
    limit: str
    name: str

    @property
    def charts(self) -> list[SafeString]:
        """Return the charts for a page."""
        return [svg(one, f"{self.name}-{n}") for n, one in enumerate(self.drawings)]

    @property
    def has_line(self) -> bool:
        return any(row.by_date or row.by_riders for row in self.lines)

    @property
    def has_old(self) -> bool:
        return not all(row.counts for row in self.lines)

    @property
    def has_early(self) -> bool:
        return self.told.outlook.early is not None


@dataclass(frozen=True)
class PartWear:
    """The wear of a part by item key, and what of it ends first: limit, cycles, age or date; None if none is told."""

    by_key: Mapping[str, Wear] = field(default_factory=dict)
    first: Coming | None = None

    @property
    def first_sentence(self) -> str:
        return sentence(self.first) if self.first is not None else ""

    @property
    def first_basis(self) -> str:
        return basis(self.first) if self.first is not None else ""


def wear_of(
    component: Component,
    placements: Sequence[Placement],
    counts: Mapping[UUID, Mapping[date, int]],
    course: Course,
    *,
    data: Version | None,
    at: datetime,
) -> PartWear:
    """Return the wear of every measured figure of a part where it is fitted now, or was last; at most five queries.

    ``placements`` are newest first, ``counts`` the riders of its lines by day, ``data`` its register in force. Of a
    part that was taken off nothing is told of the days to come.
    """
    if not placements:
        return PartWear()
    here = placements[0]
    setup = setup_at(course, at, place=here.place)
    place = setup.places.get(here.place_id)
    if place is None:
        return PartWear()
    was = (component, here.slot) if here.until is not None else None
    if was is not None and data is not None:
        setup.versions[data.subject] = data  # only those of fitted parts are read with a set-up
    off = None if here.until is None else local_day(here.until, course.zone, course.day_change_hour)
    record = Record(readings_of(setup, [component.pk]), {component.pk: list(placements)}, _as_dicts(counts))
    season = Season.of(setup)
    found = {}
    for number, figure in enumerate(figures_at(setup, place, was=was), start=1):
        seen = record.of_figure(figure) if figure.component.pk == component.pk else []
        if any(one.value is not None for one in seen):
            told = record.told(setup, season, figure)
            told = told if off is None else told.taken_off(off)
            resets = resets_of(figure, setup, seen)
            found[figure.key] = _wear(told, seen, resets, record, setup, season, f"wear-{number}")
    if off is not None:
        return PartWear(found)
    return PartWear(found, _first(setup, place, component, [one.told for one in found.values()], record))


def _first(setup: Setup, place: Place, component: Component, found: Sequence[Told], record: Record) -> Coming | None:
    """Return what of a part ends first: never later than its cycles, its age, its dates and its wear tell."""
    life = record.life(setup, component)
    rows = [*worn(found, date.max), *dated(setup, place), *cycled(setup, {component.pk: life}, record.counts, found)]
    return min((one for one in rows if one.component == component), key=lambda one: one.place_in_order, default=None)


def _as_dicts(counts: Mapping[UUID, Mapping[date, int]]) -> dict[UUID, dict[date, int]]:
    return {line: dict(days) for line, days in counts.items()}


def _wear(
    told: Told, seen: Sequence[Seen], resets: Sequence[Reset], record: Record, setup: Setup, season: Season, name: str
) -> Wear:
    life = record.life(setup, told.figure.component)
    scale = Scale.of(told.figure.unit, setup.course.units)
    found = told.outlook
    drawings = [drawn(by_date(told, seen, resets, season, scale))]
    if life is not None and found.cycles.n:
        drawings.append(drawn(by_riders(told, seen, resets, life, scale)))
    state = ""
    if found.status == AT_LIMIT:
        state = "withdraw"
    elif found.early is not None and found.early <= season.nth(SOON):
        state = "watch"
    return Wear(
        told, first_sentence(told), sentences(told, scale), drawings, _lines(told, seen, resets, life, scale), state,
        "" if told.limit is None else scale.size(told.limit), name,
    )  # fmt: skip


def _lines(told: Told, seen: Sequence[Seen], resets: Sequence[Reset], life: Life | None, scale: Scale) -> list[Line]:
    """Return the readings as a table, newest first, with what the fitted lines say of the same day and count."""
    last = max((one.day for one in resets), default=float("-inf"))
    measured = [one for one in seen if one.value is not None]
    found = []
    for one in reversed(measured[-LISTED:]):
        carried = life.before(one.on) if life else None
        counts = one.day > last
        found.append(
            Line(
                one.on,
                "" if carried is None else riders(carried),
                scale.size(float(one.value or 0)),
                counts,
                _at(told.outlook, told.outlook.age, one.day, scale) if counts else "",
                _at(told.outlook, told.outlook.cycles, carried, scale) if counts and carried is not None else "",
            )
        )
    return found


def _at(found: Outlook, each: Forecast, x: float, scale: Scale) -> str:
    """Return a fitted line at x with its band, where both the whole outlook and this clock allow a line."""
    if each.line is None or found.status not in TELLING or each.status not in TELLING:
        return ""
    half = each.line.half_width(x, s=each.s_used)
    return _("%(size)s, band ± %(half)s") % {"size": scale.size(each.line.at(x)), "half": digits(half * scale.factor)}


def planning_note() -> str:
    """Return what stands once on every page with a computed figure."""
    return _("Planning aid. The line's designer of record, the maker's manual and local law decide.")
