"""From the launch to the end in equal steps of x, for many riders at once: the integration behind ``engineering.ride``.

    (1 + e)/2 du/dx = -g dphi/dx - mu g - rho CdA / (2 m) |Vrel| (v + head) ds/dx,   u = v²

phi is the energy of cable and rider per newton of rider. Its differences are exact, so that a ride without losses
keeps its energy whatever the number of steps; only the drag is approximated. Nothing is singular at v = 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engineering.line import G_MPS2, Figure, FloatArray

GAUSS = (0.5 - 3**-0.5 / 2, 0.5 + 3**-0.5 / 2)  # where in a step the drag is taken
PASSES = 2


@dataclass(frozen=True)
class Marched:
    """``square`` is u at every node (node first), nought after a stop; ``stall_x`` is ``nan`` where none stopped."""

    square: FloatArray
    stall_x: FloatArray
    time_s: FloatArray


def march(
    x: FloatArray,
    potential: FloatArray,
    arc: FloatArray,
    drag: Figure,
    rolling: Figure,
    head: Figure,
    cross: Figure,
    launch: Figure,
    inertia: Figure = 0.0,
) -> Marched:
    """March all riders over the nodes ``x``.

    ``potential`` (m) has a row per node, ``arc`` (m, along the path) a row per step, each row of the riders' shape or
    broadcasting to it. ``drag`` is rho CdA / m in 1/m, ``inertia`` the share e of turning sheaves, ``launch`` in m/s.
    A rider whose u reaches nought stops, at the place found by a straight line in u.
    """
    shape = np.broadcast_shapes(potential.shape[1:], *(np.shape(one) for one in (drag, rolling, head, cross, launch)))
    whole = 1.0 / (1.0 + np.asarray(inertia, float))
    dx = np.diff(x).reshape(-1, *(1,) * len(shape))
    z = np.broadcast_to(drag * arc * whole, (len(dx), *shape))
    fade, mean_fade = np.exp(-z), _mean_fade(z)
    driven = -2.0 * G_MPS2 * (np.diff(potential, axis=0) + rolling * dx) * whole * mean_fade
    blown = z * mean_fade
    square = np.empty((len(x), *shape))
    square[0] = u = np.broadcast_to(np.square(launch), shape)
    going = np.ones(shape, bool)
    calm = not np.any(head) and not np.any(cross)
    cross_squared = np.square(cross) if np.any(cross) else None
    shares = np.asarray(GAUSS).reshape(2, *(1,) * len(shape))
    rest: FloatArray | float = 0.0 if calm else _wind_part(u, head, cross_squared)
    for i in range(len(dx)):
        still = u * fade[i] + driven[i]
        after = still - blown[i] * rest
        for _ in range(0 if calm else PASSES):
            within = np.maximum(u + shares * (after - u), 0.0)
            parts = _wind_part(within, head, cross_squared)
            rest = 0.5 * (parts[0] + parts[1])
            after = still - blown[i] * rest
        square[i + 1] = after
        going = going & (after > 0.0)
        u = after * going
    return _told(x, arc, square)


def _told(x: FloatArray, arc: FloatArray, square: FloatArray) -> Marched:
    """Return where each rider stopped, and nothing after that; ``square`` has the first u below nought still in it."""
    below = square[1:] <= 0.0
    stops = below.any(axis=0)
    first = np.argmax(below, axis=0)
    before = np.take_along_axis(square, first[None], axis=0)[0]
    after = np.take_along_axis(square, first[None] + 1, axis=0)[0]
    fell = np.where(before > after, before - after, 1.0)
    stall_x = np.where(stops, x[first] + before / fell * (x[first + 1] - x[first]), np.nan)
    gone = np.logical_or.accumulate(below, axis=0)
    square[1:][gone] = 0.0
    speed = np.sqrt(square)
    both = speed[1:] + speed[:-1]
    time_s = np.sum(2.0 * arc / np.where(gone, np.inf, both), axis=0)
    return Marched(square, stall_x, np.where(stops, np.nan, time_s))


def _wind_part(u: FloatArray, head: Figure, cross_squared: Figure | None) -> FloatArray:
    """Return |Vrel| (v + head) - v²: what the wind adds to the drag of still air, over rho CdA / 2m."""
    along = np.sqrt(u) + head
    relative = np.abs(along) if cross_squared is None else np.sqrt(along * along + cross_squared)
    part: FloatArray = relative * along - u
    return part


def _mean_fade(z: Figure) -> FloatArray:
    """Return (1 - exp(-z)) / z, also at nought."""
    small = np.abs(z) < 1e-6
    mean: FloatArray = np.where(small, 1.0 - np.asarray(z) / 2.0, -np.expm1(-np.asarray(z)) / np.where(small, 1.0, z))
    return mean
