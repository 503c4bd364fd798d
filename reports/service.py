"""The service life of a part in words: which of its clocks ends it first, cycles, age or wear, and how each stands.

Nothing is reckoned here: every clock is a line of ``inspections.coming``, so that page, list and table say the same. A
clock whose figure is missing, or whose record is not sound, makes the whole unknown: it could have been the first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from courses.models import Component, Course, Placement
from courses.queries import Setup, setup_at
from engineering import reliability_service as service
from engineering.reliability_service import Clock, ServiceLife, life_by
from engineering.reliability_words import SENTENCES, note
from engineering.wear_words import BEYOND_HORIZON
from inspections.coming import AGE, COUNTED, CYCLES, OVERDUE, UNKNOWN, WEAR, Coming, cycled, dated, worn
from inspections.coming_words import basis, day, sentence
from inspections.wear import Told
from inspections.wear_record import Record

NAMES: Mapping[str, Any] = {
    CYCLES: gettext_lazy("cycles"),
    AGE: gettext_lazy("age"),
    WEAR: gettext_lazy("wear"),
}
OF_CLOCK = {CYCLES: service.CYCLES, AGE: service.AGE, WEAR: service.WEAR}


@dataclass(frozen=True)
class Stand:
    """How one clock stands: its name, what there is to say, from what, the item of the page that it is read from."""

    clock: Clock
    name: str
    sentence: str
    basis: str
    key: str
    state: str
    question: str = ""
    is_untold: bool = False  # it runs, and no day can be told

    @property
    def ends(self) -> date | None:
        return self.clock.ends


@dataclass(frozen=True)
class Service:
    """The answer and how each clock stands, the first to end first."""

    life: ServiceLife
    stands: list[Stand]

    @property
    def state(self) -> str:
        """Return the tone of the answer: withdraw when it is used up, unknown when it cannot be told, else empty."""
        return {"life-reached": "withdraw", "life-unknown": "unknown"}.get(self.life.status.code, "")

    @property
    def sentence(self) -> str:
        status = self.life.status
        if status.code == "life-ends" and self.life.ends is not None:
            return _("The service life of this part ends first by %(clock)s, on %(day)s at the earliest.") % {
                "clock": self._name(dict(status.params)["clock"]),
                "day": day(self.life.ends),
            }
        params = {key: self._name(value) for key, value in status.params}
        return str(_(SENTENCES[status.code])) % params

    @property
    def untold(self) -> str:
        """Return that some figures have no date yet; empty where all have one, or none ends within a year."""
        count = sum(1 for one in self.stands if one.is_untold)
        if not count:
            return ""
        return ngettext(
            "Of %(n)s measured figure no day can be told yet: it could be the first.",
            "Of %(n)s measured figures no day can be told yet: one of them could be the first.",
            count,
        ) % {"n": count}

    @staticmethod
    def _name(clock: str) -> str:
        return str(NAMES.get(clock, clock))


def service_of(
    component: Component,
    placements: Sequence[Placement],
    counts: Mapping[UUID, Mapping[date, int]],
    course: Course,
    found: Iterable[Told],
    *,
    at: datetime,
) -> Service | None:
    """Return the service life of a part where it is fitted, None where it is fitted nowhere; at most four queries.

    ``placements`` are newest first, ``found`` the outlooks of its measured figures (``reports.wear.wear_of``).
    """
    if not placements or placements[0].until is not None or component.retired_at is not None:
        return None
    setup = setup_at(course, at, place=placements[0].place)
    if placements[0].place_id not in setup.places:
        return None
    found = list(found)
    record = Record({}, {component.pk: list(placements)}, {line: dict(days) for line, days in counts.items()})
    rows = [
        *cycled(setup, {component.pk: record.life(setup, component)}, record.counts, found),
        *dated(setup, setup.places[placements[0].place_id]),
        *worn(found, date.max),
    ]
    own = [one for one in rows if one.component == component and one.why in OF_CLOCK]
    stands = [_stand(one) for one in own]
    stands += _still(setup, component, found, own)
    stands.sort(key=lambda one: (not one.clock.reached, one.state != "unknown", one.ends or date.max, one.name))
    return Service(life_by([one.clock for one in stands]), stands)


def _stand(one: Coming) -> Stand:
    why = _clock_of(one)
    name = OF_CLOCK[why]
    if one.state == OVERDUE:
        clock = Clock(name, reached=True)
    elif one.state == UNKNOWN:
        clock = Clock(name, note=note("clock-missing", clock=name))
    else:
        clock = Clock(name, one.day)
    state = {OVERDUE: "withdraw", UNKNOWN: "unknown"}.get(one.state, "")
    question = one.text if one.why == WEAR else ""
    return Stand(clock, str(NAMES[why]), sentence(one), basis(one), one.key, state, question)


def _clock_of(one: Coming) -> str:
    """Return the clock of a row: a count read off the part itself is forecast like a size, but is one of cycles."""
    return CYCLES if one.told is not None and one.told.figure.measures == COUNTED else one.why


def _still(setup: Setup, component: Component, found: Sequence[Told], own: Sequence[Coming]) -> Iterator[Stand]:
    """Yield the clocks that run but do not end within the days known: those are in no list of what lies ahead."""
    most = setup.component_data(component).get("max_cycles")
    counted = any(one.figure.measures == COUNTED for one in found)
    if most and not counted and not any(one.why == CYCLES for one in own):
        clock = Clock(service.CYCLES, note=note("clock-beyond"))
        yield Stand(
            clock, str(NAMES[CYCLES]), str(_(SENTENCES["clock-beyond"])),
            _("The maker allows %(most)s riders.") % {"most": most}, "", "",
        )  # fmt: skip
    told = {one.key for one in own if one.why == WEAR}
    for one in found:
        if one.figure.key not in told and one.figure.bounds is not None and one.newest is not None:
            row = Coming(
                WEAR, "", one.figure.place, component, one.figure.key, one.figure.text, one.figure.severity,
                last=one.newest.on, told=one,
            )  # fmt: skip
            untold = one.outlook.status != BEYOND_HORIZON
            why = _clock_of(row)
            yield Stand(Clock(OF_CLOCK[why]), str(NAMES[why]), sentence(row), basis(row), row.key, "", row.text, untold)
