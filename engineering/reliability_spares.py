"""How many spares to have, and at what age replacing pays: for planning and ordering only.

A part that wears fails more regularly than Poisson's law says, so that its stock is on the ample side. Neither figure
is for parts whose failure can hurt someone: those go by limit, maker's life and inspection, whatever it costs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import gamma, gammainc, gammaincc

from engineering.reliability_words import Note, note

MOST_DEMAND = 1e6
STEEPEST = 50.0  # of the shape; no part fails so punctually


def demand(in_service: int, cycles: float, mean_life: float) -> float | Note:
    """Return the mean number of parts needed: parts in service times cycles of the time to resupply / mean life.

    >>> round(demand(12, 4000.0, 60_000.0), 6)
    0.8
    """
    for name, value in (("parts", in_service), ("cycles", cycles)):
        if not 0.0 <= value < math.inf:
            return note("setting-impossible", name=name, value=value)
    if not 0.0 < mean_life < math.inf:
        return note("setting-impossible", name="mean life", value=mean_life)
    return in_service * cycles / mean_life


@dataclass(frozen=True)
class Spares:
    """How many to have, and the chance that they suffice until the next ones come."""

    stock: int
    assurance: float


def spares(mean_demand: float, level: float) -> Spares | Note:
    """Return the smallest stock n with P(N <= n) >= level, N being Poisson with the mean demand.

    Add the demands of parts that share one spare. ``level`` is between 0 and 1.

    >>> spares(8.0, 0.90).stock, round(spares(8.0, 0.90).assurance, 4)
    (12, 0.9362)
    """
    if not 0.0 <= mean_demand < math.inf:
        return note("setting-impossible", name="demand", value=mean_demand)
    if mean_demand > MOST_DEMAND:
        return note("demand-large", value=mean_demand)
    if not 0.0 < level < 1.0:
        return note("level-impossible", value=level)
    if mean_demand == 0.0:
        return Spares(0, 1.0)

    def suffices(stock: int) -> float:
        return float(gammaincc(stock + 1.0, mean_demand))

    # Below no stock and above a stock that surely suffices lies the smallest; halve between them.
    low, high = -1, 1
    while suffices(high) < level:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if suffices(middle) >= level else (middle, high)
    return Spares(high, suffices(high))


@dataclass(frozen=True)
class Replacement:
    """The age of least cost, the cost per unit of life there, and that of only replacing what has failed."""

    age: float
    cost: float
    cost_without: float


def replacement_age(shape: float, scale: float, planned: float, failed: float) -> Replacement | Note:
    """Return the age of replacement of least mean cost, [planned R + failed (1 - R)] / integral of R from 0 to age.

    R is Weibull's share of survivors; the condition h(t) * integral - F(t) = planned / (failed - planned) is solved by
    halving. ``no-best-age`` where the part does not wear out (shape up to 1) or a failure costs no more.

    >>> best = replacement_age(2.5, 1000.0, 1.0, 5.0)
    >>> round(best.age, 1), round(best.cost, 4)
    (493.0, 0.0035)
    """
    for name, value in (("shape", shape), ("scale", scale), ("planned", planned), ("failed", failed)):
        if not 0.0 < value < math.inf:
            return note("setting-impossible", name=name, value=value)
    if shape > STEEPEST:
        return note("setting-impossible", name="shape", value=shape)
    if shape <= 1.0 or failed <= planned:
        return note("no-best-age")
    mean = float(gamma(1.0 + 1.0 / shape))  # of a scale of 1, as is all that follows
    worth = planned / (failed - planned)

    def lived(age: float) -> float:
        return mean * float(gammainc(1.0 / shape, age**shape))

    def past(age: float) -> bool:
        return shape * math.pow(age, shape - 1.0) * lived(age) + math.expm1(-math.pow(age, shape)) > worth

    high = 1.0
    while not past(high):
        high *= 2.0
        if high > 1e6:
            return note("no-best-age")
    low = 0.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if not low < middle < high:
            break
        low, high = (low, middle) if past(middle) else (middle, high)
    age = 0.5 * (low + high)
    survive = math.exp(-(age**shape))
    cost = (planned * survive + failed * (1.0 - survive)) / (lived(age) * scale)
    return Replacement(age * scale, cost, failed / (mean * scale))
