"""Where in the brake zone a rider comes to rest: the integration behind ``engineering.brakes_stop``. SI units.

    1/2 du/ds = -[F(s) + F(v)] / m - g (slope + mu) - rho CdA / (2 m) |Vrel| (v + head),   u = v²

What depends on the place alone (springs, cords, friction, gravity, rolling) is taken up by its energy, exactly, and the
place of the stop is where that energy is used up: no step is too long for a spring that binds. What depends on the
speed (eddy current: exactly, by its closed form; air: by the midpoint rule) acts in the middle of each step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engineering.brakes import Eddy, Placed
from engineering.line import G_MPS2, FloatArray

ROUNDS = 60  # five are the rule; halving alone would take 44
SAME_M = 1e-12
STEADY = 0.1  # by how much a deceleration may change in a step and still be taken as steady


@dataclass(frozen=True)
class Braked:
    """What acts on riders in the zone. Arrays have one element per rider; ``begins`` has one array per placed part.

    ``drag`` is rho CdA / (2 m) in 1/m. Places ``s`` may have further axes before that of the riders.
    """

    mass: FloatArray
    speed: FloatArray
    slope: FloatArray
    slope_per_m: FloatArray
    rolling: FloatArray
    drag: FloatArray
    head: FloatArray
    cross: FloatArray
    placed: Sequence[Placed]
    begins: Sequence[FloatArray]
    eddies: Sequence[Eddy]

    def energy(self, s: FloatArray) -> FloatArray:
        """Return what place-dependent forces have taken up at ``s``, in J per kg."""
        taken = G_MPS2 * (self.slope + self.rolling + self.slope_per_m * s / 2.0) * s
        for part, begin in zip(self.placed, self.begins, strict=True):
            taken = taken + part.work(s - begin) / self.mass
        return taken

    def wind_part(self, speed: FloatArray) -> FloatArray:
        """Return the deceleration by air in m/s² at a speed."""
        along = speed + self.head
        part: FloatArray = self.drag * np.sqrt(along * along + self.cross * self.cross) * along
        return part

    def by_place(self, s: FloatArray) -> FloatArray:
        """Return the deceleration in m/s² by what depends on the place: the derivative of ``energy``."""
        total = G_MPS2 * (self.slope + self.rolling + self.slope_per_m * s)
        for part, begin in zip(self.placed, self.begins, strict=True):
            total = total + part.force(s - begin) / self.mass
        return total

    def deceleration(self, s: FloatArray, speed: FloatArray) -> FloatArray:
        """Return the whole deceleration in m/s² at a place and speed."""
        total = self.by_place(s) + self.wind_part(speed)
        for eddy in self.eddies:
            force, critical = eddy.figures()
            acts = (s >= eddy.start_m) & (s <= eddy.ends_m())
            total = total + acts * (2.0 * force * critical / self.mass) * speed / (speed**2 + critical**2)
        return total


@dataclass(frozen=True)
class Course:
    """How the speed falls: ``end`` is the place of the stop, or the end of the zone for who was not stopped."""

    braked: Braked
    nodes: FloatArray
    lost: FloatArray  # at each node, twice the energy per kg lost to what depends on the speed
    end: FloatArray
    stopped: NDArray[np.bool_]
    faded: NDArray[np.bool_]  # stopped by an eddy brake alone, in endless time
    out_square: FloatArray
    last: NDArray[np.intp]  # the step in which the stop is
    lost_at_end: FloatArray

    def square(self, s: FloatArray) -> FloatArray:
        """Return u in m²/s² at places up to the end; ``s`` has the riders on its last axis."""
        left = self.braked.speed**2 - 2.0 * self.braked.energy(s)
        if self.lost.any():
            riders = np.arange(s.shape[-1])
            step = np.minimum(np.searchsorted(self.nodes, s, side="right") - 1, self.last)
            in_last = step == self.last
            first = self.nodes[step]
            length = np.where(in_last, self.end, self.nodes[step + 1]) - first
            share = np.where(length > SAME_M, (s - first) / np.where(length > SAME_M, length, 1.0), 0.0)
            before = self.lost[step, riders]
            after = np.where(in_last, self.lost_at_end, self.lost[step + 1, riders])
            left = left - before - share * (after - before)
        return np.maximum(left, 0.0)


def course(braked: Braked, length_m: float, steps: int) -> Course:
    """March the riders through a zone of ``length_m``."""
    nodes = _nodes(braked, length_m, steps)
    count = braked.mass.size
    first = braked.speed**2
    energy = braked.energy(np.broadcast_to(nodes[:, None], (len(nodes), count)))
    marched = _Marched(braked, nodes, first, energy)
    if braked.eddies or np.any(braked.drag):
        marched.by_steps()
    else:
        marched.at_once()
    return marched.result()


def _nodes(braked: Braked, length: float, steps: int) -> FloatArray:
    """Return steps of one length, with further nodes where an eddy brake begins and ends."""
    bounds = [place for eddy in braked.eddies for place in (eddy.start_m, eddy.ends_m())]
    nodes = np.unique(np.concatenate([np.linspace(0.0, length, steps + 1), bounds]))
    kept = np.concatenate([[True], np.diff(nodes) > SAME_M])
    kept_nodes: FloatArray = nodes[kept]
    return kept_nodes


class _Marched:
    """State of the march."""

    def __init__(self, braked: Braked, nodes: FloatArray, first: FloatArray, energy: FloatArray) -> None:
        count = braked.mass.size
        self.braked, self.nodes, self.first, self.energy = braked, nodes, first, energy
        self.lost = np.zeros_like(energy)
        self.last = np.full(count, len(nodes) - 2)
        self.stopped, self.faded = np.zeros(count, bool), np.zeros(count, bool)
        self.low, self.high = np.full(count, nodes[-1]), np.full(count, nodes[-1])
        self.from_square, self.from_energy = np.zeros(count), np.zeros(count)
        self.out = np.zeros(count)

    def at_once(self) -> None:
        """Find the stops where nothing depends on the speed: one look at all nodes."""
        square = self.first - 2.0 * self.energy
        below = square[1:] <= 0.0
        hit = below.any(axis=0)
        step = np.argmax(below, axis=0)
        riders = np.arange(hit.size)
        self._record(hit, step, self.nodes[step], self.nodes[step + 1], square[step, riders], self.energy[step, riders])
        self.out = np.where(hit, 0.0, square[-1])

    def by_steps(self) -> None:
        """March step by step: half of the place's energy, the whole loss by speed, the other half."""
        nodes = self.nodes
        middles = (nodes[1:] + nodes[:-1]) / 2.0
        half = self.braked.energy(np.broadcast_to(middles[:, None], self.energy[1:].shape))
        square = self.first
        going: NDArray[np.bool_] = np.ones(self.first.size, bool)
        for i in range(len(nodes) - 1):
            acting = [one for one in self.braked.eddies if one.start_m <= middles[i] <= one.ends_m()]
            before = square - 2.0 * (half[i] - self.energy[i])
            hit = np.logical_and(going, before <= 0.0)
            self._record(hit, i, nodes[i], middles[i], square, self.energy[i])
            if acting:
                self._settle(hit, i, square, acting)
            going = np.logical_and(going, ~hit)
            before = np.maximum(before, 0.0)
            after = self._slowed(before, nodes[i + 1] - nodes[i], acting)
            ended = after - 2.0 * (self.energy[i + 1] - half[i])
            hit = np.logical_and(going, ended <= 0.0)
            self._record(hit, i, middles[i], nodes[i + 1], after, half[i])
            if acting:
                self.faded = self.faded | (hit & (after <= 0.0))
                self._settle(hit, i, square, acting)
            going = np.logical_and(going, ~hit)
            self.lost[i + 1] = self.first - 2.0 * self.energy[i + 1] - ended
            square = np.where(going, ended, 0.0)
            if not going.any():
                break
        self.out = square

    def _record(
        self,
        hit: NDArray[np.bool_] | np.bool_,
        step: int | NDArray[np.intp],
        low: float | FloatArray,
        high: float | FloatArray,
        square: FloatArray,
        energy: FloatArray,
    ) -> None:
        """Keep between which places, and from which u, the riders ``hit`` stop."""
        if not hit.any():
            return
        self.stopped = self.stopped | hit
        self.last = np.where(hit, step, self.last)
        self.low, self.high = np.where(hit, low, self.low), np.where(hit, high, self.high)
        self.from_square = np.where(hit, square, self.from_square)
        self.from_energy = np.where(hit, energy, self.from_energy)

    def _slowed(self, square: FloatArray, ds: float, eddies: Sequence[Eddy]) -> FloatArray:
        """Return u after air and eddy brakes have acted over ``ds`` at constant height."""
        braked = self.braked
        if np.any(braked.drag):
            middle = np.maximum(square - ds * braked.wind_part(np.sqrt(square)), 0.0)
            square = np.maximum(square - 2.0 * ds * braked.wind_part(np.sqrt(middle)), 0.0)
        for eddy in eddies:
            force, critical = eddy.figures()
            left = _eddy_reach(np.sqrt(square), force, critical, braked.mass) - ds
            grown = 3.0 * np.maximum(left, 0.0) * force / (braked.mass * critical**2)
            square = np.square(2.0 * critical * np.sinh(np.arcsinh(grown) / 3.0))
        return square

    def _settle(self, hit: NDArray[np.bool_], step: int, square: FloatArray, eddies: Sequence[Eddy]) -> None:
        """Place the stop of riders whom an eddy brake slows in their last step, where nothing else sets in.

        Far below vc the brake's force is c m v; with a steady deceleration a besides, dv/ds = -c - a / v and the way is
        [v - (a / c) ln(1 + c v / a)] / c.
        """
        if not hit.any():
            return
        first, last = (np.full(hit.size, place) for place in self.nodes[step : step + 2])
        steady, then = self.braked.by_place(first), self.braked.by_place(last)
        plain = hit & (steady >= 0.0) & (np.abs(then - steady) <= STEADY * (steady + G_MPS2 * STEADY))
        speed = np.sqrt(square)
        c = np.zeros(hit.size)
        for eddy in eddies:
            force, critical = eddy.figures()
            c = c + 2.0 * force * critical / (self.braked.mass * (square + critical**2))
        a = np.maximum(steady, 1e-9)
        place = np.minimum(first + (speed - a / c * np.log1p(c * speed / a)) / c, last)
        self.low, self.high = np.where(plain, place, self.low), np.where(plain, place, self.high)

    def result(self) -> Course:
        """Find the stops within their steps: Newton's method, halving where it would leave the bracket."""
        low, high = self.low, self.high
        at = high
        for _ in range(ROUNDS):
            left = self.from_square - 2.0 * (self.braked.energy(at) - self.from_energy)
            low, high = np.where(left > 0.0, at, low), np.where(left > 0.0, high, at)
            slowing = self.braked.by_place(at)
            step = left / np.where(slowing > 0.0, 2.0 * slowing, np.inf)
            inside = (slowing > 0.0) & (at + step > low) & (at + step < high)
            near = np.where(left == 0.0, at, np.where(inside, at + step, (low + high) / 2.0))
            done = np.abs(near - at) <= SAME_M
            at = near
            if np.all(done):
                break
        at_end = np.where(self.stopped, self.first - 2.0 * self.braked.energy(at), self.lost[-1])
        return Course(self.braked, self.nodes, self.lost, at, self.stopped, self.faded, self.out, self.last, at_end)


def _eddy_reach(speed: FloatArray, force: float, critical: float, mass: FloatArray) -> FloatArray:
    """Return the way in m on which an eddy brake takes all the speed: (m / 2 Fm) [v³ / (3 vc) + vc v]."""
    reach: FloatArray = mass / (2.0 * force) * (speed**3 / (3.0 * critical) + critical * speed)
    return reach
