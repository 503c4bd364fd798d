"""A stop in the brake zone: stroke, what is left to bind, decelerations, roll-back. SI units; vectorised over riders.

Against closed forms and ``scipy.integrate.solve_ivp`` the stroke is within 2 mm (COMPUTED). Left out: the swing of the
rider under the trolley, rope stretch and slack, a brake trolley's mass, a friction brake that still grips when the
rider rolls back. Planning figures: the designer's and the maker's decide, and nothing here clears anything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from engineering.brakes import Cord, Eddy, Part, Spring, parts_problem
from engineering.brakes_march import Braked, Course, course
from engineering.line import (
    DRAG_AREA_M2,
    G_MPS2,
    MASS_KG,
    PRESSURE_PA,
    ROLLING,
    TEMPERATURE_C,
    WIND_MPS,
    Air,
    Figure,
    FloatArray,
    Rider,
    Wind,
    air_density,
    outside,
)
from engineering.refusal import Refusal, refuse

STOPPED, PASSED, UNKNOWN, OUTSIDE = range(4)
STATES = ("stopped", "passed", "unknown", "outside")
STATE_SENTENCES = {
    "stopped": "Stops in the brake zone.",
    "passed": "Comes to the end of the brake zone before it stops.",
    "unknown": "A figure is missing.",
    "outside": "Outside the range of the method.",
}
SPEED_MPS = (0.0, 40.0)
ZONE_M = (0.1, 100.0)
ZONE_SLOPE = (-0.3, 0.5)
SLOPE_PER_M = (-0.02, 0.02)
STEP_M, MOST_STEPS = 0.05, 400  # where something depends on the speed: 4 mm at worst, by eddy brakes (COMPUTED)
PROFILE = 48  # places per rider at which decelerations are looked at, closer together towards the stop
AT_ONCE = 2048
PEAK_G = 2.5  # above it the time is counted; Cal. Code Regs. Title 8, 3108 (lift buffers), READ


@dataclass(frozen=True)
class Zone:
    """The brake zone from where the arrival speed is taken to its end, the place no rider may reach.

    ``slope`` is what drives the rider there as rise over run, uphill towards the landing positive (on a loaded cable
    the driving slope, ``engineering.cable``), ``slope_per_m`` its growth per metre. A rider who stops before
    ``capture_m`` was not caught.
    """

    length_m: float | None
    slope: Figure | None
    slope_per_m: Figure = 0.0
    capture_m: float = 0.0


@dataclass(frozen=True)
class Stop:
    """Stops of one shape. ``state`` indexes ``STATES``; a figure that a state does not have is ``nan``.

    Of those stopped: ``stroke_m`` from the beginning of the zone; ``left_m`` to the bind of the spring or cord nearest
    to it (negative: bound) and ``used`` its share of the travel (``nan`` where nothing can bind); greatest and mean
    deceleration in standard gravities, the mean from where the first brake grips; ``over_s`` how long it was above
    ``over_g``; ``step_g`` the greatest sudden force met; ``onset_g_per_s`` the fastest growth besides; ``back_mps`` the
    speed at which the rider is thrown or rolls back to the beginning of the zone, and ``back_m`` how far beyond it,
    ``nan`` with ``rolls_away`` where the cable falls away behind him. ``time_s`` is ``nan`` where an eddy brake alone
    brings to rest. Of those who passed: ``out_mps``, the speed at the end of the zone.
    """

    state: NDArray[np.int8]
    stroke_m: FloatArray
    left_m: FloatArray
    used: FloatArray
    peak_g: FloatArray
    mean_g: FloatArray
    over_s: FloatArray
    step_g: FloatArray
    onset_g_per_s: FloatArray
    time_s: FloatArray
    back_mps: FloatArray
    back_m: FloatArray
    rolls_away: NDArray[np.bool_]
    out_mps: FloatArray

    def names(self) -> list[str]:
        """Return the states by name, in flat order."""
        return [STATES[one] for one in self.state.flat]

    def shaped(self, shape: tuple[int, ...]) -> Stop:
        """Return the same stops in another shape."""
        return Stop(*(getattr(self, one.name).reshape(shape) for one in fields(self)))


_FIGURES = tuple(one.name for one in fields(Stop) if one.name != "state")


def stop(
    parts: Sequence[Part],
    zone: Zone,
    rider: Rider,
    speed_mps: Figure | None,
    wind: Wind | None,
    air: Air | None,
    *,
    over_g: float = PEAK_G,
    steps: int | None = None,
) -> Stop | Refusal:
    """Return the stops of riders who come into the zone at ``speed_mps``. No parts at all is a run-out.

    Figures of rider, speed, slope, wind and air may be arrays that broadcast. A single figure that is missing or
    outside the range refuses with its reason; in an array that element is ``unknown`` or ``outside``. Raises
    ``ValueError`` for fewer than ten steps of the zone (one per 5 cm, if not given, to 400).

    >>> pack = Spring(1200.0, 200.0, bind_m=3.0)
    >>> one = stop([pack], Zone(4.0, 0.03), Rider(80.0, 0.0), 8.0, Wind(0.0), Air(15.0))
    >>> one.names(), round(float(one.stroke_m), 3), round(float(one.left_m), 3), round(float(one.peak_g), 2)
    (['stopped'], 1.882, 1.118, 3.17)
    >>> stop([Spring(1200.0, 200.0)], Zone(4.0, 0.03), Rider(80.0), 8.0, Wind(0.0), Air(15.0)).code
    'bind-missing'
    """
    if steps is not None and steps < 10:
        raise ValueError("a stop needs at least ten steps")
    problem = outside(zone.length_m, "zone", ZONE_M)
    if problem or zone.length_m is None:
        return problem or refuse("zone-missing")
    if wind is None or air is None:
        return refuse("wind-missing" if wind is None else "temperature-missing")
    problem = outside(zone.capture_m, "capture", (0.0, zone.length_m), missing="figure-missing")
    problem = problem or parts_problem(parts, zone.length_m)
    if problem:
        return problem
    asked = {
        "speed": (speed_mps, SPEED_MPS),
        "mass": (rider.mass_kg, MASS_KG),
        "drag": (rider.drag_area_m2, DRAG_AREA_M2),
        "rolling": (rider.rolling, ROLLING),
        "zone-slope": (zone.slope, ZONE_SLOPE),
        "slope-growth": (zone.slope_per_m, SLOPE_PER_M),
        "wind": (wind.head_mps, WIND_MPS),
        "cross": (wind.cross_mps, WIND_MPS),
        "temperature": (air.temperature_c, TEMPERATURE_C),
        "pressure": (air.pressure_pa, PRESSURE_PA),
    }
    steps = steps or max(10, min(MOST_STEPS, math.ceil(zone.length_m / STEP_M)))
    checked = _checked(asked)
    if isinstance(checked, Refusal):
        return checked
    figures, state = checked
    shape, state = state.shape, state.reshape(-1)
    found = {name: np.full(state.size, False if name == "rolls_away" else np.nan) for name in _FIGURES}
    good = np.flatnonzero(state == STOPPED)
    for first in range(0, good.size, AT_ONCE):
        which = good[first : first + AT_ONCE]
        braked = _braked(parts, {name: value.reshape(-1)[which] for name, value in figures.items()})
        told = _told(course(braked, zone.length_m, steps), over_g)
        state[which[told["passed"]]] = PASSED
        for name in _FIGURES:
            found[name][which] = told[name]
    return Stop(state.reshape(shape), *(found[name].reshape(shape) for name in _FIGURES))


_CODES = {"cross": "wind", "slope-growth": "zone-slope"}


def _checked(
    asked: dict[str, tuple[Figure | None, tuple[float, float]]],
) -> tuple[dict[str, FloatArray], NDArray[np.int8]] | Refusal:
    """Return the figures as arrays of one shape and the state each element starts with, or the first refusal."""
    arrays = {}
    for name, (value, within) in asked.items():
        if value is None or np.ndim(value) == 0:
            problem = outside(None if value is None else float(value), _CODES.get(name, name), within)
            if problem or value is None:
                return problem or refuse("figure-missing")
        arrays[name] = np.asarray(value, float)
    spread = dict(zip(arrays, np.broadcast_arrays(*arrays.values()), strict=True))
    state = np.zeros(spread["mass"].shape, np.int8)
    for name, (_, (low, high)) in asked.items():
        state[~((spread[name] >= low) & (spread[name] <= high))] = OUTSIDE
    for value in spread.values():
        state[np.isnan(value)] = UNKNOWN
    return spread, state


def _braked(parts: Sequence[Part], one: dict[str, FloatArray]) -> Braked:
    placed = [part for part in parts if not isinstance(part, Eddy)]
    density = air_density(one["temperature"], one["pressure"])
    return Braked(
        mass=one["mass"],
        speed=one["speed"],
        slope=one["zone-slope"],
        slope_per_m=one["slope-growth"],
        rolling=one["rolling"],
        drag=np.asarray(density * one["drag"] / (2.0 * one["mass"])),
        head=one["wind"],
        cross=one["cross"],
        placed=placed,
        begins=[np.broadcast_to(np.asarray(part.starts(one["speed"]), float), one["mass"].shape) for part in placed],
        eddies=[part for part in parts if isinstance(part, Eddy)],
    )


def _told(ridden: Course, over_g: float) -> dict[str, NDArray[np.float64] | NDArray[np.bool_]]:
    """Return the figures of ``Stop``, and who passed."""
    braked, end, stopped = ridden.braked, ridden.end, ridden.stopped
    s = _places(braked, end)
    speed = np.sqrt(ridden.square(s))
    speed[-1] = np.where(stopped, 0.0, speed[-1])
    slowing = braked.deceleration(s, speed) / G_MPS2
    both = speed[1:] + speed[:-1]
    moving = both > 0.0
    dt = np.where(moving, 2.0 * np.diff(s, axis=0) / np.where(moving, both, 1.0), 0.0)
    grip = _first_grip(braked, end)
    gripped = ridden.square(grip[None, :])[0]
    way = end - grip
    mean = np.where(way > 0.0, gripped / np.where(way > 0.0, 2.0 * G_MPS2 * way, 1.0), 0.0)
    left, used = _to_bind(braked, end)
    back_mps, back_m, away = _thrown_back(braked, end)
    told = {
        "stroke_m": end,
        "left_m": left,
        "used": used,
        "peak_g": np.maximum(slowing.max(axis=0), 0.0),
        "mean_g": mean,
        "over_s": np.sum(dt * _share_above(slowing, over_g), axis=0),
        "step_g": _step(ridden) / G_MPS2,
        "onset_g_per_s": _onset(braked, s, speed, slowing) / G_MPS2,
        "time_s": np.where(ridden.faded, np.nan, dt.sum(axis=0)),
        "back_mps": back_mps,
        "back_m": back_m,
    }
    return {
        **{name: np.where(stopped, value, np.nan) for name, value in told.items()},
        "rolls_away": away & stopped,
        "out_mps": np.where(stopped, np.nan, np.sqrt(ridden.out_square)),
        "passed": ~stopped,
    }


def _places(braked: Braked, end: FloatArray) -> FloatArray:
    """Return the places to look at: closer together towards the end, and wherever a force begins or a spring binds."""
    even = np.linspace(0.0, 1.0, PROFILE + 1)[:, None]
    places = [(1.0 - (1.0 - even) ** 2) * end]
    for part, begin in zip(braked.placed, braked.begins, strict=True):
        places.append(np.minimum(begin, end)[None, :])
        if isinstance(part, Spring | Cord):
            places.append(np.minimum(begin + (part.to_bind_m or 0.0), end)[None, :])
    for eddy in braked.eddies:
        places += [np.minimum(place, end)[None, :] for place in (eddy.start_m, eddy.ends_m())]
    sorted_places: FloatArray = np.sort(np.concatenate(places), axis=0)
    return sorted_places


def _first_grip(braked: Braked, end: FloatArray) -> FloatArray:
    """Return where the first brake grips, or 0 where a rider stopped before it or there is none."""
    begins = [*braked.begins, *(np.full(end.shape, eddy.start_m) for eddy in braked.eddies)]
    if not begins:
        return np.zeros_like(end)
    first = np.min(begins, axis=0)
    return np.where(first < end, first, 0.0)


def _share_above(slowing: FloatArray, over_g: float) -> FloatArray:
    """Return for each step which share of it a straight line between its ends is above the limit."""
    high, low = np.maximum(slowing[1:], slowing[:-1]), np.minimum(slowing[1:], slowing[:-1])
    rise = high - low
    crossing = np.clip((high - over_g) / np.where(rise > 0.0, rise, 1.0), 0.0, 1.0)
    return np.where(low > over_g, 1.0, np.where(high > over_g, crossing, 0.0))


def _step(ridden: Course) -> FloatArray:
    """Return the greatest sudden deceleration in m/s²: preload, friction, the entry into an eddy brake."""
    braked, end = ridden.braked, ridden.end
    most = np.zeros_like(end)
    for part, begin in zip(braked.placed, braked.begins, strict=True):
        most = np.maximum(most, part.jump_n(end - begin) / braked.mass)
    for eddy in braked.eddies:
        force, critical = eddy.figures()
        square = ridden.square(np.minimum(eddy.start_m, end)[None, :])[0]
        entry = 2.0 * force * critical * np.sqrt(square) / (square + critical**2) / braked.mass
        most = np.maximum(most, np.where(end > eddy.start_m, entry, 0.0))
    return most


def _onset(braked: Braked, s: FloatArray, speed: FloatArray, slowing: FloatArray) -> FloatArray:
    """Return the fastest growth of the deceleration in m/s³, jumps left out: dF/ds v + dF/dv dv/dt, over m."""
    growth = np.zeros_like(s)
    for part, begin in zip(braked.placed, braked.begins, strict=True):
        growth = growth + part.growth(s - begin) * speed
    for eddy in braked.eddies:
        force, critical = eddy.figures()
        acts = (s >= eddy.start_m) & (s <= eddy.ends_m())
        by_speed = 2.0 * force * critical * (critical**2 - speed**2) / (speed**2 + critical**2) ** 2
        growth = growth - acts * by_speed * slowing * G_MPS2
    fastest: FloatArray = np.maximum(np.max(growth / braked.mass, axis=0), 0.0)
    return fastest


def _to_bind(braked: Braked, end: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the least way left to a bind in m and the greatest share used of a travel; ``nan`` where none can bind."""
    left, used = np.full(end.shape, np.nan), np.full(end.shape, np.nan)
    for part, begin in zip(braked.placed, braked.begins, strict=True):
        if isinstance(part, Spring | Cord) and part.to_bind_m is not None:
            z = np.maximum(end - begin, 0.0)
            left, used = np.fmin(left, part.to_bind_m - z), np.fmax(used, z / part.to_bind_m)
    return left, used


def _thrown_back(braked: Braked, end: FloatArray) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Return speed at the beginning of the zone, way beyond it, and who rolls away down the cable behind."""
    square = 2.0 * G_MPS2 * (braked.slope - braked.rolling + braked.slope_per_m * end / 2.0) * end
    for part, begin in zip(braked.placed, braked.begins, strict=True):
        if isinstance(part, Spring | Cord):
            z = end - begin
            if part.caught:
                square = np.where(z > 0.0, -np.inf, square)
            square = square + 2.0 * (part.returned or 0.0) * part.work(z) / braked.mass
    speed = np.sqrt(np.maximum(square, 0.0))
    holding = braked.rolling - braked.slope
    away = (speed > 0.0) & (holding <= 0.0)
    way = speed**2 / np.where(holding > 0.0, 2.0 * G_MPS2 * holding, 1.0)
    return speed, np.where(away, np.nan, way), away
