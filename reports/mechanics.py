"""What is computed for one line, as its page shows it: one ride, and the line from the side with its two riders.

Everything here is a planning aid for a weather that somebody typed. Nothing is stored; no line's status asks for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from courses.mechanics import brakes_of, plan_of, posted_of
from courses.refusals import sentence_of
from engineering.envelope import Outcome, Plan, outcome
from engineering.envelope_cells import CELLS
from engineering.refusal import Refusal
from reports.charts import svg
from reports.course_units import CourseUnits
from reports.side_charts import seen_from_the_side, speeds_along
from reports.side_view import SideView, side_view
from reports.what_if import Asked

TOLD_PLACES = 10  # rows of the table beneath the drawings, and one for the launch


@dataclass(frozen=True)
class Figure:
    """One large figure with its unit, and what stands beneath it."""

    label: str
    value: str
    unit: str
    facts: tuple[str, ...] = ()


@dataclass(frozen=True)
class OneRide:
    """What becomes of the rider who was asked about: a sentence with its shape, and figures; or only a ``problem``."""

    problem: str = ""
    state: str = ""
    sentence: str = ""
    figures: tuple[Figure, ...] = ()

    @property
    def short(self) -> str:
        """Return what fits into the bar while one moves: the figures that count, or the sentence."""
        told = [
            f"{one.value} {one.unit}" for one in self.figures if one.label in (_("Arrival speed"), _("Brake travel"))
        ]
        return self.problem or (", ".join(told) + ": " if told else "") + self.sentence


@dataclass(frozen=True)
class Row:
    """One place along the line: heights and speeds as told, empty beyond the end of a ride."""

    place: str
    bare: str
    riders: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class FromTheSide:
    """The two drawings with their legend (kind of line, words) and the same as rows; or only a ``problem``."""

    problem: str = ""
    line: str = ""
    speeds: str = ""
    riders: tuple[tuple[str, str, str], ...] = ()
    weights: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()


def asked_mechanics(mechanics: Mapping[str, Any], asked: Asked) -> dict[str, Any]:
    """Return the mechanics with the launch speed that was asked for; missing where the field is empty."""
    return {**mechanics, "launch_mps": asked.exact("launch")}


def asked_plan(line: Mapping[str, Any], mechanics: Mapping[str, Any], asked: Asked) -> Plan | Refusal:
    """Return what is computed with: the data in force, in the asked air, with the asked launch and brakes.

    The wind across is one of it: with it the ride, the drawings and the map are computed.
    """
    return plan_of(
        line,
        asked_mechanics(mechanics, asked),
        air_c=asked.figure("air"),
        cross_mps=asked.figure("cross"),
        arrangement_of=asked.brakes,
    )


def problem_of(found: Refusal, mechanics: Mapping[str, Any], asked: Asked, units: CourseUnits) -> str:
    """Return why nothing is computed. A worn brake without its worn limit is named: the reason would be any figure."""
    if found.code == "figure-missing" and asked.brakes == "worn" and brakes_of(mechanics).wears is None:
        return _("The worn limit of the primary brake is not entered.")
    return sentence_of(found, units.units)


def one_ride(plan: Plan, asked: Asked, units: CourseUnits) -> OneRide:
    """Return what becomes of the rider asked about in the wind asked about."""
    found = outcome(plan, asked.figure("weight"), asked.figure("wind"))
    if isinstance(found, Refusal):
        return OneRide(problem=sentence_of(found, units.units))
    (state,) = found.names()
    return OneRide("", state, str(_(CELLS[state])), tuple(_figures(plan, found, units)))


def _figures(plan: Plan, found: Outcome, units: CourseUnits) -> Iterator[Figure]:
    ride, stop, limits = found.ride, found.stop, plan.limits
    if not ride.arrived:
        yield _figure(_("Stops short at"), units, "length", float(ride.stall_m), _("From the launch."))
        return
    rated = [_("Rated for %(speed)s.") % {"speed": units.text("speed", limits.rated_mps)}] if limits.rated_mps else []
    off = float(plan.interval_mps or 0.0)
    about = [_("Give or take %(speed)s.") % {"speed": units.text("speed", off)}] if off else []
    yield _figure(_("Arrival speed"), units, "speed", float(ride.arrival_mps), *about, *rated)
    if stop.names() != ["stopped"]:
        if not math.isnan(stop.out_mps):
            yield _figure(_("Speed at the end of the brake zone"), units, "speed", float(stop.out_mps))
        return
    yield _figure(_("Brake travel"), units, "travel", float(stop.stroke_m))
    if not math.isnan(stop.used):
        left = float(stop.left_m)
        beyond = _("%(left)s left until it binds.") if left >= 0 else _("%(left)s into the bind.")
        most = _("At most %(share)s %%.") % {"share": _decimal(100.0 * (limits.travel_share or 0.0), 0)}
        told = (beyond % {"left": units.text("travel", abs(left))}, most)
        yield Figure(_("Travel of spring or cord"), _decimal(100.0 * float(stop.used), 0), "%", told)
    most = _("At most %(limit)s g for longer than %(time)s s.") % {
        "limit": _decimal(limits.peak_g or 0.0, 2), "time": _decimal(limits.peak_s or 0.0, 2),
    }  # fmt: skip
    over = [_("Above it for %(time)s s.") % {"time": _decimal(float(stop.over_s), 2)}] if stop.over_s > 0 else []
    yield Figure(_("Peak deceleration"), _decimal(float(stop.peak_g), 2), "g", (most, *over))
    most = _("At most %(limit)s g.") % {"limit": _decimal(limits.mean_g or 0.0, 2)}
    yield Figure(_("Mean deceleration"), _decimal(float(stop.mean_g), 2), "g", (most,))


def _figure(label: str, units: CourseUnits, quantity: str, value: float, *facts: str) -> Figure:
    return Figure(label, units.number(quantity, value), units.unit(quantity), facts)


def from_the_side(plan: Plan, line: Mapping[str, Any], asked: Asked, units: CourseUnits) -> FromTheSide:
    """Return the line with the heaviest and the lightest rider that are posted for it."""
    posted = posted_of(line)
    problem = posted.problem()
    if problem or posted.least_kg is None or posted.most_kg is None:
        return FromTheSide(problem=sentence_of(problem, units.units) if problem else "")
    view = side_view(plan, [posted.least_kg, posted.most_kg], asked.figure("wind"))
    if isinstance(view, Refusal):
        return FromTheSide(problem=sentence_of(view, units.units))
    weights = [units.text("weight", one.mass_kg) for one in view.riders]
    names = (_("heaviest posted rider, %(weight)s"), _("lightest posted rider, %(weight)s"))
    legend = [
        (role, name % {"weight": weight}, str(_(CELLS[one.state])))
        for role, name, weight, one in zip(("heavy", "light"), names, weights, view.riders, strict=True)
    ]
    return FromTheSide(
        line=svg(seen_from_the_side(view, units), "from-the-side"),
        speeds=svg(speeds_along(view, units), "speeds"),
        riders=tuple(legend),
        weights=tuple(weights),
        rows=tuple(_rows(view, units)),
    )


def _rows(view: SideView, units: CourseUnits) -> Iterator[Row]:
    for i in range(0, view.x_m.size, (view.x_m.size - 1) // TOLD_PLACES):
        riders = [
            (
                units.text("height", float(one.height_m[i])),
                "" if math.isnan(one.speed_mps[i]) else units.text("speed", float(one.speed_mps[i])),
            )
            for one in view.riders
        ]
        place = units.text("length", float(view.x_m[i]))
        yield Row(place, units.text("height", float(view.bare_m[i])), tuple(riders))


def _decimal(value: float, places: int) -> str:
    rounded = round(value, places)
    return str(number_format(rounded if rounded else 0.0, decimal_pos=places))
