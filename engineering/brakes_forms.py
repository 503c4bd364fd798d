"""Brakes in closed form, one stop at a time: textbook formulas, and what the integration is checked with. SI units.

Own algebra unless a source is named. A figure that is missing, not finite or not possible refuses. Any mass is taken,
so that cases from outside the trade can be computed.
"""

from __future__ import annotations

import math

from engineering.line import G_MPS2
from engineering.plain_figures import finite, positive
from engineering.refusal import Refusal, refuse


def _not_negative(**figures: float) -> Refusal | None:
    found = finite(**figures)
    for name, value in figures.items():
        if not found and value < 0.0:
            found = refuse("figure-impossible", name=name.replace("_", " "), value=value)
    return found


def spring_stroke(
    mass_kg: float, speed_mps: float, rate_n_per_m: float, preload_n: float = 0.0, pull_n: float = 0.0
) -> float | Refusal:
    """Return the stroke in m of a spring F = F0 + k s, with a pull in N into the spring (uphill: negative).

    s = [-(F0 - Fg) + sqrt((F0 - Fg)² + k m v²)] / k. Source of the energy balance: textbook; case B2 of the tests.

    >>> round(spring_stroke(80.0, 8.0, 1200.0, 200.0, -80.0 * G_MPS2 * 0.04), 4)
    1.8818
    """
    bad = positive(mass=mass_kg, rate=rate_n_per_m) or _not_negative(speed=speed_mps, preload=preload_n)
    bad = bad or finite(pull=pull_n)
    if bad:
        return bad
    net = preload_n - pull_n
    root = math.sqrt(net * net + rate_n_per_m * mass_kg * speed_mps**2)
    # The same root twice; each form loses no digits on its side.
    return mass_kg * speed_mps**2 / (net + root) if net > 0.0 else (root - net) / rate_n_per_m


def spring_stroke_to_bind(
    mass_kg: float,
    speed_mps: float,
    rate_n_per_m: float,
    bind_m: float,
    bind_rate_n_per_m: float,
    preload_n: float = 0.0,
    pull_n: float = 0.0,
) -> float | Refusal:
    """Return the stroke in m where the spring may bind at ``bind_m`` and is then as stiff as ``bind_rate_n_per_m``.

    >>> round(spring_stroke_to_bind(80.0, 8.0, 1200.0, 1.5, 2e5, 200.0, -80.0 * G_MPS2 * 0.04), 4)
    1.5833
    """
    free = spring_stroke(mass_kg, speed_mps, rate_n_per_m, preload_n, pull_n)
    bad = positive(bind=bind_m, bind_rate=bind_rate_n_per_m)
    if isinstance(free, Refusal) or bad:
        return free if isinstance(free, Refusal) else bad or free
    if free <= bind_m:
        return free
    net = preload_n - pull_n
    left = mass_kg * speed_mps**2 - 2.0 * (net + rate_n_per_m * bind_m / 2.0) * bind_m
    # Not the preload: where the pull is stronger than the spring is at its bind, it goes on pulling.
    further = spring_stroke(1.0, math.sqrt(left), bind_rate_n_per_m, pull_n=-(net + rate_n_per_m * bind_m))
    return further if isinstance(further, Refusal) else bind_m + further


def spring_for_peak(mass_kg: float, speed_mps: float, peak_mps2: float) -> tuple[float, float] | Refusal:
    """Return the stroke in m and the rate in N/m of the softest spring that stays within a deceleration.

    s = v² / a, k = m a / s, no preload, level. Source: energy balance, textbook; case B1.

    >>> stroke, rate = spring_for_peak(300.0, 6.0, 3.0 * 9.8)
    >>> round(stroke, 2), round(rate, -1)
    (1.22, 7200.0)
    """
    bad = positive(mass=mass_kg, speed=speed_mps, deceleration=peak_mps2)
    if bad:
        return bad
    stroke = speed_mps**2 / peak_mps2
    return stroke, mass_kg * peak_mps2 / stroke


