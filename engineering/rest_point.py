"""Where a rider who was not caught comes to rest: at the place where nothing drives him any more. SI units."""

from __future__ import annotations

from dataclasses import dataclass

from engineering.cable import Span, loaded_sag_share, span_of
from engineering.line import (
    G_MPS2,
    MASS_KG,
    ROLLING,
    SAG,
    Line,
    line_problem,
    outside,
    temperature_problem,
)
from engineering.refusal import Refusal, refuse

HALVINGS = 60


@dataclass(frozen=True)
class RestPoint:
    """Places in m from the launch: ``middle_m`` where the driving slope is nought, and the reach of rolling resistance.

    Between ``first_m`` and ``last_m`` a rider stays where he stops; wind is left out.
    """

    first_m: float
    middle_m: float
    last_m: float


def rest_point(
    line: Line, mass_kg: float | None, rolling: float | None = 0.010, temperature_c: float | None = None
) -> RestPoint | Refusal:
    """Return where a rider of this weight rolls back to, p(a) = 0, and from where to where he may stay, |p| <= mu.

    Refuses ``rest-none`` where the cable drives him on all the way to the landing support.

    >>> from engineering.line import Cable
    >>> round(rest_point(Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0), 80.0).middle_m)
    233
    """
    temperature = line.reference_c if temperature_c is None else temperature_c
    found = outside(mass_kg, "mass", MASS_KG) or outside(rolling, "rolling", ROLLING)
    found = found or line_problem(line) or temperature_problem(temperature)
    if found or mass_kg is None or rolling is None or temperature is None:
        return found or refuse("figure-missing")
    span = span_of(line, temperature)
    if isinstance(span, Refusal):
        return span
    load = mass_kg * G_MPS2
    share = float(loaded_sag_share(span, load))
    if share > SAG[1]:
        return refuse("sag-high", value=100 * share, limit=100 * SAG[1])
    if _drive(span, span.length, load) < 0.0:
        return refuse("rest-none")
    first, middle, last = (_where(span, load, slope) for slope in (-rolling, 0.0, rolling))
    return RestPoint(first, middle, last)


def _drive(span: Span, place: float, load: float) -> float:
    return float(span.driving_slope(place, load, span.tension(place, load)))


def _where(span: Span, load: float, slope: float) -> float:
    """Return the place where the driving slope has this value, or the end of the line that is nearest to having it."""
    low, high = 0.0, span.length
    for _ in range(HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _drive(span, middle, load) < slope else (low, middle)
    return (low + high) / 2.0
