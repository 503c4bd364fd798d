"""A thousand riders along the loaded cable, beside the obvious way: one call of scipy's solver for each of them."""

from __future__ import annotations

import math
from time import perf_counter
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from engineering.cable import span_of
from engineering.line import G_MPS2, Air, Cable, Line, Rider, Wind, air_density
from engineering.refusal import Refusal
from engineering.ride import ride

RIDERS, SOLVED = 1000, 8
LINE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)


def thousand_riders() -> dict[str, Any]:
    """Return milliseconds for all riders (best of five), the same by the solver (from a few of them), and the ratio."""
    rng = np.random.default_rng(20)
    mass, area = rng.uniform(40, 130, RIDERS), rng.uniform(0.3, 0.8, RIDERS)
    head = rng.normal(0.0, 2.0, RIDERS)
    times = []
    for _ in range(5):
        begun = perf_counter()
        found = ride(LINE, Rider(mass, area), Wind(head), Air(15.0))
        times.append(1000 * (perf_counter() - begun))
    if isinstance(found, Refusal):
        raise RuntimeError(found.sentence)
    begun = perf_counter()
    solved = [_solved(mass[i], area[i], head[i]) for i in range(SOLVED)]
    each = 1000 * (perf_counter() - begun) / SOLVED
    apart = [abs(found.arrival_mps[i] - v) for i, v in enumerate(solved) if not math.isnan(v)]
    return {
        "riders": RIDERS,
        "ms": round(min(times), 1),
        "solver_ms": round(each * RIDERS),
        "ratio": round(each * RIDERS / min(times)),
        "apart_mm_per_s": round(float(1000 * max(apart)), 2) if apart else None,
    }


def _solved(mass: float, area: float, head: float) -> float:
    """Return the arrival speed by scipy's solver, or ``nan`` after a stop."""
    span = span_of(LINE, 15.0)
    if isinstance(span, Refusal):
        raise RuntimeError(span.sentence)
    load, drag = mass * G_MPS2, float(air_density(15.0)) * area / (2 * mass)

    def change(_: float, state: Any) -> list[float]:
        x, v = min(max(state[0], 0.0), 300.0), state[1]
        h = span.tension(x, load)
        low, high = max(x - 0.01, 0.0), min(x + 0.01, 300.0)
        rise = span.height(high, load, span.tension(high, load)) - span.height(low, load, span.tension(low, load))
        secant = math.hypot(1.0, float(rise) / (high - low))
        slope = float(span.driving_slope(x, load, h))
        return [v / secant, (-G_MPS2 * (slope + 0.010)) / secant - drag * abs(v + head) * (v + head)]

    def ends(_: float, state: Any) -> float:
        return float(state[0] - 300.0)

    def stops(_: float, state: Any) -> float:
        return float(state[1] - 1e-6)

    ends.terminal = stops.terminal = True  # type: ignore[attr-defined]
    stops.direction = -1  # type: ignore[attr-defined]
    found = solve_ivp(change, [0.0, 400.0], [0.0, 1e-4], rtol=1e-8, atol=1e-8, events=[ends, stops])
    return float(found.y[1, -1]) if len(found.t_events[0]) else math.nan


if __name__ == "__main__":
    print(thousand_riders())
