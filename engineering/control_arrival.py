"""What arrival speed to expect of a morning's ballast: the ride along the loaded cable at that morning's conditions."""

from __future__ import annotations

import math
from dataclasses import replace

from engineering.control_residual import Model, MorningRide
from engineering.line import Air, Line, Rider, Wind
from engineering.refusal import Refusal, refuse
from engineering.ride import ride


def arrival_model(line: Line, rider: Rider, *, launch_mps: float = 0.0, end_m: float | None = None) -> Model:
    """Return the model of the arrival speed in m/s for ``engineering.control_residual``.

    Weight, wind and temperature come from the morning's ride, the ballast's drag area and rolling resistance from
    ``rider``, the best figures there are for it. A ballast that by the computation would stop short has no figure.

    >>> from datetime import UTC, datetime
    >>> from engineering.line import Cable
    >>> model = arrival_model(Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0), Rider(None))
    >>> calm = MorningRide(datetime(2026, 5, 4, 8, tzinfo=UTC), 4.6, 80.0, 0.0, 15.0)
    >>> round(model(calm), 2), math.isnan(model(replace(calm, mass_kg=40.0)))
    (4.48, True)
    """

    def expected(one: MorningRide) -> float | Refusal:
        if one.mass_kg is None or one.head_mps is None or one.temperature_c is None:
            return refuse("figure-missing")
        wind, air = Wind(one.head_mps, one.cross_mps), Air(one.temperature_c)
        found = ride(line, replace(rider, mass_kg=one.mass_kg), wind, air, launch_mps=launch_mps, end_m=end_m)
        if isinstance(found, Refusal):
            return found
        return float(found.arrival_mps) if bool(found.arrived) else math.nan

    return expected
