"""Worn brakes: what the wear may be to the digit, what it takes off each part, and which parts act. Own ranges."""

import math
from dataclasses import replace

import pytest

from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.brakes_worn import ARRANGEMENTS, Brakes, Wear, arrangement, worn
from engineering.refusal import refuse

SPRING = Spring(1000.0, 500.0, 30.0, start_m=2.0)
EDDY = Eddy(1500.0, 6.0, 3.0, start_m=1.0)
CORD, FRICTION = Cord(180.0, 150.0, 0.3, 8.0, start_m=0.5), Friction(1000.0, 4.0)
RANGES = [
    (SPRING, "lost_length_m", "lost", 0.0, 20.0),
    (SPRING, "lost_share", "lost", 0.0, 0.95),
    (EDDY, "gap_more_m", "gap", 0.0, 0.05),
    (EDDY, "warmer_k", "conductor-warm", -80.0, 200.0),
]


@pytest.mark.parametrize(("part", "figure", "code", "low", "high"), RANGES)
def test_ranges_of_wear(part, figure, code, low, high):
    for value in (low, high):
        assert isinstance(worn(part, Wear(**{figure: value})), type(part))
    for value in (low - 0.01, high * 1.01):
        expected = refuse(f"{code}-range", value=value, low=low, high=high)
        assert worn(part, Wear(**{figure: value})) == expected
    missing = "figure-missing" if code == "lost" else f"{code}-missing"
    for nothing in (None, math.nan):
        assert worn(part, Wear(**{figure: nothing})) == refuse(missing)


def test_preload_may_be_lost_altogether():
    assert worn(SPRING, Wear(lost_preload_n=1e9)).preload_n == 0.0
    assert worn(SPRING, Wear(lost_preload_n=-1.0)) == refuse("lost-range", value=-1.0, low=0, high=math.inf)
    assert worn(SPRING, Wear(lost_preload_n=None)) == refuse("figure-missing")
    assert worn(SPRING, Wear(lost_preload_n=499.5)).preload_n == 0.5


def test_the_first_of_two_faults_is_named():
    bad = Wear(-1.0, -2.0, -3.0, -4.0, -500.0)
    assert worn(replace(SPRING, rate_n_per_m=None), bad) == refuse("rate-missing")
    assert dict(worn(SPRING, bad).params)["value"] == "-1"
    assert dict(worn(SPRING, replace(bad, lost_length_m=0.0)).params)["value"] == "-3"
    assert dict(worn(SPRING, replace(bad, lost_length_m=0.0, lost_share=0.0)).params)["value"] == "-2"
    assert worn(SPRING, Wear(gap_more_m=-4.0, warmer_k=-500.0)).code == "gap-range"


def test_what_is_left_of_each_part():
    """Free length lost: met so much later, so much less travel. A share is taken off rate or force, warmth added."""
    wear = Wear(0.5, 100.0, 0.2, 0.002, 30.0)
    assert worn(SPRING, wear) == replace(SPRING, rate_n_per_m=800.0, preload_n=400.0, bind_m=29.5, start_m=2.5)
    assert worn(CORD, wear) == replace(CORD, rate_n_per_m=144.0, first_force_n=120.0, start_m=1.0)
    assert worn(FRICTION, wear) == replace(FRICTION, force_n=800.0)
    assert worn(replace(EDDY, gap_more_m=0.001, magnet_warmer_k=5.0, conductor_warmer_k=7.0), wear) == replace(
        EDDY, force_n=1200.0, gap_more_m=pytest.approx(0.003), magnet_warmer_k=35.0, conductor_warmer_k=37.0
    )
    by_travel = worn(replace(SPRING, bind_m=None, travel_m=2.5), wear)
    assert (by_travel.bind_m, by_travel.travel_m) == (pytest.approx(1.5), None)
    soft = (replace(SPRING, preload_n=0.0), replace(CORD, first_force_n=0.0))
    for part in (SPRING, CORD, FRICTION, EDDY, *soft):
        assert worn(part, Wear()) == part


def test_what_is_left_is_looked_at_too():
    assert worn(replace(SPRING, bind_m=1.0), Wear(0.99)) == refuse("bind-range", value=0.01, low=0.02, high=60)
    assert worn(replace(SPRING, rate_n_per_m=100.0), Wear(lost_share=0.9)).code == "rate-range"
    assert worn(replace(FRICTION, force_n=2.0), Wear(lost_share=0.9)).code == "friction-range"
    assert worn(replace(EDDY, gap_more_m=0.03), Wear(gap_more_m=0.03)).code == "gap-range"
    assert worn(replace(EDDY, magnet_warmer_k=150.0), Wear(warmer_k=60.0)).code == "magnet-warm-range"


def test_which_parts_act():
    """In the order of their places; a worn primary needs a worn limit for each part, and for the emergency none."""
    emergency = Spring(2500.0, 300.0, 2.0, start_m=1.5)
    brakes = Brakes([FRICTION, EDDY], [emergency], [Wear(lost_share=0.5), Wear(lost_share=0.2)])
    tired, weak = replace(FRICTION, force_n=500.0), replace(EDDY, force_n=1200.0)
    assert arrangement(brakes, "new") == (EDDY, emergency, FRICTION)
    assert arrangement(brakes, "worn") == (weak, emergency, tired)
    assert arrangement(brakes, "worn-alone") == (weak, tired)
    assert arrangement(brakes, "emergency-alone") == (emergency,)
    assert arrangement(Brakes([EDDY]), "new") == (EDDY,)
    assert arrangement(Brakes([EDDY], [], [Wear()]), "worn") == (EDDY,)
    assert arrangement(Brakes([EDDY]), "emergency-alone") == refuse("brake-none")
    for name in ("worn", "worn-alone"):
        for wears in (None, [], [Wear(), Wear()]):
            assert arrangement(Brakes([EDDY], [emergency], wears), name) == refuse("figure-missing")
    bad = Brakes([EDDY, FRICTION], [emergency], [Wear(), Wear(lost_share=2.0)])
    assert arrangement(bad, "worn") == refuse("lost-range", value=2.0, low=0, high=0.95)
    assert arrangement(bad, "new") == (EDDY, emergency, FRICTION)
    with pytest.raises(KeyError):
        arrangement(brakes, "old")
    assert set(ARRANGEMENTS) == {"new", "worn", "worn-alone", "emergency-alone"}
    assert Wear() == Wear(0.0, 0.0, 0.0, 0.0, 0.0)
