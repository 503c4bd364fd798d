"""How fast a rider goes along the loaded cable, and whether he arrives. SI units; vectorised over riders and winds.

Driven by the energy of cable and rider (``engineering.cable``), held by rolling resistance, air and wind
(``engineering.march``). Against ``scipy.integrate.solve_ivp`` on the same equations 200 steps are within 1 mm/s
(COMPUTED). Left out: inertia of the cable (hence no answer above a quarter of the speed of its waves), swing of the
rider, a second rider, a rope behind him. The arrival speed is a small difference of large energies: a metre per second
of head wind can halve it. Without test rides on the line the figure is a planning figure, and it never clears anything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engineering.cable import Span, loaded_sag_share, span_of
from engineering.line import (
    DRAG_AREA_M2,
    G_MPS2,
    LAUNCH_MPS,
    MASS_KG,
    PRESSURE_PA,
    ROLLING,
    SAG,
    TEMPERATURE_C,
    WIND_MPS,
    Air,
    Figure,
    FloatArray,
    Line,
    Rider,
    Wind,
    air_density,
    line_problem,
    outside,
    tension_problem,
)
from engineering.march import march
from engineering.refusal import Refusal, refuse

ARRIVED, STALLED, UNKNOWN, OUTSIDE = range(4)
STATES = ("arrived", "stalled", "unknown", "outside")
STATE_SENTENCES = {
    "arrived": "Arrives.",
    "stalled": "Stops before the end of the line.",
    "unknown": "A figure is missing.",
    "outside": "Outside the range of the method.",
}
STEPS = 200
AT_ONCE = 256  # riders marched together: what the processor's cache holds
WAVE_SHARE = 0.25  # of the wave speed: cable inertia stays below 6 % of the sag (own estimate, COMPUTED)
SHEAVE_KG = (0.0, 5.0)
TENSION_N = (1.0, 1e7)


@dataclass(frozen=True)
class Trace:
    """Speeds along the ride, node first: ``x_m`` of the nodes, ``speed_mps``, and ``height_m`` below the launch."""

    x_m: FloatArray
    speed_mps: FloatArray
    height_m: FloatArray


@dataclass(frozen=True)
class Ride:
    """Rides of one shape. ``state`` indexes ``STATES``; a figure that a state does not have is ``nan``.

    ``arrival_mps`` and ``time_s`` are of those who arrive, ``stall_m`` of those who stop, ``top_mps`` and ``gates_mps``
    (gate first; ``nan`` beyond a stop) of both.
    """

    state: NDArray[np.int8]
    arrival_mps: FloatArray
    top_mps: FloatArray
    time_s: FloatArray
    stall_m: FloatArray
    gates_mps: FloatArray
    trace: Trace | None = None

    @property
    def arrived(self) -> NDArray[np.bool_]:
        """Return who arrives."""
        return np.equal(self.state, ARRIVED)

    @property
    def stalled(self) -> NDArray[np.bool_]:
        """Return who stops before the end."""
        return np.equal(self.state, STALLED)

    def names(self) -> list[str]:
        """Return the states by name, in flat order."""
        return [STATES[one] for one in self.state.flat]


def ride(
    line: Line,
    rider: Rider,
    wind: Wind | None,
    air: Air | None,
    *,
    launch_mps: Figure | None = 0.0,
    end_m: float | None = None,
    tension_n: Figure | None = None,
    cable_c: Figure | None = None,
    steps: int = STEPS,
    gates_m: Sequence[float] = (),
    traced: bool = False,
) -> Ride | Refusal:
    """Return the rides from the launch support to ``end_m`` (the landing support, if not given).

    Figures may be arrays that broadcast. ``tension_n`` replaces the line's tension (draws), ``cable_c`` is the cable's
    temperature where the sun makes it another than the air's. ``gates_m`` lie before ``end_m`` or at it: beyond the end
    of a ride no speed is told. A single figure that is missing or outside the range refuses with its reason; in an
    array that element is ``unknown`` or ``outside``. Raises ``ValueError`` for fewer than ten steps.

    >>> from engineering.line import Cable
    >>> line = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
    >>> one = ride(line, Rider(np.array([40.0, 80.0])), Wind(0.0), Air(15.0))
    >>> one.names(), round(float(one.arrival_mps[1]), 2), round(float(one.stall_m[0]), 1)
    (['stalled', 'arrived'], 4.48, 280.5)
    >>> ride(line, Rider(80.0), None, Air(15.0)).code
    'wind-missing'
    """
    if steps < 10:
        raise ValueError("a ride needs at least ten steps")
    problem = line_problem(line)
    if problem or line.span_m is None:
        return problem or refuse("span-missing")
    if wind is None or air is None:
        return refuse("wind-missing" if wind is None else "temperature-missing")
    end = line.span_m if end_m is None else end_m
    for place, last in ((end, line.span_m), *((gate, end) for gate in gates_m)):
        if not 0.0 < place <= last:
            return refuse("position-range", value=place)
    asked = {
        "mass": (rider.mass_kg, MASS_KG),
        "drag": (rider.drag_area_m2, DRAG_AREA_M2),
        "rolling": (rider.rolling, ROLLING),
        "sheave": (rider.sheave_kg, SHEAVE_KG),
        "wind": (wind.head_mps, WIND_MPS),
        "cross": (wind.cross_mps, WIND_MPS),
        "temperature": (air.temperature_c, TEMPERATURE_C),
        "cable": (air.temperature_c if cable_c is None else cable_c, TEMPERATURE_C),
        "pressure": (air.pressure_pa, PRESSURE_PA),
        "launch": (launch_mps, LAUNCH_MPS),
        "tension": (line.tension_n if tension_n is None else tension_n, TENSION_N),
    }
    if tension_n is not None and np.ndim(tension_n) == 0 and not math.isnan(float(tension_n)):
        problem = tension_problem(line, float(tension_n))
    checked = problem or _checked(asked)
    if isinstance(checked, Refusal):
        return checked
    figures, state = checked
    made = _Rides(line, end, steps, gates_m, traced, figures, state)
    for first in range(0, made.count, AT_ONCE):
        found = made.run(slice(first, first + AT_ONCE))
        if isinstance(found, Refusal):
            return found
    return made.result()


_CODES = {"cross": "wind", "cable": "temperature"}
_MISSING = {"sheave": "figure-missing"}  # nought by default: only a caller who takes that away leaves it out


def _checked(
    asked: dict[str, tuple[Figure | None, tuple[float, float]]],
) -> tuple[dict[str, FloatArray], NDArray[np.int8]] | Refusal:
    """Return the figures as arrays of one shape and the state each element starts with, or the first refusal."""
    arrays = {}
    for name, (value, within) in asked.items():
        if value is None or np.ndim(value) == 0:
            known = None if value is None else float(value)
            problem = outside(known, _CODES.get(name, name), within, missing=_MISSING.get(name, ""))
            if problem or value is None:
                return problem or refuse("figure-missing")
        arrays[name] = np.asarray(value, float)
    spread = dict(zip(arrays, np.broadcast_arrays(*arrays.values()), strict=True))
    state = np.zeros(spread["mass"].shape, np.int8)
    for name, (_, (low, high)) in asked.items():
        value = spread[name]
        with np.errstate(invalid="ignore"):
            state[(value < low) | (value > high)] = OUTSIDE
    for value in spread.values():
        state[np.isnan(value)] = UNKNOWN
    return spread, state


class _Rides:
    """Rides marched in bundles, into flat arrays."""

    def __init__(
        self,
        line: Line,
        end: float,
        steps: int,
        gates: Sequence[float],
        traced: bool,
        figures: dict[str, FloatArray],
        state: NDArray[np.int8],
    ) -> None:
        self.line, self.gates, self.single = line, np.asarray(gates, float), state.ndim == 0
        self.shape, self.count = state.shape, state.size
        self.x = np.linspace(0.0, end, steps + 1)
        self.figures = {name: value.reshape(-1) for name, value in figures.items()}
        self.state = state.reshape(-1)
        self.arrival, self.top, self.time, self.stall = (np.full(self.count, np.nan) for _ in range(4))
        self.gate_speeds = np.full((len(self.gates), self.count), np.nan)
        self.traces = [np.full((steps + 1, self.count), np.nan) for _ in range(2)] if traced else []

    def run(self, bundle: slice) -> Refusal | None:
        """March one bundle, leaving out what is unknown or outside from the start."""
        which = np.arange(self.count)[bundle][self.state[bundle] == ARRIVED]
        one = {name: value[which] for name, value in self.figures.items()}
        load = one["mass"] * G_MPS2
        span = span_of(self.line, one["cable"], one["tension"])
        if isinstance(span, Refusal):
            return span
        x = self.x[:, None]
        tension = span.tension(x, load)
        height = span.height(x, load, tension)
        arc = np.hypot(np.diff(x, axis=0), np.diff(height, axis=0))
        drag = air_density(one["temperature"], one["pressure"]) * one["drag"] / one["mass"]
        marched = march(
            self.x,
            np.asarray(span.potential(x, load, tension)),
            arc,
            drag,
            one["rolling"],
            one["wind"],
            one["cross"],
            one["launch"],
            one["sheave"] / one["mass"],
        )
        wave = self._wave_share(span, tension, marched.square)
        problem = self._sort_out(which, span, load, one["tension"], wave)
        if problem:
            return problem
        stopped = ~np.isnan(marched.stall_x)
        self.state[which[stopped & (self.state[which] == ARRIVED)]] = STALLED
        told = self.state[which] != OUTSIDE
        speed = np.sqrt(marched.square)
        self.arrival[which] = np.where(told & ~stopped, speed[-1], np.nan)
        self.time[which] = np.where(told & ~stopped, marched.time_s, np.nan)
        self.stall[which] = np.where(told & stopped, marched.stall_x, np.nan)
        self.top[which] = np.where(told, speed.max(axis=0), np.nan)
        if len(self.gates):
            passed = told & ~(self.gates[:, None] > marched.stall_x)
            self.gate_speeds[:, which] = np.where(passed, self._at_gates(marched.square), np.nan)
        for kept, value in zip(self.traces, (speed, height), strict=False):
            kept[:, which] = np.where(told, value, np.nan)
        return None

    def result(self) -> Ride:
        """Return all bundles in the shape that was asked for."""

        def shaped(flat: FloatArray) -> FloatArray:
            return flat.reshape((*flat.shape[:-1], *self.shape))

        return Ride(
            state=self.state.reshape(self.shape),
            arrival_mps=shaped(self.arrival),
            top_mps=shaped(self.top),
            time_s=shaped(self.time),
            stall_m=shaped(self.stall),
            gates_mps=shaped(self.gate_speeds),
            trace=Trace(self.x, *(shaped(one) for one in self.traces)) if self.traces else None,
        )

    def _wave_share(self, span: Span, tension: FloatArray, square: FloatArray) -> FloatArray:
        """Return the greatest share of the wave speed, c² = T / m, that each rider reaches."""
        wave_squared = tension * span.secant / (span.weight / (G_MPS2 * span.secant))
        share: FloatArray = np.sqrt(np.max(square / wave_squared, axis=0, initial=0.0))
        return share

    def _sort_out(
        self, which: NDArray[np.int_], span: Span, load: FloatArray, tension: FloatArray, wave: FloatArray
    ) -> Refusal | None:
        """Mark rides outside the method; of a single ride return the reason."""
        sag = np.asarray(loaded_sag_share(span, load))
        bare = span.weight * span.length / (8.0 * tension)
        limit = self.line.cable.breaking_force_n or math.inf
        reasons = (
            ((tension <= 0.0) | (tension >= limit), "tension-impossible", tension, 0.0),
            (~(bare >= SAG[0]), "sag-low", 100.0 * bare, 100.0 * SAG[0]),
            (~(sag <= SAG[1]), "sag-high", 100.0 * sag, 100.0 * SAG[1]),
            (~(wave <= WAVE_SHARE), "speed-wave", 100.0 * wave, 100.0 * WAVE_SHARE),
        )
        for bad, code, value, most in reasons:
            if self.single and bad.any():
                return refuse(code, value=float(value[bad][0]), limit=most)
            self.state[which[bad]] = OUTSIDE
        return None

    def _at_gates(self, square: FloatArray) -> FloatArray:
        """Return the speeds at the gates, by a straight line in u between nodes."""
        steps = len(self.x) - 1
        at = self.gates / self.x[-1] * steps
        node = np.minimum(at.astype(int), steps - 1)
        share = (at - node)[:, None]
        speeds: FloatArray = np.sqrt(square[node] * (1.0 - share) + square[node + 1] * share)
        return speeds
