"""The parts of a brake: spring, elastic cord, friction (by hand too), eddy current. SI units.

A part is placed in the brake zone by ``start_m``, counted along the cable from the place where the arrival speed is
that of ``engineering.ride``. What a part does depends on the place (spring, cord, friction) or on the speed (eddy
current); several parts act in series or at once. All figures are the maker's or the designer's and are entered with
their source; what is not known is ``None`` and refuses.

Energy is stored in every brake. Before any work on one the maker's manual is followed: released, locked out and tagged,
a second person there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from engineering.line import Figure, FloatArray, outside
from engineering.refusal import Refusal, refuse

# What the trade builds, as wide as can be meant (from memory, no source); a wrong unit is a factor of a thousand off.
RATE_N_PER_M = (20.0, 1e6)
PRELOAD_N = (0.0, 2e4)
BIND_M = (0.02, 60.0)
BIND_RATE_N_PER_M = (1e3, 1e9)
RETURNED = (0.0, 0.98)
START_M = (0.0, 100.0)
CORD_LENGTH_M = (0.01, 20.0)
EDDY_N = (10.0, 1e5)
EDDY_MPS = (1.0, 30.0)
EDDY_LENGTH_M = (0.05, 100.0)
GAP_M = (0.0, 0.05)
POLE_PITCH_M = (0.01, 0.5)
WARMER_K = (-80.0, 200.0)
FRICTION_N = (1.0, 2e4)
HAND_N = (50.0, 300.0)  # 100 to 250 N by hand (from memory)
REACTION_S = (0.7, 2.5)  # 0.70 to 0.75 s expected, 1.25 s unexpected, 1.5 s surprise: Green 2000, READ (drivers)

BIND_TIMES = 100.0  # a bound pack is about so many times stiffer (judgement)
MAGNET_PER_K = 0.0012  # flux of NdFeB lost per kelvin, 0.09 to 0.12 %: READ, a magnet maker's table; the force twice
CONDUCTOR_PER_K = 0.0039  # resistivity of copper and aluminium gained per kelvin (from memory)


@dataclass(frozen=True)
class Spring:
    """A spring pack: F = F0 + k z from the contact to ``bind_m``, then as stiff as ``bind_rate_n_per_m``.

    ``bind_m`` is the travel from contact to coil bind as measured on the line, ``travel_m`` the maker's, from the free
    length to the solid length, of which the preload takes F0 / k; one of them is needed, of both the shorter counts.
    ``returned`` is the share of the stored energy given back (0.85 to 0.95, from memory), ``caught`` says that a catch
    holds the rider so that none of it throws him back.

    >>> Spring(1200.0, 240.0, travel_m=1.7).to_bind_m
    1.5
    """

    rate_n_per_m: float | None
    preload_n: float | None = None
    bind_m: float | None = None
    travel_m: float | None = None
    start_m: float = 0.0
    bind_rate_n_per_m: float | None = None
    returned: float | None = 0.9
    caught: bool = False

    @property
    def to_bind_m(self) -> float | None:
        """Return the travel from contact to bind in m, or ``None`` where it does not follow from what is entered."""
        known = [] if self.bind_m is None else [self.bind_m]
        if self.travel_m is not None and self.preload_n is not None and self.rate_n_per_m:
            known.append(self.travel_m - self.preload_n / self.rate_n_per_m)
        return min(known) if known else None

    def problem(self) -> Refusal | None:
        """Return why this spring cannot be computed with, or ``None``."""
        found = outside(self.rate_n_per_m, "rate", RATE_N_PER_M) or outside(self.preload_n, "preload", PRELOAD_N)
        found = found or outside(self.returned, "returned", RETURNED) or _start_problem(self.start_m)
        if found or self.rate_n_per_m is None or self.preload_n is None:
            return found or refuse("figure-missing")
        for value in (self.bind_m, self.travel_m):
            if value is not None:
                found = found or outside(value, "bind", BIND_M)
        taken = self.preload_n / self.rate_n_per_m
        if not found and self.travel_m is not None and self.travel_m <= taken:
            return refuse("bind-preload", travel=self.travel_m, preload=taken)
        found = found or outside(self.to_bind_m, "bind", BIND_M)
        if not found and self.bind_rate_n_per_m is not None:
            low = max(self.rate_n_per_m, BIND_RATE_N_PER_M[0])
            found = outside(self.bind_rate_n_per_m, "bind-rate", (low, BIND_RATE_N_PER_M[1]), missing="figure-missing")
        return found

    def starts(self, speed: Figure) -> Figure:
        """Return where the part begins to act for riders of these arrival speeds."""
        return self.start_m

    def force(self, z: FloatArray) -> FloatArray:
        """Return the force in N at ``z`` m after the contact; nought before it."""
        rate, preload, bind, hard = self._figures()
        raised = preload + rate * np.clip(z, 0.0, bind) + hard * np.maximum(z - bind, 0.0)
        return np.where(z >= 0.0, raised, 0.0)

    def work(self, z: FloatArray) -> FloatArray:
        """Return the energy in J taken up at ``z`` m after the contact."""
        rate, preload, bind, hard = self._figures()
        in_travel, past = np.clip(z, 0.0, bind), np.maximum(z - bind, 0.0)
        taken: FloatArray = (preload + rate * in_travel / 2.0) * in_travel
        return taken + (preload + rate * bind + hard * past / 2.0) * past

    def growth(self, z: FloatArray) -> FloatArray:
        """Return dF/dz in N/m, without the jump of the preload."""
        rate, _, bind, hard = self._figures()
        return np.where(z < 0.0, 0.0, np.where(z < bind, rate, hard))

    def jump_n(self, z: FloatArray) -> FloatArray:
        """Return the sudden force met on the way to ``z``."""
        return np.where(z > 0.0, self._figures()[1], 0.0)

    def _figures(self) -> tuple[float, float, float, float]:
        bind = self.to_bind_m
        if self.rate_n_per_m is None or self.preload_n is None or bind is None:
            raise TypeError("a spring has to be looked at with problem() before it is computed with")
        hard = BIND_TIMES * self.rate_n_per_m if self.bind_rate_n_per_m is None else self.bind_rate_n_per_m
        return self.rate_n_per_m, self.preload_n, bind, hard


@dataclass(frozen=True)
class Cord:
    """An elastic cord: F = A (1 - exp(-z / xc)) + k z, to its longest stretch ``bind_m``, then as stiff as a rope.

    Gives back 0.6 to 0.8 of the energy (from memory); k falls with age, heat and sunlight. The form of the curve is own
    judgement; a maker's curve is fitted to it.
    """

    rate_n_per_m: float | None
    first_force_n: float | None = 0.0
    first_length_m: float | None = 0.5
    bind_m: float | None = None
    start_m: float = 0.0
    returned: float | None = 0.65
    caught: bool = False

    @property
    def to_bind_m(self) -> float | None:
        """Return the longest stretch in m."""
        return self.bind_m

    def problem(self) -> Refusal | None:
        """Return why this cord cannot be computed with, or ``None``."""
        found = outside(self.rate_n_per_m, "rate", RATE_N_PER_M) or outside(self.bind_m, "bind", BIND_M)
        found = found or outside(self.first_force_n, "cord-force", PRELOAD_N)
        found = found or outside(self.first_length_m, "cord-length", CORD_LENGTH_M)
        return found or outside(self.returned, "returned", RETURNED) or _start_problem(self.start_m)

    def starts(self, speed: Figure) -> Figure:
        """Return where the part begins to act for riders of these arrival speeds."""
        return self.start_m

    def force(self, z: FloatArray) -> FloatArray:
        """Return the force in N at ``z`` m after the contact; nought before it."""
        rate, first, length, bind = self._figures()
        stretch = np.maximum(z, 0.0)
        soft = first * -np.expm1(-stretch / length)
        raised: FloatArray = soft + rate * (stretch + (BIND_TIMES - 1.0) * np.maximum(z - bind, 0.0))
        return raised

    def work(self, z: FloatArray) -> FloatArray:
        """Return the energy in J taken up at ``z`` m after the contact."""
        rate, first, length, bind = self._figures()
        stretch, past = np.maximum(z, 0.0), np.maximum(z - bind, 0.0)
        soft = first * (stretch + length * np.expm1(-stretch / length))
        taken: FloatArray = soft + rate * (stretch**2 + (BIND_TIMES - 1.0) * past**2) / 2.0
        return taken

    def growth(self, z: FloatArray) -> FloatArray:
        """Return dF/dz in N/m."""
        rate, first, length, bind = self._figures()
        stiff = np.where(z < bind, rate, BIND_TIMES * rate)
        return np.where(z < 0.0, 0.0, first / length * np.exp(-np.maximum(z, 0.0) / length) + stiff)

    def jump_n(self, z: FloatArray) -> FloatArray:
        """Return the sudden force met on the way to ``z``: none."""
        return np.zeros_like(z)

    def _figures(self) -> tuple[float, float, float, float]:
        if (
            self.rate_n_per_m is None
            or self.first_force_n is None
            or self.first_length_m is None
            or self.bind_m is None
        ):
            raise TypeError("a cord has to be looked at with problem() before it is computed with")
        return self.rate_n_per_m, self.first_force_n, self.first_length_m, self.bind_m


@dataclass(frozen=True)
class Friction:
    """A steady force from ``start_m`` on; by hand from v · t later, the way run in the reaction time t.

    ``reaction_s`` of a brake that no person works is 0; by hand the force is 50 to 300 N and the time 0.7 to 2.5 s. The
    way in the reaction time is taken at the arrival speed: never shorter than on a zone that goes uphill.
    """

    force_n: float | None
    start_m: float = 0.0
    reaction_s: float | None = 0.0

    @property
    def by_hand(self) -> bool:
        """Return whether a person works the brake: any reaction time but 0, also one that is missing."""
        return self.reaction_s != 0.0

    def problem(self) -> Refusal | None:
        """Return why this brake cannot be computed with, or ``None``."""
        if self.by_hand:
            found = outside(self.force_n, "hand-force", HAND_N) or outside(self.reaction_s, "reaction", REACTION_S)
        else:
            found = outside(self.force_n, "friction", FRICTION_N)
        return found or _start_problem(self.start_m)

    def starts(self, speed: Figure) -> Figure:
        """Return where the part begins to act for riders of these arrival speeds."""
        return self.start_m + speed * self._figures()[1]

    def force(self, z: FloatArray) -> FloatArray:
        """Return the force in N at ``z`` m after it was applied; nought before."""
        return np.where(z >= 0.0, self._figures()[0], 0.0)

    def work(self, z: FloatArray) -> FloatArray:
        """Return the energy in J turned to heat at ``z`` m after it was applied."""
        return self._figures()[0] * np.maximum(z, 0.0)

    def growth(self, z: FloatArray) -> FloatArray:
        """Return dF/dz: none."""
        return np.zeros_like(z)

    def jump_n(self, z: FloatArray) -> FloatArray:
        """Return the sudden force met on the way to ``z``."""
        return np.where(z > 0.0, self._figures()[0], 0.0)

    def _figures(self) -> tuple[float, float]:
        if self.force_n is None or self.reaction_s is None:
            raise TypeError("a brake has to be looked at with problem() before it is computed with")
        return self.force_n, self.reaction_s


@dataclass(frozen=True)
class Eddy:
    """An eddy-current brake of ``length_m``: F = 2 Fm / (v/vc + vc/v). It does not hold: at rest there is no force.

    Rises to ``force_n`` at ``speed_mps`` and falls beyond it. Against the certificate: a gap wider by ``gap_more_m``
    takes exp(-2 pi d / pole pitch), warmer magnets (1 - 0.0012 dT)², a warmer conductor raises ``speed_mps`` by 0.39 %
    per kelvin. Source: formula from memory (Heald 1988); fall beyond vc as Smythe 1942 and Wouterse 1992 are cited,
    READ; no force at rest, READ.

    >>> round(float(Eddy(1500.0, 6.0, 8.0, gap_more_m=0.001).figures()[0]))  # a tenth less
    1351
    """

    force_n: float | None
    speed_mps: float | None
    length_m: float | None
    start_m: float = 0.0
    gap_more_m: float | None = 0.0
    pole_pitch_m: float | None = 0.06
    magnet_warmer_k: float | None = 0.0
    conductor_warmer_k: float | None = 0.0

    def problem(self) -> Refusal | None:
        """Return why this brake cannot be computed with, or ``None``."""
        found = outside(self.force_n, "eddy-force", EDDY_N) or outside(self.speed_mps, "eddy-speed", EDDY_MPS)
        found = found or outside(self.length_m, "eddy-length", EDDY_LENGTH_M) or outside(self.gap_more_m, "gap", GAP_M)
        found = found or outside(self.pole_pitch_m, "pole-pitch", POLE_PITCH_M)
        found = found or outside(self.magnet_warmer_k, "magnet-warm", WARMER_K)
        found = found or outside(self.conductor_warmer_k, "conductor-warm", WARMER_K)
        return found or _start_problem(self.start_m)

    def figures(self) -> tuple[float, float]:
        """Return greatest force in N and its speed in m/s as they are now, with gap and warmth."""
        if self.force_n is None or self.speed_mps is None or self.gap_more_m is None or self.pole_pitch_m is None:
            raise TypeError("a brake has to be looked at with problem() before it is computed with")
        if self.magnet_warmer_k is None or self.conductor_warmer_k is None:
            raise TypeError("a brake has to be looked at with problem() before it is computed with")
        gap = math.exp(-2.0 * math.pi * self.gap_more_m / self.pole_pitch_m)
        flux = 1.0 - MAGNET_PER_K * self.magnet_warmer_k
        return self.force_n * gap * flux**2, self.speed_mps * (1.0 + CONDUCTOR_PER_K * self.conductor_warmer_k)

    def ends_m(self) -> float:
        """Return where the brake ends in the zone."""
        return self.start_m + (self.length_m or 0.0)


Placed: TypeAlias = Spring | Cord | Friction  # what depends on the place alone
Part: TypeAlias = Placed | Eddy


def parts_problem(parts: Sequence[Part], length_m: float) -> Refusal | None:
    """Return why these parts cannot be computed with in a zone of this length, or ``None``.

    >>> parts_problem([Spring(1200.0, 200.0, 3.0)], 8.0) is None
    True
    >>> parts_problem([Spring(1200.0, 200.0, travel_m=0.15)], 8.0).code
    'bind-preload'
    """
    for part in parts:
        found = part.problem()
        if not found and part.start_m > length_m:
            found = refuse("brake-start-range", value=part.start_m, low=0, high=length_m)
        if not found and isinstance(part, Spring | Cord) and part.to_bind_m is not None:
            needed = part.start_m + part.to_bind_m
            if needed > length_m:
                found = refuse("zone-short", length=length_m, needed=needed)
        if not found and isinstance(part, Eddy) and part.ends_m() > length_m:
            found = refuse("zone-short", length=length_m, needed=part.ends_m())
        if found:
            return found
    return None


def _start_problem(start_m: float) -> Refusal | None:
    return outside(start_m, "brake-start", START_M, missing="figure-missing")
