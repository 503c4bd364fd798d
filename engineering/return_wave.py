"""Tension and sag from a stopwatch: strike the cable at one end, count how often the wave comes back. SI units.

A wave runs along the cable at sqrt(T / m) and returns after 2 L sec / c. Sag follows from the time alone, whatever
span, weight and tension: f = g (t/N)² / 32 (USDA RUS Bulletin 1726C-115, 1998, eq. (1), READ; its superscript and
constant follow from g = 32.2 ft/s²). On an inclined span f is the vertical sag at mid-span (own algebra). The cable
has to hang free: nobody on it, no hand on it, calm air. A tension from a stopwatch is a check between the measurements
that the maker or the designer prescribes, not in their place.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from engineering.line import G_MPS2, SAG, Line, site_problem
from engineering.plain_figures import finite, positive
from engineering.refusal import Refusal, refuse

HAND_S = 0.15  # start and stop by hand, as half a 95 % interval (judgement; give the person's own where measured)
WIDEST = 0.10  # of the tension: with less time than this asks for, a figure would only look like a measurement
LOST = 0.50  # of the tension: times that scatter it wider than this tell nothing any more (own judgement)
MOST_RETURNS = 50
TIME_S = (0.01, 3600.0)  # of a stopwatch (own judgement): 50 returns at a sag of 6 % of 1500 m take a quarter hour
# Student's t, two-sided 95 %, for 1, 2, ... degrees of freedom (textbook table, from memory; tested against scipy).
STUDENT = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262)


def sag_of_return(time_s: float, returns: int = 1, gravity: float = G_MPS2) -> float | Refusal:
    """Return the vertical mid-span sag f = g (t/N)² / 32 in m, for N returns in t seconds.

    >>> round(sag_of_return(15.07, 3), 2)
    7.73
    >>> round(sag_of_return(3.0, 3, 32.2) * 12, 3)
    12.075
    """
    bad = _returns_problem(returns) or positive(time=time_s, gravity=gravity)
    return bad or gravity * (time_s / returns) ** 2 / 32.0


def tension_of_return(
    time_s: float, returns: int, mass_kg_per_m: float, span_m: float, drop_m: float = 0.0
) -> float | Refusal:
    """Return the horizontal tension H = 4 m sec L² (N/t)² in N.

    >>> round(tension_of_return(15.07, 3, 1.05, 300.0, 18.0), -1)
    15010.0
    """
    bad = _returns_problem(returns) or positive(time=time_s, mass=mass_kg_per_m, span=span_m) or finite(drop=drop_m)
    return bad or 4.0 * mass_kg_per_m * math.hypot(1.0, drop_m / span_m) * (span_m * returns / time_s) ** 2


def time_of_returns(
    tension_n: float, returns: int, mass_kg_per_m: float, span_m: float, drop_m: float = 0.0
) -> float | Refusal:
    """Return how long N returns take in s at a horizontal tension: what to expect before one counts.

    >>> round(time_of_returns(15_000.0, 3, 1.05, 300.0, 18.0), 2)
    15.07
    """
    bad = _returns_problem(returns) or positive(tension=tension_n, mass=mass_kg_per_m, span=span_m)
    bad = bad or finite(drop=drop_m)
    return bad or 2.0 * returns * span_m * math.sqrt(mass_kg_per_m * math.hypot(1.0, drop_m / span_m) / tension_n)


@dataclass(frozen=True)
class StopwatchSag:
    """The sag in m and the mean time in s, each with the half-width of its 95 % interval.

    ``apart_s``: by how much the times differ in s if that is more than a hand's; else 0.
    """

    sag_m: float
    sag_half_m: float
    time_s: float
    time_half_s: float
    apart_s: float = 0.0


def stopwatch_sag(
    times_s: Sequence[float], returns: int, *, span_m: float | None = None, hand_s: float = HAND_S
) -> StopwatchSag | Refusal:
    """Return the sag from one or more times of the same number of returns; nothing need be known of the cable.

    f = g (t/N)² / 32 and df/f = 2 dt/t, with dt² = hand² + (t95 s / sqrt(n))² as in ``stopwatch_tension``. With the
    span in m a sag outside 1 to 6 % of it is refused. Source: USDA RUS Bulletin 1726C-115, eq. (1), READ.

    >>> one = stopwatch_sag([15.07], 3, span_m=300.0)
    >>> round(one.sag_m, 2), round(one.sag_half_m, 2)
    (7.73, 0.15)
    """
    found = _returns_problem(returns) or _times_problem(times_s) or _figures_problem(hand_s, 0.0, 0.0)
    if found is None and span_m is not None:
        found = positive(span=span_m)
    timed = found or _timed(times_s, returns, hand_s)
    if isinstance(timed, Refusal):
        return timed
    time, half = timed
    sag = G_MPS2 * (time / returns) ** 2 / 32.0
    return (_sag_problem(sag, span_m) if span_m is not None else None) or StopwatchSag(
        sag, 2.0 * half / time * sag, time, half, _apart(times_s, hand_s)
    )


def _timed(times_s: Sequence[float], returns: int, hand_s: float) -> tuple[float, float] | Refusal:
    """Return (mean time, half-width of its 95 % interval) in s.

    Too short is what the hand alone makes too short: several readings are not refused for it where one at their
    mean would not be, unless they differ so much that they tell nothing. Short of that scatter widens the interval.
    """
    time = statistics.fmean(times_s)
    apart = max(times_s) - min(times_s)
    if apart > time / returns / 2.0:
        return refuse("times-differ", value=apart)
    if 2.0 * hand_s / time > WIDEST:
        return refuse("time-short", returns=math.ceil(returns * 2.0 * hand_s / (WIDEST * time)))
    half = math.hypot(hand_s, _scatter(times_s))
    if 2.0 * half / time > LOST:
        return refuse("times-scatter", value=apart)
    return time, half


def _apart(times: Sequence[float], hand_s: float) -> float:
    """Return by how much times differ if it is more than the whole width of a hand's 95 % interval, else 0."""
    apart = max(times) - min(times)
    return apart if apart > 2.0 * hand_s else 0.0


