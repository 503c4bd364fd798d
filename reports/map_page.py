"""The map of weights and winds on the page of a line: drawing, legend, and the same in words for every weight."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from courses.mechanics import posted_of
from courses.refusals import sentence_of
from engineering.envelope import Map, Plan
from engineering.envelope_cells import CELL_NAMES, CELLS
from engineering.refusal import Refusal
from inspections.kept_maps import map_of
from reports.course_units import CourseUnits
from reports.map_drawing import TONES, MapDrawing, drawing_of
from reports.weight_wind import Run, axes, runs
from reports.what_if import BRAKES, Asked


@dataclass(frozen=True)
class MapShown:
    """The map as shown, or only a ``problem``. ``legend`` is (state, tone, sentence) of the states there are.

    ``rows`` and ``columns`` are (place, figure) as written; ``words`` say each weight, heaviest first, run by run.
    """

    problem: str = ""
    about: str = ""
    drawing: MapDrawing | None = None
    legend: tuple[tuple[str, str, str], ...] = ()
    rows: tuple[tuple[float, str], ...] = ()
    columns: tuple[tuple[float, str], ...] = ()
    words: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = ()
    posted: str = ""
    tested: str = ""


def map_shown(
    plan: Plan, line: Mapping[str, Any], asked: Asked, tested: tuple[float, float] | None, units: CourseUnits
) -> MapShown:
    """Return the map of a line for the asked air, launch and brakes; it is the same for every asked rider and wind."""
    posted = posted_of(line)
    grid = axes(posted, tested)
    found = grid if isinstance(grid, Refusal) else map_of(plan, *grid)
    if isinstance(found, Refusal):
        return MapShown(problem=sentence_of(found, units.units))
    weight, wind = asked.figure("weight"), asked.figure("wind")
    drawing = drawing_of(found, posted, tested, None if weight is None or wind is None else (weight, wind))
    there = [name for name, _tone, _d in drawing.cells]
    return MapShown(
        about=_about(found, asked, units),
        drawing=drawing,
        legend=tuple((name, TONES[name], str(_(CELLS[name]))) for name in CELL_NAMES if name in there),
        rows=tuple((y, units.number("weight", mass)) for y, mass in drawing.rows),
        columns=tuple(_columns(drawing, units)),
        words=tuple(_words(found, units)),
        posted=_from_to(posted.least_kg or 0.0, posted.most_kg or 0.0, units),
        tested=_from_to(*tested, units) if tested and drawing.tested else "",
    )


def _about(made: Map, asked: Asked, units: CourseUnits) -> str:
    told = _(
        "A shape for each of %(rows)s weights and %(columns)s winds: what becomes of the rider. Air %(air)s, "
        "brakes: %(brakes)s. The same stands beneath as a table."
    )
    return told % {
        "rows": made.masses_kg.size, "columns": made.winds_mps.size,
        "air": units.text("temperature", asked.figure("air") or 0.0), "brakes": str(BRAKES[asked.brakes]).lower(),
    }  # fmt: skip


def _columns(drawing: MapDrawing, units: CourseUnits) -> Iterator[tuple[float, str]]:
    for x, wind in drawing.columns:
        figure = {"speed": units.number("speed", abs(wind))}
        yield x, _("head %(speed)s") % figure if wind > 0 else _("tail %(speed)s") % figure
    if all(abs(x - drawing.still) > 4.5 * drawing.side for x, _wind in drawing.columns):
        yield drawing.still, "0"


def _words(made: Map, units: CourseUnits) -> Iterator[tuple[str, tuple[tuple[str, str], ...]]]:
    for row in reversed(range(made.masses_kg.size)):
        told = tuple((_winds(run, units), str(_(CELLS[run.state]))) for run in runs(made, row))
        yield units.text("weight", float(made.masses_kg[row])), told


def _winds(run: Run, units: CourseUnits) -> str:
    if run.from_mps == run.to_mps:
        return units.wind(run.from_mps)
    return _("%(first)s to %(last)s") % {"first": units.wind(run.from_mps), "last": units.wind(run.to_mps)}


def _from_to(low: float, high: float, units: CourseUnits) -> str:
    return _("%(low)s to %(high)s") % {"low": units.number("weight", low), "high": units.text("weight", high)}
