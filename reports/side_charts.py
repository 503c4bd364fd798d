"""A line seen from the side and the speeds along it, as charts of ``reports.charts``: heights above, speeds below.

Both have the same places from left to right. Heights are drawn larger than lengths, or one would see a straight line.
Riders are told apart by the kind of line, not by tone alone. Where the ground is, nobody entered: it is not drawn.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from django.utils.translation import gettext as _

from engineering.envelope_cells import CELLS
from engineering.line import FloatArray
from reports.charts import ACROSS, BOTTOM, HEIGHT, LEFT, RIGHT, TOP, Dot, Drawing, Label, Path, nice_ticks
from reports.course_units import CourseUnits
from reports.side_view import Rode, SideView

NAMES = ("heavy", "light")
POST, ABOVE = 14, 8  # pixels


def seen_from_the_side(view: SideView, units: CourseUnits) -> Drawing:
    """Place cable, riders' ways, supports and brake zone; heights are counted from the launch support."""
    heights = np.concatenate([view.bare_m, *(one.height_m for one in view.riders), [0.0, -view.drop_m]])
    low, high = (units.own("height", float(edge)) for edge in (heights.min(), heights.max()))
    scale = _Scale(view, units, "height", low, high + 0.12 * (high - low))
    paths = [*_ground(scale, nice_ticks(low, high, 4)), scale.line("bare", view.bare_m)]
    dots = []
    for name, one in zip(NAMES, view.riders, strict=False):
        paths.append(scale.line(name, one.height_m))
        if one.end_m is not None:
            dots.append(_end(scale, name, one, float(np.interp(one.end_m, view.x_m, one.height_m))))
    for x, y in ((0.0, 0.0), (view.span_m, -view.drop_m)):
        at = scale.y(units.own("height", y))
        paths.append(Path("post", ((scale.x(x), at - POST), (scale.x(x), at + POST))))
    return Drawing(
        _("The line from the side"),
        f"{_about(view, units)} {_('Heights are drawn larger than lengths. The ground is not drawn.')}",
        tuple(paths),
        tuple(dots),
        tuple(_labels(scale, nice_ticks(low, high, 4), units.unit("height"))),
    )


def speeds_along(view: SideView, units: CourseUnits) -> Drawing:
    """Place the riders' speeds from the launch to the brake zone, or to where they stop short of it."""
    top = units.own("speed", max(one.top_mps for one in view.riders))
    ticks = nice_ticks(0.0, max(top, 1.0) * 1.1, 5)
    scale = _Scale(view, units, "speed", 0.0, max(max(top, 1.0) * 1.1, ticks[-1]))
    paths, dots = list(_ground(scale, ticks[1:])), []
    paths.append(Path("axis", ((0, BOTTOM), (ACROSS, BOTTOM))))
    for name, one in zip(NAMES, view.riders, strict=False):
        paths.append(_ridden(scale, name, one))
        if one.end_m is not None:
            dots.append(_end(scale, name, one, 0.0))
    return Drawing(
        _("Speed along the line"),
        " ".join(_said(one, units) for one in view.riders),
        tuple(paths),
        tuple(dots),
        tuple(_labels(scale, ticks[1:], units.unit("speed"))),
    )


class _Scale:
    """Where a place along the line and a figure stand on the drawing; figures in the units of the course."""

    def __init__(self, view: SideView, units: CourseUnits, quantity: str, low: float, high: float) -> None:
        self.view, self.units, self.quantity = view, units, quantity
        self.low, self.high = low, max(high, low + 0.1)

    def x(self, place_m: float) -> float:
        return round(LEFT + (RIGHT - LEFT) * place_m / self.view.span_m, 1)

    def y(self, own: float) -> float:
        return round(BOTTOM - (BOTTOM - TOP) * (own - self.low) / (self.high - self.low), 1)

    def line(self, role: str, values: FloatArray) -> Path:
        known = ~np.isnan(values)
        places = zip(self.view.x_m[known], values[known], strict=True)
        return Path(role, tuple((self.x(float(x)), self.y(self.units.own(self.quantity, float(y)))) for x, y in places))


def _ground(scale: _Scale, ticks: Sequence[float]) -> Iterable[Path]:
    begin, end = (scale.x(one) for one in scale.view.zone_m)
    corners = ((begin, TOP), (end, TOP), (end, BOTTOM), (begin, BOTTOM))
    yield Path("zone", corners, closed=True)
    for at in ticks:
        yield Path("grid", ((0, scale.y(at)), (ACROSS, scale.y(at))))


def _ridden(scale: _Scale, name: str, one: Rode) -> Path:
    """Return the speeds of one rider; the last place is where he comes to the brake zone or stops short of it."""
    found = scale.line(name, one.speed_mps)
    end = scale.view.zone_m[0] if one.short_m is None else one.short_m
    last = scale.x(end), scale.y(scale.units.own("speed", one.arrival_mps or 0.0))
    return Path(name, (*found.places, last))


def _labels(scale: _Scale, ticks: Sequence[float], unit: str) -> Iterable[Label]:
    view, units = scale.view, scale.units
    for at in ticks:
        # The topmost says the unit for all of them; a minus sign is longer than a hyphen.
        words = f"{at:g}".replace("-", "−") + (f" {unit}" if at == ticks[-1] else "")
        yield Label("size", 0, scale.y(at) - 4, words)
    yield Label("zone", scale.x(view.zone_m[1]), TOP - ABOVE, _("brake zone"), "end")
    span = units.own("length", view.span_m)
    for at in nice_ticks(0.0, span * 0.75, 4):
        x = scale.x(at / span * view.span_m)
        yield Label("when", x, HEIGHT - 14, f"{at:g}", "start" if at == 0 else "middle")
    yield Label("when", scale.x(view.span_m), HEIGHT - 14, units.text("length", view.span_m), "end")


def _end(scale: _Scale, name: str, one: Rode, value: float) -> Dot:
    role = f"{name}-short" if one.short_m is not None else f"{name}-stop"
    return Dot(role, scale.x(one.end_m or 0.0), scale.y(scale.units.own(scale.quantity, value)))


def _about(view: SideView, units: CourseUnits) -> str:
    values = {"span": units.text("length", view.span_m), "drop": units.text("height", view.drop_m)}
    return _("Span %(span)s, drop %(drop)s.") % values


def _said(one: Rode, units: CourseUnits) -> str:
    """Say of one rider how he goes and where he ends."""
    values = {
        "weight": units.text("weight", one.mass_kg),
        "top": units.text("speed", one.top_mps),
        "end": units.text("length", one.short_m or 0.0),
        "speed": units.text("speed", one.arrival_mps or 0.0),
    }
    if one.short_m is not None:
        return _("%(weight)s: fastest %(top)s, stops short at %(end)s from the launch.") % values
    told = _("%(weight)s: fastest %(top)s, comes to the brake zone with %(speed)s.") % values
    return f"{told} {_(CELLS[one.state])}"
