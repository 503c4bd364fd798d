"""Forecasts for five hundred parts, beside the obvious way: statsmodels' line with its bands, scipy's median slope."""

from __future__ import annotations

from datetime import date, timedelta
from time import perf_counter, process_time
from typing import Any

import numpy as np
import statsmodels.api as sm
from scipy import optimize, stats

from engineering.wear import FALLING
from engineering.wear_outlook import Ahead, Outlook, Reading, outlook

PARTS, READINGS, BY_LIBRARY = 500, 40, 10
TODAY, LIMIT, U = date(2026, 6, 1), 9.0, 0.0577
MOST_MS = 1000


def five_hundred_parts() -> dict[str, Any]:
    """Return milliseconds for both clocks of all parts (best of three), the same by libraries (from a few), the ratio.

    ``busy_ms`` is the computing time of this process alone, ``apart_rides`` the largest difference of an early bound
    from the library's, in rides.
    """
    parts = _parts()
    ahead = Ahead(TODAY, [TODAY + timedelta(days=k) for k in range(365)], [0.2] * 60, 40.0)
    times, busy, found = [], [], []
    for _ in range(3):
        begun, begun_busy = perf_counter(), process_time()
        found = [outlook(part, LIMIT, FALLING, U, ahead) for part in parts]
        times.append(1000 * (perf_counter() - begun))
        busy.append(1000 * (process_time() - begun_busy))
    begun = perf_counter()
    apart = [_apart(part, one) for part, one in zip(parts[:BY_LIBRARY], found, strict=False)]
    each = 1000 * (perf_counter() - begun) / BY_LIBRARY
    return {
        "parts": PARTS,
        "with_a_day": sum(one.early is not None for one in found),
        "ms": round(min(times), 1),
        "busy_ms": round(min(busy), 1),
        "library_ms": round(each * PARTS),
        "ratio": round(each * PARTS / min(times), 1),
        "apart_rides": round(1000 * max(apart), 6),
    }


def _parts() -> list[list[Reading]]:
    rng = np.random.default_rng(8)
    days = TODAY.toordinal() - np.arange(READINGS)[::-1] * 5.0
    made = []
    for rate in rng.uniform(0.02, 0.05, PARTS):
        cycles = np.linspace(1.0, 40.0, READINGS) + rng.uniform(0, 0.5, READINGS)
        cycles = np.minimum(np.sort(cycles), 40.0)
        sizes = np.round(12.0 - rate * cycles + rng.normal(0, 0.1, READINGS), 1)
        made.append([Reading(*one) for one in zip(days.tolist(), sizes.tolist(), cycles.tolist(), strict=True)])
    return made


def _apart(part: list[Reading], found: Outlook) -> float:
    """Do by libraries what a forecast does, for both clocks; return how far the early bounds by rides differ."""
    y = np.array([one.size for one in part])
    early = float("nan")
    for x in (np.array([one.day for one in part]), np.array([one.cycles for one in part])):
        fit = sm.OLS(y, sm.add_constant(x - x[0])).fit()
        fit.get_influence().resid_studentized_external  # noqa: B018  (the work is in the reading)
        stats.theilslopes(y, x, 0.90)

        def edge(at: float, fit: Any = fit, x: Any = x) -> float:
            band = fit.get_prediction(np.array([[1.0, at - x[0]]])).summary_frame(alpha=0.10)
            return float(band["obs_ci_lower"].iloc[0]) - LIMIT

        early = optimize.brentq(edge, x[0], x[0] + 20 * (x[-1] - x[0]), xtol=1e-9)
    return abs(early - found.cycles.early) if found.cycles.early is not None else 0.0


if __name__ == "__main__":
    print(five_hundred_parts())
