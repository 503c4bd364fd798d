"""Brakes as they wear, and the emergency brake alone: which arrangements of parts have to stop a rider. SI units.

An emergency brake is there for the day the primary fails, so it is looked at without it; and both together with the
primary at its worn limit, when the rider comes late and fast into what is left. How an emergency brake is tested is the
designer's to prescribe; here it is judged only as entered.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from engineering.brakes import GAP_M, WARMER_K, Cord, Eddy, Friction, Part
from engineering.line import outside
from engineering.refusal import Refusal, refuse

LENGTH_M = (0.0, 20.0)
SHARE = (0.0, 0.95)

ARRANGEMENTS: Mapping[str, str] = {
    "new": "The primary brake with the emergency brake, as new.",
    "worn": "The primary brake at its worn limit, with the emergency brake.",
    "worn-alone": "The primary brake at its worn limit, without the emergency brake.",
    "emergency-alone": "The emergency brake alone, the primary brake failed.",
}


@dataclass(frozen=True)
class Wear:
    """How much of a part is gone at its worn limit, as the maker or the designer sets it; 0 where nothing is.

    ``lost_length_m``: a spring's loss of free length; the rider meets it so much later and has so much less travel.
    ``lost_preload_n``: taken off the preload besides. ``lost_share``: of rate (spring, cord) or of force (friction,
    eddy). ``gap_more_m``, ``warmer_k``: an eddy brake's gap, and its magnets and conductor at their warmest.
    """

    lost_length_m: float = 0.0
    lost_preload_n: float = 0.0
    lost_share: float = 0.0
    gap_more_m: float = 0.0
    warmer_k: float = 0.0


def worn(part: Part, wear: Wear) -> Part | Refusal:
    """Return the part as it is when so much is gone, or why that cannot be computed.

    >>> from engineering.brakes import Spring
    >>> worn(Spring(1200.0, 200.0, 3.0), Wear(lost_length_m=0.10, lost_share=0.05))
    Spring(rate_n_per_m=1140.0, preload_n=200.0, bind_m=2.9, travel_m=None, start_m=0.1, bind_rate_n_per_m=None, \
returned=0.9, caught=False)
    """
    found = part.problem() or outside(wear.lost_length_m, "lost", LENGTH_M, missing="figure-missing")
    found = found or outside(wear.lost_share, "lost", SHARE, missing="figure-missing")
    found = found or outside(wear.lost_preload_n, "lost", (0.0, math.inf), missing="figure-missing")
    found = found or outside(wear.gap_more_m, "gap", GAP_M) or outside(wear.warmer_k, "conductor-warm", WARMER_K)
    if found:
        return found
    made = _worn(part, wear)
    return made.problem() or made


def _worn(part: Part, wear: Wear) -> Part:
    kept = 1.0 - wear.lost_share
    if isinstance(part, Friction):
        return replace(part, force_n=(part.force_n or 0.0) * kept)
    if isinstance(part, Eddy):
        return replace(
            part,
            force_n=(part.force_n or 0.0) * kept,
            gap_more_m=(part.gap_more_m or 0.0) + wear.gap_more_m,
            magnet_warmer_k=(part.magnet_warmer_k or 0.0) + wear.warmer_k,
            conductor_warmer_k=(part.conductor_warmer_k or 0.0) + wear.warmer_k,
        )
    begin, rate = part.start_m + wear.lost_length_m, (part.rate_n_per_m or 0.0) * kept
    if isinstance(part, Cord):  # a longer cord: met later, stretched as far
        return replace(part, start_m=begin, rate_n_per_m=rate, first_force_n=(part.first_force_n or 0.0) * kept)
    bind = (part.to_bind_m or 0.0) - wear.lost_length_m
    preload = max((part.preload_n or 0.0) - wear.lost_preload_n, 0.0)
    return replace(part, start_m=begin, rate_n_per_m=rate, preload_n=preload, bind_m=bind, travel_m=None)


@dataclass(frozen=True)
class Brakes:
    """The brakes of a landing: the primary's parts with how they are at their worn limit, and the emergency brake's.

    ``wears`` has one entry per primary part; ``None`` where no worn limit is entered.
    """

    primary: Sequence[Part]
    emergency: Sequence[Part] = ()
    wears: Sequence[Wear] | None = None


def arrangement(brakes: Brakes, name: str) -> tuple[Part, ...] | Refusal:
    """Return the parts that act in one of ``ARRANGEMENTS``, in order of their places.

    Refuses ``brake-none`` for the emergency alone where none is entered, ``figure-missing`` for a worn primary without
    worn limits. Raises ``KeyError`` for another name.

    >>> from engineering.brakes import Spring
    >>> brakes = Brakes([Spring(1200.0, 200.0, 3.0)], [Spring(2500.0, 300.0, 2.0, start_m=3.0)])
    >>> [part.start_m for part in arrangement(brakes, "emergency-alone")]
    [3.0]
    >>> arrangement(brakes, "worn").code
    'figure-missing'
    """
    _ = ARRANGEMENTS[name]
    primary: list[Part] = list(brakes.primary)
    if name == "emergency-alone":
        primary = []
        if not brakes.emergency:
            return refuse("brake-none")
    elif name != "new":
        if brakes.wears is None or len(brakes.wears) != len(primary):
            return refuse("figure-missing")
        for i, wear in enumerate(brakes.wears):
            made = worn(primary[i], wear)
            if isinstance(made, Refusal):
                return made
            primary[i] = made
    emergency = [] if name == "worn-alone" else list(brakes.emergency)
    return tuple(sorted([*primary, *emergency], key=lambda part: part.start_m))
