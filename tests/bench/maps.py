"""A map of weights and winds with braking, and draws for one weight, beside one call of scipy's solver for each."""

from __future__ import annotations

import math
from time import perf_counter
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from engineering.brakes import Spring
from engineering.envelope import Landing, Plan, weight_wind_map
from engineering.envelope_cells import StopLimits
from engineering.envelope_draws import COUNT, Spread, draw
from engineering.line import G_MPS2, Air, Rider, air_density
from engineering.refusal import Refusal
from tests.bench.riders import LINE, _solved

SLOPE, PACK = 0.03, Spring(1200.0, 200.0, 4.0)
PLAN = Plan(LINE, Landing(300.0, 6.0, SLOPE), [PACK], Rider(None), Air(15.0), StopLimits(mean_g=3.0, peak_g=6.0))
MASSES, WINDS = np.linspace(50.0, 120.0, 15), np.linspace(-6.0, 2.0, 21)
SOLVED = 6
REPEATS = 5
MOST_MAP_MS, MOST_DRAWS_MS = 60, 1000


def weights_and_winds() -> dict[str, Any]:
    """Return milliseconds of a map of 15 × 21 cells with braking (best of five), the same by the solver, the ratio."""
    times = []
    for _ in range(REPEATS):
        begun = perf_counter()
        made = weight_wind_map(PLAN, MASSES, WINDS)
        times.append(1000 * (perf_counter() - begun))
    if isinstance(made, Refusal):
        raise RuntimeError(made.sentence)
    picked = [(14 - 2 * i, 3 * i) for i in range(SOLVED)]
    begun = perf_counter()
    solved = [_stopped(MASSES[i], 0.5, WINDS[j]) for i, j in picked]
    each = 1000 * (perf_counter() - begun) / SOLVED
    apart = [abs(made.cells.stop.stroke_m[at] - s) for at, s in zip(picked, solved, strict=True) if not math.isnan(s)]
    return {
        "cells": made.state.size,
        "ms": round(min(times), 1),
        "solver_ms": round(each * made.state.size),
        "ratio": round(each * made.state.size / min(times)),
        "apart_mm": round(float(1000 * max(apart)), 2) if apart else None,
    }


def draws() -> dict[str, Any]:
    """Return milliseconds of 20,000 draws for one weight (best of three), the same by the solver, the ratio."""
    times = []
    for _ in range(3):
        begun = perf_counter()
        made = draw(PLAN, 90.0, -1.0, Spread(), seed=1)
        times.append(1000 * (perf_counter() - begun))
    if isinstance(made, Refusal):
        raise RuntimeError(made.sentence)
    rng = np.random.default_rng(1)
    begun = perf_counter()
    for _ in range(SOLVED):
        _stopped(rng.normal(90, 2), rng.normal(0.5, 0.08), rng.normal(-1.0, 1.5))
    each = 1000 * (perf_counter() - begun) / SOLVED
    return {
        "draws": COUNT,
        "ms": round(min(times)),
        "solver_ms": round(each * COUNT),
        "ratio": round(each * COUNT / min(times)),
    }


def _stopped(mass: float, area: float, head: float) -> float:
    """Return the stroke by scipy's solver, or ``nan`` for a rider who stops short."""
    speed = _solved(mass, area, head)
    if math.isnan(speed):
        return math.nan
    drag = float(air_density(15.0)) * area / (2 * mass)

    def change(_: float, state: Any) -> list[float]:
        s, v = state
        force = 200.0 + 1200.0 * min(s, 4.0) + 120_000.0 * max(s - 4.0, 0.0)
        return [v, -force / mass - G_MPS2 * (SLOPE + 0.010) - drag * abs(v + head) * (v + head)]

    def halts(_: float, state: Any) -> float:
        return float(state[1])

    halts.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(change, [0.0, 60.0], [0.0, speed], rtol=1e-8, atol=1e-8, events=halts)
    return float(found.y[0, -1])


if __name__ == "__main__":
    print(weights_and_winds())
    print(draws())