def helical_rate(shear_modulus: float, wire: float, mean_diameter: float, active_coils: float) -> float | Refusal:
    """Return the rate of a helical spring, k = G d⁴ / (8 D³ n); any consistent units (Pa and m, or N/mm² and mm).

    Source: textbook companion, FOSSEE/Scilab-TBC-Uploads 764/CH10/EX10.7, READ.

    >>> round(helical_rate(81_370.0, 5.0, 40.0, 5.0), 6)
    19.865723
    """
    bad = positive(shear_modulus=shear_modulus, wire=wire, diameter=mean_diameter, coils=active_coils)
    return bad or shear_modulus * wire**4 / (8.0 * mean_diameter**3 * active_coils)


def helical_free_length(load: float, rate: float, wire: float, all_coils: float, gaps: float) -> float | Refusal:
    """Return load / rate + Nt d + gaps: the free length that leaves ``gaps`` in all between the coils under the load.

    >>> round(helical_free_length(300.0, 19.865723, 5.0, 7.0, 6.0), 4)
    56.1014
    """
    bad = positive(rate=rate, wire=wire, coils=all_coils) or _not_negative(load=load, gaps=gaps)
    return bad or load / rate + all_coils * wire + gaps


def in_line(*springs: tuple[float, float]) -> tuple[float, float] | Refusal:
    """Return rate in N/m and travel to the first bind in m of springs that push one another: 1/k = sum 1/k_i.

    Each spring is (rate, travel to bind); the pack counts as bound when its first spring binds.

    >>> in_line((2000.0, 1.0), (2000.0, 0.5))
    (1000.0, 1.0)
    """
    if not springs:
        return refuse("figure-missing")
    for rate, travel in springs:
        bad = positive(rate=rate, travel=travel)
        if bad:
            return bad
    together = 1.0 / sum(1.0 / rate for rate, _ in springs)
    return together, min(rate * travel for rate, travel in springs) / together


def eddy_force(speed_mps: float, force_n: float, critical_mps: float) -> float | Refusal:
    """Return F = 2 Fm / (v/vc + vc/v) in N (formula from memory, Heald 1988).

    >>> eddy_force(6.0, 1500.0, 6.0), eddy_force(0.0, 1500.0, 6.0)
    (1500.0, 0.0)
    """
    bad = positive(force=force_n, critical_speed=critical_mps) or _not_negative(speed=speed_mps)
    return bad or 2.0 * force_n * speed_mps * critical_mps / (speed_mps**2 + critical_mps**2)


def eddy_distance(
    mass_kg: float, from_mps: float, to_mps: float, force_n: float, critical_mps: float
) -> float | Refusal:
    """Return the way in m from one speed to a lower one, level: (m / 2 Fm) [(v1³ - v2³) / (3 vc) + vc (v1 - v2)].

    >>> round(eddy_distance(90.0, 12.0, 0.0, 1500.0, 6.0), 2)
    5.04
    """
    bad = _eddy_problem(mass_kg, from_mps, to_mps, force_n, critical_mps)
    if bad:
        return bad
    cubes = (from_mps**3 - to_mps**3) / (3.0 * critical_mps)
    return mass_kg / (2.0 * force_n) * (cubes + critical_mps * (from_mps - to_mps))


def eddy_time(mass_kg: float, from_mps: float, to_mps: float, force_n: float, critical_mps: float) -> float | Refusal:
    """Return the time in s: (m / 2 Fm) [(v1² - v2²) / (2 vc) + vc ln(v1 / v2)]. To rest it would be endless: refused.

    >>> round(eddy_time(90.0, 12.0, 1.0, 1500.0, 6.0), 3)
    0.805
    """
    bad = _eddy_problem(mass_kg, from_mps, to_mps, force_n, critical_mps) or positive(end_speed=to_mps)
    if bad:
        return bad
    squares = (from_mps**2 - to_mps**2) / (2.0 * critical_mps)
    return mass_kg / (2.0 * force_n) * (squares + critical_mps * math.log(from_mps / to_mps))


def eddy_creep(pull_n: float, force_n: float, critical_mps: float) -> float | Refusal:
    """Return the speed in m/s at which a rider creeps on down a slope: vc (r - sqrt(r² - 1)), r = Fm / pull.

    Refuses ``no-solution`` where the brake never balances the pull (r < 1): the rider runs away.

    >>> round(eddy_creep(44.0, 1500.0, 6.0), 3)
    0.088
    """
    bad = positive(pull=pull_n, force=force_n, critical_speed=critical_mps)
    if bad:
        return bad
    ratio = force_n / pull_n
    if ratio < 1.0:
        return refuse("no-solution")
    return critical_mps / (ratio + math.sqrt(ratio**2 - 1.0))


