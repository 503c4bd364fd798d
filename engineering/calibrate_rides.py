"""Test rides for a calibration: what each has to carry, and which can be used. SI units.

A ride is left out with a reason, never silently. Wind counts as known only when it was measured: a steady head wind of
1 m/s taken for none makes the rolling resistance more than twice too great (COMPUTED).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engineering.line import (
    LAUNCH_MPS,
    MASS_KG,
    PRESSURE_PA,
    TEMPERATURE_C,
    WIND_MPS,
    Line,
    line_problem,
    outside,
)
from engineering.refusal import Refusal, refuse

ARRIVAL_MPS = (0.2, 40.0)
GAUGE_MPS = (0.01, 2.0)
WIND_SD_MPS = (0.0, 5.0)


@dataclass(frozen=True)
class Gauge:
    """Where and how exactly speeds were taken: the arrival at ``end_m`` from the launch, gates before it.

    ``sd_mps`` is the standard deviation of a speed reading, ``wind_sd_mps`` that of the wind along the line.
    """

    end_m: float | None
    sd_mps: float | None = 0.15
    wind_sd_mps: float | None = 0.0
    gates_m: tuple[float, ...] = ()

    def problem(self, line: Line) -> Refusal | None:
        """Return why nothing can be fitted with this gauge on this line, or ``None``."""
        found = line_problem(line) or outside(self.sd_mps, "gauge", GAUGE_MPS)
        found = found or outside(self.wind_sd_mps, "gauge", WIND_SD_MPS)
        for place, last in ((self.end_m, line.span_m), *((gate, self.end_m) for gate in self.gates_m)):
            if not found and (place is None or last is None or not 0.0 < place <= last):
                found = refuse("landing-missing") if place is None else refuse("position-range", value=place)
        return found


@dataclass(frozen=True)
class BallastRide:
    """One test ride: weight, arrival speed, the wind along and across at the time, temperature; speeds at the gates."""

    mass_kg: float | None
    arrival_mps: float | None
    head_mps: float | None
    temperature_c: float | None
    cross_mps: float | None = 0.0
    pressure_pa: float | None = 101_325.0
    launch_mps: float | None = 0.0
    gates_mps: tuple[float | None, ...] = ()
    accepted: bool = True

    def problem(self, gates: int) -> Refusal | None:
        """Return why this ride cannot be used with so many gates, or ``None``."""
        found = None if self.accepted else refuse("not-accepted")
        found = found or outside(self.mass_kg, "mass", MASS_KG) or outside(self.arrival_mps, "arrival", ARRIVAL_MPS)
        found = found or outside(self.head_mps, "wind", WIND_MPS) or outside(self.cross_mps, "wind", WIND_MPS)
        found = found or outside(self.temperature_c, "temperature", TEMPERATURE_C)
        found = found or outside(self.pressure_pa, "pressure", PRESSURE_PA)
        found = found or outside(self.launch_mps, "launch", LAUNCH_MPS)
        if not found and len(self.gates_mps) != gates:
            found = refuse("gates-missing")
        for speed in self.gates_mps:
            found = found or outside(speed, "arrival", ARRIVAL_MPS)
        return found


@dataclass(frozen=True)
class LeftOut:
    """A ride, by its place in the list, that is not used, and why."""

    number: int
    why: Refusal


def usable(rides: Sequence[BallastRide], gates: int = 0) -> tuple[list[BallastRide], tuple[LeftOut, ...]]:
    """Return the rides that can be used, and those left out with the reason.

    >>> used, left_out = usable([BallastRide(80.0, 6.1, None, 15.0), BallastRide(80.0, 6.1, 0.3, 15.0)])
    >>> len(used), left_out[0].why.code
    (1, 'wind-missing')
    """
    used, left_out = [], []
    for number, one in enumerate(rides):
        why = one.problem(gates)
        if why:
            left_out.append(LeftOut(number, why))
        else:
            used.append(one)
    return used, tuple(left_out)
