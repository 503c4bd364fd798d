"""The band that proposed figures would give, beside what is posted and what is in force: shown before they count.

Computed in still air at 15 °C, so that two proposals can be compared; on a day other figures come out, from that day's
weather. Every figure is rounded inward, as it would be on a day. It is advice to who proposes and who confirms, and
decides nothing.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as L

from courses.mechanics import brakes_of, plan_of, posted_of
from courses.models import Course
from courses.refusals import US, figure, sentence_of
from engineering.envelope import Map, weight_wind_map
from engineering.envelope_band import Band, day_band, grid
from engineering.envelope_cross import cross_edge
from engineering.exact import rounded, shown
from engineering.refusal import Refusal
from engineering.units import convert, with_unit

STILL_C = 15.0
NEW = "new"
BRAKES = {
    NEW: (L("As entered"), L("brakes as entered")),
    "worn": (L("Primary worn"), L("primary brake at its worn limit")),
    "emergency-alone": (L("Emergency alone"), L("emergency brake alone")),
}
EDGES = {
    "least": (L("Lightest rider"), L("lightest rider"), "kg"),
    "most": (L("Heaviest rider"), L("heaviest rider"), "kg"),
    "head": (L("Head wind up to"), L("head wind"), "m/s"),
    "tail": (L("Tail wind up to"), L("tail wind"), "m/s"),
    "cross": (L("Cross wind up to"), L("cross wind"), "m/s"),
}
SLACK = Fraction(1, 10_000)  # of a unit
KEPT = 32  # pairs of documents: who confirms looks at what who proposed looked at, beside what is in force
# An edge is wider the lighter the lightest and the greater each of the others.
Edges = Mapping[str, float | None]


@dataclass(frozen=True)
class EdgeRow:
    """One edge of the band: what is posted, and what is computed, in the order of the table's columns."""

    label: str
    posted: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class BandLooked:
    """The table; ``air`` is the air's temperature, ``columns`` name what is computed.

    ``wider`` says what would be wider than now, ``notes`` what could not be looked at. Without rows there is no table.
    """

    air: str
    columns: tuple[str, ...]
    rows: tuple[EdgeRow, ...]
    wider: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Computed:
    """The bands of a line by its brakes, all of them together, and why one of them has none."""

    by_brakes: Mapping[str, Edges]
    together: Edges | Refusal
    why_not: Mapping[str, Refusal]


def band_looked(
    line: Mapping[str, Any], mechanics: Mapping[str, Any], units: str, *,
    line_now: Mapping[str, Any] | None = None, mechanics_now: Mapping[str, Any] | None = None,
) -> BandLooked | None:  # fmt: skip
    """Return what the contents of a line's two documents would give beside what those in force give.

    None where the brakes as entered cannot be computed, now and then: why is told elsewhere.
    """
    made = _computed(line, mechanics)
    now = _computed(line_now or {}, mechanics_now) if mechanics_now else None
    air = figure(STILL_C, "degC", units)
    if isinstance(made, Refusal):
        # What computes nothing narrows nothing: that is wider than any band.
        lost = _("Wider than now: nothing would be computed, and nothing narrow what is posted. %(why)s")
        why = {"why": sentence_of(made, units)}
        return BandLooked(air, (), (), lost % why, ()) if isinstance(now, _Computed) else None
    columns = {str(BRAKES[name][0]): made.by_brakes.get(name) for name in BRAKES if name not in made.why_not}
    columns[_("All together")] = None if isinstance(made.together, Refusal) else made.together
    if isinstance(now, _Computed):
        columns[_("In force now")] = None if isinstance(now.together, Refusal) else now.together
    posted = posted_of(line)
    bounds = {
        "least": posted.least_kg, "most": posted.most_kg, "head": posted.head_mps, "tail": posted.tail_mps,
        "cross": posted.cross_mps,
    }  # fmt: skip
    rows = [
        EdgeRow(
            str(label),
            _told(name, bounds[name], units),
            tuple((column, _cell(name, edges, units)) for column, edges in columns.items()),
        )
        for name, (label, _what, _unit) in EDGES.items()
        if bounds[name] is not None
    ]
    return BandLooked(
        air,
        tuple(columns),
        tuple(rows),
        _wider(made.together, now, units),
        tuple(_notes(made, now, mechanics, units)),
    )


def _computed(line: Mapping[str, Any], mechanics: Mapping[str, Any]) -> _Computed | Refusal:
    """Return the bands in still air; refused where that of the brakes as entered cannot be computed."""
    return _of_text(json.dumps(line, sort_keys=True), json.dumps(mechanics, sort_keys=True))


