"""Brakes and their drift: the cases of the project's mechanics notes that no other test holds.

READ: the source's text was opened and says so. COMPUTED: a study made before this code. MEMORY: recalled.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from engineering.brakes import MAGNET_PER_K, REACTION_S, Cord, Eddy, Friction, Spring
from engineering.brakes_forms import eddy_creep, eddy_distance, eddy_force, in_g, spring_stroke, stroke_for_mean
from engineering.brakes_stop import PEAK_G, Stop, Zone, stop
from engineering.brakes_worn import Brakes, Wear, arrangement
from engineering.envelope_cells import StopLimits
from engineering.line import DRAG_AREA_M2, G_MPS2, Air, Rider, Wind

CALM, MILD = Wind(0.0), Air(15.0)
PACK = Spring(1200.0, 200.0, 3.0)
FOOT, POUND = 0.3048, 4.4482216


def stopped(parts, zone, mass, speed, rolling=0.01):
    found = stop(parts, zone, Rider(mass, 0.0, rolling), speed, CALM, MILD)
    assert isinstance(found, Stop), found
    return found


# --- public figures


def test_limits_of_lift_buffers():
    """Cal. Code Regs. Title 8, 3108: mean 32.2, peak 80.5 ft/s² for longer than 1/25 s (READ)."""
    limits = StopLimits()
    assert limits.mean_g == pytest.approx(32.2 * FOOT / G_MPS2, abs=1e-3)
    assert limits.peak_g == PEAK_G == pytest.approx(80.5 * FOOT / G_MPS2, abs=3e-3)
    assert limits.peak_s == 1 / 25
    # S = V² / 19320 in inches and feet per minute holds at any speed: 1 g is 19,320 of those units
    for fpm in (200.0, 500.0, 1000.0):
        assert stroke_for_mean(fpm * FOOT / 60) / (FOOT / 12) == pytest.approx(fpm**2 / 19320, rel=1e-3)


def test_ceiling_of_fall_arrest():
    """Washington Administrative Code 296-880-40020(3): 8 kN (1,800 lb), stop within 3.5 ft (READ)."""
    assert in_g(8000.0, 100.0) == pytest.approx(8.158, abs=1e-3)
    assert in_g(1800 * POUND, 100.0) == pytest.approx(8.158, rel=1e-3)
    # a light faller at that force is slowed by more: 8 kN is no ride limit for him
    assert in_g(8000.0, 40.0) == pytest.approx(8.158 * 2.5, abs=3e-3)


@pytest.mark.parametrize(("reaction", "way"), [(0.72, 4.3), (1.25, 7.5), (1.5, 9.0)])
def test_way_before_a_hand_brakes(reaction, way):
    """Green, Transportation Human Factors 2(3), 2000: 0.70 to 0.75, 1.25, 1.5 s (READ, drivers); ways at 6 m/s."""
    assert REACTION_S[0] <= reaction <= REACTION_S[1]
    brake = Friction(250.0, 0.0, reaction)
    assert float(brake.starts(6.0)) == pytest.approx(way, abs=0.05)
    # nothing slows before it: the stop is as much longer as the hand was later
    late, at_once = (
        stopped([one], Zone(40.0, 0.0), 75.0, 6.0, 0.0) for one in (brake, Friction(250.0, float(brake.starts(6.0))))
    )
    assert float(late.stroke_m) == pytest.approx(float(at_once.stroke_m), abs=1e-9)
    assert float(late.stroke_m) == pytest.approx(6.0 * reaction + 75 * 36 / (2 * 250), abs=1e-3)
    assert float(late.time_s) == pytest.approx(reaction + 75 * 6 / 250, rel=1e-3)


def test_slow_arrivals_of_the_advisory():
    """ACCT advisory: up to 6 mph no brake system is needed (READ); a 2 % upward run-out of 14 m holds them (own)."""
    speed = 6 * 1609.344 / 3600
    found = stopped([], Zone(20.0, 0.02), 80.0, speed)
    assert float(found.stroke_m) == pytest.approx(speed**2 / (2 * G_MPS2 * 0.03), abs=1e-3)


def test_eddy_force_rises_and_falls():
    """Greatest at vc, then less (Smythe 1942, Wouterse 1992 as cited, READ); as v at low speed (READ)."""
    speeds = np.linspace(0.05, 30.0, 600)
    forces = np.array([eddy_force(float(v), 1500.0, 6.0) for v in speeds])
    assert speeds[np.argmax(forces)] == pytest.approx(6.0, abs=0.05)
    assert (np.diff(forces[speeds < 5.9]) > 0).all()
    assert (np.diff(forces[speeds > 6.1]) < 0).all()
    assert eddy_force(0.02, 1500.0, 6.0) == pytest.approx(2 * eddy_force(0.01, 1500.0, 6.0), rel=1e-5)


def test_eddy_brake_never_holds_on_a_slope():
    """No holding force at rest (READ, redcrab-software.com): who is in it passes any zone, never below its creep."""
    creep = eddy_creep(80 * G_MPS2 * 0.03, 1500.0, 6.0)
    for length, steps in ((8.0, 0.1), (20.0, 0.1), (60.0, 0.3)):  # the longer, the coarser are its steps
        found = stopped([Eddy(1500.0, 6.0, length)], Zone(length, -0.03), 80.0, 8.0, 0.0)
        assert found.names() == ["passed"]
        assert creep < float(found.out_mps) < creep + steps


def test_light_riders_get_the_highest_deceleration_and_heavy_ones_the_longest_way():
    """Eddy brake: peak Fm/m from above vc, the way goes with the mass (closed form, DERIVED)."""
    masses = np.array([40.0, 80.0, 120.0])
    found = stopped([Eddy(1500.0, 6.0, 60.0)], Zone(60.0, 0.0), masses, 12.0, 0.0)
    assert found.peak_g == pytest.approx(1500 / masses / G_MPS2, rel=1e-3)
    wanted = [eddy_distance(m, 12.0, 0.0, 1500.0, 6.0) for m in masses.tolist()]
    assert found.stroke_m == pytest.approx(wanted, abs=0.01)
    assert wanted[2] == pytest.approx(3 * wanted[0])


def test_warm_magnets():
    """NdFeB loses 0.09 to 0.12 % of its flux per kelvin (READ, advancedmagnets.com); force as flux squared."""
    assert 0.0009 <= MAGNET_PER_K <= 0.0012
    force, _ = Eddy(1500.0, 6.0, 3.0, magnet_warmer_k=20.0).figures()
    assert force == pytest.approx(1500 * (1 - 20 * MAGNET_PER_K) ** 2)
    assert force / 1500 == pytest.approx(1 - 2 * 20 * MAGNET_PER_K, abs=1e-3)


def test_drag_areas_that_were_read_can_be_entered():
    """Cyclists 0.25 to 0.473 m², a standing person 0.98 m² (READ); a free fall spread out, 1.65, is no rider here."""
    low, high = DRAG_AREA_M2
    for area in (0.25, 0.46, 0.473, 0.98):
        assert low <= area <= high
    assert high < 1.1 * 1.5
    assert Rider(80.0).drag_area_m2 == 0.50  # seated: from memory, Hoerner 0.56; no measured figure was found


# --- closed forms and the study


def test_linear_springs_peak_is_twice_its_mean():
    """F0 = 0: peak v² / (g s), mean half of it; given a peak a: s = v²/a (case B1's form, READ)."""
    for speed in (3.0, 6.0, 9.0):
        found = stopped([Spring(2000.0, 0.0, 5.0)], Zone(6.0, 0.0), 80.0, speed, 0.0)
        s = float(found.stroke_m)
        assert float(found.peak_g) == pytest.approx(speed**2 / (G_MPS2 * s))
        assert float(found.mean_g) == pytest.approx(speed**2 / (2 * G_MPS2 * s))


def test_a_bare_spring_needs_a_catch():
    """0.85 to 0.95 of the energy given back (MEMORY): who came with 8 m/s goes back with about 7.5."""
    for returned, low, high in ((0.85, 7.3, 7.5), (0.90, 7.5, 7.7), (0.95, 7.7, 7.9)):
        found = stopped([replace(PACK, returned=returned)], Zone(4.0, 0.0), 80.0, 8.0, 0.0)
        assert low < float(found.back_mps) < high
    caught = stopped([replace(PACK, caught=True)], Zone(4.0, 0.0), 80.0, 8.0, 0.0)
    assert float(caught.back_mps) == 0


def test_cord_throws_back_at_four_fifths():
    """Returns 0.6 to 0.8 of the energy: 0.8 v and a little (MEMORY)."""
    for returned in (0.6, 0.7, 0.8):
        cord = Cord(180.0, 150.0, 0.3, 8.0, returned=returned)
        found = stopped([cord], Zone(10.0, 0.0), 70.0, 7.0, 0.0)
        assert float(found.back_mps) == pytest.approx(7.0 * math.sqrt(returned), rel=1e-6)


def test_emergency_brake_alone_and_behind_a_worn_primary():
    """Case G7's spring (COMPUTED) behind the primary: alone as in the case, less is left for it behind a worn one."""
    emergency = Spring(2500.0, 300.0, 4.0, start_m=3.0)
    worn = Wear(lost_length_m=0.3, lost_preload_n=200.0, lost_share=0.5)
    brakes = Brakes([Spring(600.0, 200.0, 6.0)], [emergency], [worn])
    strokes = {}
    for name in ("new", "worn", "emergency-alone"):
        parts = arrangement(brakes, name)
        strokes[name] = float(stopped(parts, Zone(9.0, 0.0), 120.0, 9.0).stroke_m)
    assert strokes["emergency-alone"] == pytest.approx(4.8439, abs=0.003)
    assert strokes["new"] < strokes["worn"] < strokes["emergency-alone"]


def test_how_far_a_morning_ride_shows_a_weaker_spring():
    """80 kg at 4.48 m/s, 3 % uphill: ds/dv 0.255 s, sigma 4.3 cm; rate -5, -10, -20 %: 0.5, 1.0, 2.2 sigma; preload
    -50 N: 0.8 sigma (COMPUTED, printed digits)."""

    def stroke(speed=4.48, rate=1200.0, preload=200.0):
        return spring_stroke(80.0, speed, rate, preload, -80 * G_MPS2 * 0.03)

    slope = (stroke(4.49) - stroke(4.47)) / 0.02
    sigma = math.hypot(slope * 0.15, 0.02)
    assert slope == pytest.approx(0.255, abs=5e-4)
    assert sigma == pytest.approx(0.043, abs=5e-4)
    for changed, shift in (({"rate": 1140.0}, 0.5), ({"rate": 1080.0}, 1.0), ({"rate": 960.0}, 2.2)):
        assert (stroke(**changed) - stroke()) / sigma == pytest.approx(shift, abs=0.05)
    assert (stroke(preload=150.0) - stroke()) / sigma == pytest.approx(0.8, abs=0.05)
    # the stop as it is marched shows the same shift
    zone = Zone(4.0, 0.03)
    new, weak = (stopped([replace(PACK, rate_n_per_m=k)], zone, 80.0, 4.48, 0.0) for k in (1200.0, 960.0))
    assert float(weak.stroke_m - new.stroke_m) / sigma == pytest.approx(2.2, abs=0.05)