def _eddy_problem(mass: float, first: float, last: float, force: float, critical: float) -> Refusal | None:
    bad = positive(mass=mass, force=force, critical_speed=critical) or _not_negative(speed=first, end_speed=last)
    return bad or (refuse("figure-impossible", name="end speed", value=last) if last > first else None)


def rope_load(hold_n: float, friction: float, angle_rad: float) -> float | Refusal:
    """Return the pull in N that a hand force holds round a post or pulley: T = hold · exp(mu theta).

    Source: rope friction, pickedshares.com exercise 27, READ.

    >>> round(rope_load(382.26, 0.2, 1.5 * math.pi))
    981
    """
    bad = _not_negative(hold=hold_n, friction=friction, angle=angle_rad)
    return bad or hold_n * math.exp(friction * angle_rad)


def rope_hold(load_n: float, friction: float, angle_rad: float) -> float | Refusal:
    """Return the hand force in N that holds a pull: load · exp(-mu theta).

    >>> round(rope_hold(981.0, 0.2, 1.5 * math.pi), 1)
    382.3
    """
    bad = _not_negative(load=load_n, friction=friction, angle=angle_rad)
    return bad or load_n * math.exp(-friction * angle_rad)


def stroke_for_mean(speed_mps: float, mean_g: float = 1.0, gravity: float = G_MPS2) -> float | Refusal:
    """Return v² / (2 g n): the way in m that stops at a mean deceleration of n times gravity.

    Source: California Code of Regulations, Title 8, 3108(a)(3), S = V²/19320 (in, ft/min) at 1 g, READ; lifts.

    >>> round(stroke_for_mean(500 * 0.3048 / 60) / 0.0254, 2)
    12.95
    """
    bad = positive(mean=mean_g, gravity=gravity) or _not_negative(speed=speed_mps)
    return bad or speed_mps**2 / (2.0 * gravity * mean_g)


def run_out(speed_mps: float, slope: float, rolling: float = 0.0, gravity: float = G_MPS2) -> float | Refusal:
    """Return the way in m up a slope (rise over run) until gravity and rolling stop: v² / (2 g (slope + mu)).

    Along the horizontal, as on a cable; the rider rolls back. Refuses ``no-solution`` where nothing stops him.

    >>> round(run_out(9.0, 0.12, 0.01), 3)
    31.768
    """
    bad = finite(slope=slope) or _not_negative(speed=speed_mps, rolling=rolling) or positive(gravity=gravity)
    if bad:
        return bad
    held = slope + rolling
    return speed_mps**2 / (2.0 * gravity * held) if held > 0.0 else refuse("no-solution")


def in_g(force_n: float, mass_kg: float) -> float | Refusal:
    """Return the deceleration that a force gives a mass, in standard gravities.

    >>> round(in_g(8000.0, 100.0), 3)
    8.158
    """
    return finite(force=force_n) or positive(mass=mass_kg) or force_n / mass_kg / G_MPS2


def speed_thrown_back(speed_mps: float, returned: float) -> float | Refusal:
    """Return v sqrt(returned): the speed at which a spring or cord throws back, level and without a catch.

    >>> round(speed_thrown_back(8.0, 0.88), 1)
    7.5
    """
    bad = _not_negative(speed=speed_mps, returned=returned)
    if not bad and returned > 1.0:
        bad = refuse("figure-impossible", name="returned", value=returned)
    return bad or speed_mps * math.sqrt(returned)


def pad_wear(heat_j: float, friction: float, wear_m3_per_nm: float, area_m2: float) -> float | Refusal:
    """Return the depth in m that a brake pad loses: k E / (mu A), Archard. k is fitted from measured pads.

    ``heat_j`` is the energy braked, the sum of m v²/2. k is 1e-15 to 1e-13 m³/(N m) (from memory: too wide to plan
    with); hot resin pads wear exponentially faster ("Braking of Road Vehicles", 2.6, READ).

    >>> round(1000 * pad_wear(3.2e6, 0.35, 1e-14, 0.002), 3)
    0.046
    """
    bad = _not_negative(heat=heat_j) or positive(friction=friction, wear=wear_m3_per_nm, area=area_m2)
    return bad or wear_m3_per_nm * heat_j / (friction * area_m2)
