"""The baseline of a test-ride chart: the first twenty good mornings after a service, then frozen.

It is made of the rides alone, in their order, so that it comes out the same whenever it is asked for; an alarm does not
move it. Only a service, entered by a person with a reason, begins a new one. Keep what was made and hand it back as
``frozen``: then later changes of old entries are noticed and do not move the limits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from engineering.control_charts import Individuals, individuals, lag_one
from engineering.control_residual import Dropped, Plan, Residual
from engineering.control_tuning import BASELINE
from engineering.control_words import Note, note

WILD = 5.0  # robust sigmas from the median; 0.9 % of normal baselines of twenty have such a morning (own simulation)
LEAST_SIGMA = 1e-6  # m or m/s: less is the rounding of equal figures, not scatter


@dataclass(frozen=True)
class Baseline:
    """Centre and sigma of the residuals, their first and last ride, how many they are, and what is remarkable."""

    first: datetime
    last: datetime
    count: int
    centre: float
    sigma: float
    notes: tuple[Note, ...] = ()
    wild: tuple[datetime, ...] = ()

    def same_figures(self, other: Baseline) -> bool:
        """Tell whether the other one was made of the same rides, to the last digits of floating point."""
        near = math.isclose(self.sigma, other.sigma, rel_tol=1e-9)
        near = near and abs(self.centre - other.centre) <= 1e-9 * max(self.sigma, abs(self.centre))
        return near and (self.first, self.last, self.count) == (other.first, other.last, other.count)


def baseline_rides(residuals: Sequence[Residual]) -> tuple[list[Residual], list[Dropped]]:
    """Return the rides a baseline is made of, one a day, and those up to its end that are left out, with the reason.

    ``residuals`` are in the order of time, since the last service. A day's first good ride is taken.
    """
    taken: list[Residual] = []
    left: list[Dropped] = []
    for one in residuals:
        if len(taken) == BASELINE:
            break
        if one.ride.struck:
            left.append(Dropped(one.ride, note("baseline-struck", reason=one.ride.struck)))
        elif not one.ride.good:
            left.append(Dropped(one.ride, note("baseline-not-good")))
        elif taken and taken[-1].day == one.day:
            left.append(Dropped(one.ride, note("baseline-second")))
        else:
            taken.append(one)
    return taken, left


def baseline_of(taken: Sequence[Residual], plan: Plan) -> Baseline | Note:
    """Make the baseline of twenty residuals: centre their mean, sigma their mean moving range / 1.128.

    sigma is at least the gauge's own scatter. With a wild morning among them (more than ``WILD`` robust sigmas from the
    median) the centre is the median and sigma the smaller of the two estimates, so that one slip does not blind the
    chart; the note asks a person to strike it. ``baseline-short`` with fewer than twenty, ``no-scatter`` when all are
    equal and no gauge is entered.
    """
    if len(taken) < BASELINE:
        return note("baseline-short", count=len(taken), needed=BASELINE) if taken else note("no-rides")
    values = [one.value for one in taken]
    breaks = {i for i in range(1, len(taken)) if (taken[i].day - taken[i - 1].day).days > plan.gap_days}
    plain = individuals(values, breaks=breaks, floor=plan.gauge_u)
    if isinstance(plain, Note):
        return plain
    if plain.sigma < LEAST_SIGMA:
        return note("no-scatter")
    made = Baseline(taken[0].at, taken[-1].at, len(taken), plain.centre, plain.sigma)
    notes = [note("gauge-coarse")] if plain.floored else []
    robust = individuals(values, breaks=breaks, floor=plan.gauge_u, robust=True, width=WILD)
    if isinstance(robust, Individuals) and robust.signals:
        wild = tuple(taken[i].at for i in robust.signals)
        made = replace(made, centre=robust.centre, sigma=min(plain.sigma, robust.sigma), wild=wild)
        notes.append(note("baseline-wild"))
    related = lag_one(values)
    # Two standard errors of a correlation of independent figures (textbook, from memory).
    if not isinstance(related, Note) and abs(related) > 2.0 / math.sqrt(len(values)):
        notes.append(note("baseline-related"))
    return replace(made, notes=tuple(notes))