@lru_cache(maxsize=KEPT)
def _of_text(line_text: str, mechanics_text: str) -> _Computed | Refusal:
    """Compute the bands from the whole text of the two documents: what is kept can never be that of others."""
    line, mechanics = json.loads(line_text), json.loads(mechanics_text)
    posted = posted_of(line)
    axes = grid(posted)
    if isinstance(axes, Refusal):
        return axes
    maps: dict[str, Map] = {}
    why_not: dict[str, Refusal] = {}
    for name in BRAKES:
        plan = plan_of(line, mechanics, air_c=STILL_C, cross_mps=0.0, arrangement_of=name)
        found = plan if isinstance(plan, Refusal) else weight_wind_map(plan, *axes, beside=maps.get(NEW))
        if not isinstance(found, Refusal):
            maps[name] = found
        elif name == NEW:
            return found
        else:
            why_not[name] = found
    bands = {name: day_band({name: one}, posted, 0.0, 0.0) for name, one in maps.items()}
    together = day_band(maps, posted, 0.0, 0.0)
    if isinstance(together, Band) and posted.cross_mps is not None:
        together = replace(together, cross=cross_edge(maps[NEW].plan, axes[0], together, posted.cross_mps))
    return _Computed(
        {name: _edges(band) for name, band in bands.items() if isinstance(band, Band)},
        _edges(together) if isinstance(together, Band) else together,
        why_not,
    )


def _edges(band: Band) -> dict[str, float | None]:
    """Return the edges rounded inward: weights to whole kilograms, winds to tenths of a metre per second."""

    def inward(value: float, step: float, up: bool) -> float:
        # What floating point left behind the ninth digit moves no edge by a whole step.
        whole = round(value / step, 9)
        return (math.ceil(whole) if up else math.floor(whole)) * step

    cross = band.cross
    return {
        "least": band.least.value if band.least.set_by == "posted" else inward(band.least.value, 1.0, True),
        "most": band.most.value if band.most.set_by == "posted" else inward(band.most.value, 1.0, False),
        "head": band.head.value if band.head.set_by == "posted" else inward(max(band.head.value, 0.0), 0.1, False),
        "tail": -band.tail.value if band.tail.set_by == "posted" else inward(max(-band.tail.value, 0.0), 0.1, False),
        "cross": None if cross is None
        else cross.value if cross.set_by == "posted" else inward(max(cross.value, 0.0), 0.1, False),
    }  # fmt: skip


def _wider(made: Edges | Refusal, now: _Computed | Refusal | None, units: str) -> str:
    if now is None or isinstance(now, Refusal) or isinstance(made, Refusal):
        return ""
    if isinstance(now.together, Refusal):
        return _("Wider than now: with what is in force no weights are good in still air.")
    told = []
    for name, (_label, what, _unit) in EDGES.items():
        was, becomes = now.together[name], made[name]
        if was is None or becomes is None:
            continue
        if becomes < was - 1e-9 if name == "least" else becomes > was + 1e-9:
            told.append(
                _("%(what)s %(old)s to %(new)s")
                % {"what": what, "old": _told(name, was, units), "new": _told(name, becomes, units)}
            )
    return _("Wider than now: %(what)s.") % {"what": "; ".join(told)} if told else ""


def _notes(
    made: _Computed, now: _Computed | Refusal | None, mechanics: Mapping[str, Any], units: str
) -> Iterator[str]:  # fmt: skip
    if isinstance(made.together, Refusal):
        yield _("No band in still air: %(why)s") % {"why": sentence_of(made.together, units)}
    for name, refused in made.why_not.items():
        why = sentence_of(refused, units)
        if name == "worn" and brakes_of(mechanics).wears is None:
            why = _("The worn limit of the primary brake is not entered.")
        yield _("Not looked at: %(what)s. %(why)s") % {"what": BRAKES[name][1], "why": why}
    if isinstance(now, Refusal):
        yield _("With what is in force nothing is computed, so it narrows nothing: %(why)s") % {
            "why": sentence_of(now, units)
        }


def _cell(name: str, edges: Edges | None, units: str) -> str:
    return _("none") if edges is None else _told(name, edges[name], units)


def _told(name: str, value: float | None, units: str) -> str:
    """Return an edge in the units of a course, never wider than it is in those of the computation."""
    if value is None:
        return ""
    unit = EDGES[name][2]
    if units != Course.Units.US:
        return figure(round(value, 3), unit, units)
    # What converting to metric and back left behind moves no edge that was typed in the course's own unit.
    exact = convert(Fraction(f"{value:.9g}"), unit, US[unit])
    toward, slack = ("up", -SLACK) if name == "least" else ("down", SLACK)
    return with_unit(shown(rounded(exact + slack, 1, toward), most=1), US[unit])