def _sag_problem(sag_m: float, span_m: float) -> Refusal | None:
    low, high = SAG
    if sag_m > high * span_m:
        return refuse("wave-slow", value=100 * sag_m / span_m, limit=100 * high)
    if sag_m < low * span_m:
        return refuse("wave-fast", value=100 * sag_m / span_m, limit=100 * low)
    return None


@dataclass(frozen=True)
class StopwatchTension:
    """What a stopwatch told. Half-widths are of 95 % intervals; tensions in N, sag in m.

    ``tension_n`` is the horizontal tension of the unloaded cable, ``mean_tension_n`` that along it. ``suspect_returns``
    is another count of returns that would fit the tension expected far better, 0 if there is none. ``apart_s``: by how
    much the times differ in s if that is more than a hand's; else 0.
    """

    tension_n: float
    tension_half_n: float
    mean_tension_n: float
    sag_m: float
    sag_half_m: float
    time_s: float
    time_half_s: float
    suspect_returns: int
    apart_s: float = 0.0


def stopwatch_tension(
    line: Line,
    times_s: Sequence[float],
    returns: int,
    *,
    hand_s: float = HAND_S,
    mass_share: float = 0.0,
    span_half_m: float = 0.0,
) -> StopwatchTension | Refusal:
    """Return tension and sag from one or more times of the same number of returns.

    The time's half-width is the hand's (starting early or late is common to all the times of a person, so that it does
    not shrink with their number) and the scatter's (Student) together: dt² = hand² + (t95 s / sqrt(n))². Then
    (dH/H)² = (2 dt/t)² + (dm/m)² + (2 dL/L)²; ``mass_share`` is dm/m, ``span_half_m`` dL, both as 95 % half-widths.
    Refuses what cannot be: no whole return, times that differ by half a return or scatter the tension by more than
    ``LOST``, a time too short for a hand, a sag outside 1 to 6 % of the span, a tension above the breaking force.
    ``line.tension_n`` is only what was expected.

    >>> from engineering.line import Cable
    >>> one = stopwatch_tension(Line(300.0, 18.0, Cable(1.05, 10e6), None), [15.07], 3)
    >>> round(one.tension_n, -1), round(one.tension_half_n / one.tension_n, 3)
    (15010.0, 0.02)
    """
    found = site_problem(line) or _returns_problem(returns) or _times_problem(times_s)
    found = found or _figures_problem(hand_s, mass_share, span_half_m)
    mass, span, drop = line.cable.mass_kg_per_m, line.span_m, line.drop_m
    if found or mass is None or span is None or drop is None:
        return found or refuse("figure-missing")
    timed = _timed(times_s, returns, hand_s)
    if isinstance(timed, Refusal):
        return timed
    time, half = timed
    sag, tension = (
        G_MPS2 * (time / returns) ** 2 / 32.0,
        4.0 * mass * math.hypot(1.0, drop / span) * (span * returns / time) ** 2,
    )
    strength = line.cable.breaking_force_n
    if strength is not None and tension >= strength:
        return refuse("tension-impossible", value=tension)
    if (bad := _sag_problem(sag, span)) is not None:
        return bad
    share = math.hypot(2.0 * half / time, mass_share, 2.0 * span_half_m / span)
    return StopwatchTension(
        tension_n=tension,
        tension_half_n=share * tension,
        mean_tension_n=tension * math.hypot(1.0, drop / span),
        sag_m=sag,
        sag_half_m=2.0 * half / time * sag,
        time_s=time,
        time_half_s=half,
        suspect_returns=_suspect(line.tension_n, tension, returns, share),
        apart_s=_apart(times_s, hand_s),
    )


def _suspect(expected: float | None, tension: float, returns: int, share: float) -> int:
    """Return the whole count that turns the tension into the expected one, if the count made does not and it does."""
    if expected is None or not 0.0 < expected < math.inf or abs(tension / expected - 1.0) <= 2.0 * share:
        return 0
    other = round(returns * math.sqrt(expected / tension))
    if other in (0, returns):
        return 0
    return other if abs(tension * (other / returns) ** 2 / expected - 1.0) <= 2.0 * share else 0


def _scatter(times: Sequence[float]) -> float:
    if len(times) < 2:
        return 0.0
    factor = STUDENT[min(len(times) - 1, len(STUDENT)) - 1]
    return factor * statistics.stdev(times) / math.sqrt(len(times))


def _returns_problem(returns: float | None) -> Refusal | None:
    if returns is None or not returns >= 1 or returns % 1:
        return refuse("returns-few")
    if returns > MOST_RETURNS:
        return refuse("figure-impossible", name="count of returns", value=returns)
    return None


def _times_problem(times: Sequence[float]) -> Refusal | None:
    if not times or any(time is None or math.isnan(time) for time in times):
        return refuse("time-missing")
    for time in times:
        if not TIME_S[0] <= time <= TIME_S[1]:
            return refuse("time-impossible", value=time)
    return None


def _figures_problem(hand: float, mass_share: float, span_half: float) -> Refusal | None:
    for name, value in (("hand", hand), ("mass share", mass_share), ("span half", span_half)):
        if not 0.0 <= value < math.inf:
            return refuse("figure-impossible", name=name, value=value)
    return None
