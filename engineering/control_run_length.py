"""How long a chart runs before it signals, on average: why its settings are what they are.

For independent normal figures with a known centre and sigma; shifts, slack and decision are in sigmas. The mean run
length L from state u solves L(u) = 1 + (chance of going back to the start) L(0) + the integral of L over the states
between; it is solved at the nodes of a Gauss-Legendre rule (method of Brook and Evans 1972 and Crowder 1987, textbook,
from memory). Published tables are the tests. With a baseline of only twenty mornings centre and sigma are *not* known,
and false alarms come far oftener than these figures say: ``engineering.control_tuning`` reckons with that.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from engineering.control_words import Note, note

MOST_NODES = 1200
LONGEST = 1e9  # points; beyond it the equations say nothing in double precision
_erf = np.frompyfunc(math.erf, 1, 1)


def individuals_run_length(shift: float, width: float = 3.0) -> float | Note:
    """Return the mean run length of limits at ± ``width`` sigmas when the mean has moved by ``shift`` sigmas.

    >>> round(individuals_run_length(0.0), 1), round(individuals_run_length(3.0), 1)
    (370.4, 2.0)
    """
    bad = _bad(shift=shift) or _bad_above(width=width)
    if bad:
        return bad
    outside = math.erfc((width - shift) / math.sqrt(2.0)) + math.erfc((width + shift) / math.sqrt(2.0))
    return _length(2.0 / outside) if outside > 0.0 else note("run-too-long")


def cusum_run_length(shift: float, *, slack: float, decision: float, both_sides: bool = False) -> float | Note:
    """Return the mean run length of a CUSUM that begins at nought; of its upper side, or of both together.

    Both sides together: 1/L = 1/L(shift) + 1/L(-shift) (exact for sums that begin at nought, Kemp 1961, from memory).

    >>> round(cusum_run_length(0.0, slack=0.5, decision=5.0)), round(cusum_run_length(1.0, slack=0.5, decision=5.0), 2)
    (931, 10.38)
    """
    bad = _bad(shift=shift) or _bad_above(decision=decision)
    if bad or not 0.0 <= slack < math.inf:
        return bad or note("setting-impossible", name="slack", value=slack)
    nodes = _nodes(decision)
    if nodes > MOST_NODES:
        return note("setting-impossible", name="decision", value=decision)
    upper = _one_sided(shift, slack, decision, nodes)
    if not both_sides:
        return _length(upper)
    lower = _one_sided(-shift, slack, decision, nodes)
    # A side that hardly ever signals adds nothing, whatever the digits of its own run length.
    shares = [1.0 / one for one in (upper, lower) if 1.0 <= one < LONGEST]
    return _length(1.0 / math.fsum(shares)) if shares else note("run-too-long")


def ewma_run_length(shift: float, *, weight: float, width: float) -> float | Note:
    """Return the mean run length of a two-sided EWMA with settled limits that begins at its centre.

    >>> round(ewma_run_length(0.0, weight=0.5, width=2.0), 2)
    26.45
    """
    bad = _bad(shift=shift) or _bad_above(width=width, weight=weight)
    if bad or weight > 1.0:
        return bad or note("setting-impossible", name="weight", value=weight)
    edge = width * math.sqrt(weight / (2.0 - weight))
    nodes = _nodes(2.0 * edge / weight)
    if nodes > MOST_NODES:
        return note("setting-impossible", name="width", value=width)
    points, shares = _rule(-edge, edge, nodes)

    def go(states: NDArray[np.float64]) -> NDArray[np.float64]:
        return shares * _density((points - (1.0 - weight) * states[:, None]) / weight - shift) / weight

    lengths = np.linalg.solve(np.eye(nodes) - go(points), np.ones(nodes))
    return _length(float(1.0 + (go(np.zeros(1)) @ lengths)[0]))


def _length(found: float) -> float | Note:
    return found if 1.0 <= found < LONGEST else note("run-too-long")


def _nodes(sigmas: float) -> int:
    """Return how many nodes a span of so many sigmas of one step needs; twice as many change no printed digit."""
    return 60 + math.ceil(4.0 * min(sigmas, 1e6))


def _one_sided(shift: float, slack: float, decision: float, nodes: int) -> float:
    points, shares = _rule(0.0, decision, nodes)
    states = np.concatenate(([0.0], points))
    step = np.empty((nodes + 1, nodes + 1))
    step[:, 0] = _below(slack - shift - states)
    step[:, 1:] = shares * _density(points + slack - shift - states[:, None])
    return float(np.linalg.solve(np.eye(nodes + 1) - step, np.ones(nodes + 1))[0])


def _rule(low: float, high: float, nodes: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    points, shares = np.polynomial.legendre.leggauss(nodes)
    return (high - low) / 2.0 * points + (high + low) / 2.0, (high - low) / 2.0 * shares


def _density(z: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)


def _below(z: NDArray[np.float64]) -> NDArray[np.float64]:
    scaled: Callable[[NDArray[np.float64]], NDArray[np.object_]] = _erf
    return 0.5 * (1.0 + scaled(z / math.sqrt(2.0)).astype(float))


def _bad(**figures: float) -> Note | None:
    for name, value in figures.items():
        if not math.isfinite(value):
            return note("setting-impossible", name=name, value=value)
    return None


def _bad_above(**figures: float) -> Note | None:
    for name, value in figures.items():
        if not 0.0 < value < math.inf:
            return note("setting-impossible", name=name, value=value)
    return None
