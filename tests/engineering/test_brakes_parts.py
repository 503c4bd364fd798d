"""The parts of a brake one by one: their forces and energies by hand and by integration, their ranges to the digit.

The ranges are our own (what the trade builds, from memory); a figure beyond one is refused with its bounds.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from engineering.brakes import Cord, Eddy, Friction, Spring, parts_problem
from engineering.refusal import refuse

SPRING = Spring(1000.0, 200.0, bind_m=1.5, start_m=2.0, bind_rate_n_per_m=5e4)
CORD = Cord(180.0, 150.0, 0.3, 8.0, start_m=2.0)
STEADY, HAND = Friction(400.0, 2.0), Friction(150.0, 2.0, 1.25)
EDDY = Eddy(1500.0, 6.0, 3.0, start_m=2.0)
# Part, figure, what its refusals are called, and the range.
RANGES = [
    (replace(SPRING, preload_n=0.0, bind_rate_n_per_m=None), "rate_n_per_m", "rate", 20.0, 1e6),
    (SPRING, "preload_n", "preload", 0.0, 2e4),
    (SPRING, "returned", "returned", 0.0, 0.98),
    (SPRING, "start_m", "brake-start", 0.0, 100.0),
    (SPRING, "bind_m", "bind", 0.02, 60.0),
    (replace(SPRING, bind_m=50.0, preload_n=0.0), "travel_m", "bind", 0.02, 60.0),
    (SPRING, "bind_rate_n_per_m", "bind-rate", 1000.0, 1e9),
    (replace(SPRING, rate_n_per_m=300.0), "bind_rate_n_per_m", "bind-rate", 1000.0, 1e9),
    (replace(SPRING, rate_n_per_m=7000.0), "bind_rate_n_per_m", "bind-rate", 7000.0, 1e9),
    (CORD, "rate_n_per_m", "rate", 20.0, 1e6),
    (CORD, "bind_m", "bind", 0.02, 60.0),
    (CORD, "first_force_n", "cord-force", 0.0, 2e4),
    (CORD, "first_length_m", "cord-length", 0.01, 20.0),
    (CORD, "returned", "returned", 0.0, 0.98),
    (CORD, "start_m", "brake-start", 0.0, 100.0),
    (STEADY, "force_n", "friction", 1.0, 2e4),
    (STEADY, "start_m", "brake-start", 0.0, 100.0),
    (HAND, "force_n", "hand-force", 50.0, 300.0),
    (HAND, "reaction_s", "reaction", 0.7, 2.5),
    (HAND, "start_m", "brake-start", 0.0, 100.0),
    (EDDY, "force_n", "eddy-force", 10.0, 1e5),
    (EDDY, "speed_mps", "eddy-speed", 1.0, 30.0),
    (EDDY, "length_m", "eddy-length", 0.05, 100.0),
    (EDDY, "gap_more_m", "gap", 0.0, 0.05),
    (EDDY, "pole_pitch_m", "pole-pitch", 0.01, 0.5),
    (EDDY, "magnet_warmer_k", "magnet-warm", -80.0, 200.0),
    (EDDY, "conductor_warmer_k", "conductor-warm", -80.0, 200.0),
    (EDDY, "start_m", "brake-start", 0.0, 100.0),
]
UNLOOKED_AT = r"^a %s has to be looked at with problem\(\) before it is computed with$"
MAY_BE_LEFT_OUT = ("bind_m", "travel_m", "bind_rate_n_per_m")
IDS = [f"{type(part).__name__}-{figure}-{low:g}" for part, figure, _, low, _ in RANGES]


@pytest.mark.parametrize(("part", "figure", "code", "low", "high"), RANGES, ids=IDS)
def test_ranges(part, figure, code, low, high):
    assert part.problem() is None
    for value in (low, high):
        assert replace(part, **{figure: value}).problem() is None
    for value in (low - 1e-3 * max(abs(low), 1.0), high * 1.001):
        assert replace(part, **{figure: value}).problem() == refuse(f"{code}-range", value=value, low=low, high=high)


@pytest.mark.parametrize(("part", "figure", "code", "low", "high"), RANGES, ids=IDS)
def test_missing_figures(part, figure, code, low, high):
    missing = "figure-missing" if figure in ("start_m", "bind_rate_n_per_m") else f"{code}-missing"
    assert replace(part, **{figure: math.nan}).problem() == refuse(missing)
    if figure not in (*MAY_BE_LEFT_OUT, "start_m"):
        assert replace(part, **{figure: None}).problem() == refuse(missing)


def test_the_first_of_two_faults_is_named():
    """In the order in which one enters them; no source."""
    assert Spring(None, None).problem() == refuse("rate-missing")
    assert Spring(1000.0, None, returned=None).problem() == refuse("preload-missing")
    assert Spring(1000.0, 200.0, 1.0, start_m=-1.0, returned=None).problem() == refuse("returned-missing")
    assert Spring(1000.0, 200.0, 0.01, travel_m=70.0).problem().params[0] == ("value", "0.01")
    assert Spring(1000.0, 200.0, 0.01, travel_m=0.1).problem().code == "bind-range"
    assert Spring(1000.0, 200.0, 1.0, 70.0, bind_rate_n_per_m=1.0).problem().code == "bind-range"
    assert Spring(1000.0, 200.0, 1.0, 0.2).problem() == refuse("bind-preload", travel=0.2, preload=0.2)
    assert Spring(1000.0, 200.0, bind_rate_n_per_m=1.0).problem() == refuse("bind-missing")
    assert Cord(None, None, None, None).problem() == refuse("rate-missing")
    assert Cord(180.0, None, None, None, returned=None).problem() == refuse("bind-missing")
    assert Cord(180.0, None, None, 8.0, returned=None).problem() == refuse("cord-force-missing")
    assert Cord(180.0, 1.0, None, 8.0, returned=None, start_m=-1.0).problem() == refuse("cord-length-missing")
    assert Cord(180.0, 1.0, 1.0, 8.0, returned=None, start_m=-1.0).problem() == refuse("returned-missing")
    assert Friction(None, -1.0, 0.1).problem() == refuse("hand-force-missing")
    assert Friction(None, -1.0).problem() == refuse("friction-missing")
    assert Eddy(None, None, None, -1.0).problem() == refuse("eddy-force-missing")
    assert Eddy(1500.0, None, None, -1.0).problem() == refuse("eddy-speed-missing")
    assert Eddy(1500.0, 6.0, None, -1.0, None).problem() == refuse("eddy-length-missing")
    assert Eddy(1500.0, 6.0, 3.0, -1.0, None, None).problem() == refuse("gap-missing")
    assert Eddy(1500.0, 6.0, 3.0, -1.0, 0.0, None, None).problem() == refuse("pole-pitch-missing")
    assert Eddy(1500.0, 6.0, 3.0, -1.0, 0.0, 0.06, None, None).problem() == refuse("magnet-warm-missing")
    assert Eddy(1500.0, 6.0, 3.0, -1.0, 0.0, 0.06, 0.0, None).problem() == refuse("conductor-warm-missing")


def test_figures_left_out():
    """As the docstrings have them: no preload of a cord, its first force within half a metre, nothing caught."""
    assert Cord(180.0) == Cord(180.0, 0.0, 0.5, None, 0.0, 0.65, False)
    assert Spring(1000.0) == Spring(1000.0, None, None, None, 0.0, None, 0.9, False)
    assert Friction(100.0) == Friction(100.0, 0.0, 0.0)
    assert Eddy(1500.0, 6.0, 3.0) == Eddy(1500.0, 6.0, 3.0, 0.0, 0.0, 0.06, 0.0, 0.0)
    assert not Friction(100.0).by_hand
    assert Friction(100.0, 0.0, 0.7).by_hand
    assert Friction(100.0, 0.0, None).by_hand


def test_travel_to_bind():
    """From the free length the preload takes F0 / k: 200 N of 1000 N/m are 0.2 m. Of two travels the shorter."""
    assert Spring(1000.0, 200.0, travel_m=1.0).to_bind_m == pytest.approx(0.8)
    assert Spring(1000.0, 200.0, bind_m=0.7, travel_m=1.0).to_bind_m == 0.7
    assert Spring(1000.0, 200.0, bind_m=0.9, travel_m=1.0).to_bind_m == pytest.approx(0.8)
    assert Spring(None, 200.0, travel_m=1.0).to_bind_m is None
    assert Spring(0.0, 200.0, travel_m=1.0).to_bind_m is None
    assert Spring(1000.0, None, travel_m=1.0).to_bind_m is None
    assert Spring(1000.0, None, bind_m=0.7, travel_m=1.0).to_bind_m == 0.7
    assert Cord(180.0, bind_m=8.0).to_bind_m == 8.0


PLACES = np.array([-0.5, 0.0, 1e-9, 1.0, 1.5, 1.6])


def test_spring_by_hand():
    """F0 + k z to 1.5 m, then 50 N for each millimetre. A force of 200 N is there at once."""
    assert SPRING.force(PLACES) == pytest.approx([0.0, 200.0, 200.0, 1200.0, 1700.0, 6700.0])
    assert SPRING.growth(PLACES).tolist() == [0.0, 1000.0, 1000.0, 1000.0, 5e4, 5e4]
    assert SPRING.jump_n(PLACES).tolist() == [0.0, 0.0, 200.0, 200.0, 200.0, 200.0]
    assert SPRING.work(PLACES) == pytest.approx([0.0, 0.0, 2e-7, 700.0, 1425.0, 1425.0 + 420.0])
    assert SPRING.starts(np.array([3.0, 9.0])) == 2.0
    # a bound pack is about a hundred times stiffer, where the maker does not say (judgement)
    assert replace(SPRING, bind_rate_n_per_m=None).force(PLACES)[-1] == pytest.approx(1700.0 + 1e4)


def test_cord_by_hand():
    """A (1 - exp(-z / xc)) + k z; beyond its longest stretch a hundred times as stiff (judgement)."""
    places = np.array([-1.0, 0.0, 0.3, 8.0, 8.1])
    fade = np.exp([0.0, 0.0, -1.0, -80 / 3, -27.0])
    assert CORD.force(places) == pytest.approx(150 * (1 - fade) + [0.0, 0.0, 54.0, 1440.0, 1440.0 + 1800.0])
    assert CORD.growth(places) == pytest.approx(500 * fade * [0, 1, 1, 1, 1] + [0.0, 180.0, 180.0, 18e3, 18e3])
    assert CORD.jump_n(places).tolist() == [0.0] * 5
    assert CORD.starts(np.array([3.0, 9.0])) == 2.0


def test_friction_by_hand():
    places = np.array([-1.0, 0.0, 0.5])
    assert STEADY.force(places).tolist() == [0.0, 400.0, 400.0]
    assert STEADY.work(places).tolist() == [0.0, 0.0, 200.0]
    assert STEADY.growth(places).tolist() == [0.0, 0.0, 0.0]
    assert STEADY.jump_n(places).tolist() == [0.0, 0.0, 400.0]
    assert STEADY.starts(8.0) == 2.0
    assert HAND.starts(8.0) == 12.0  # 1.25 s at 8 m/s, from 2 m on
    assert HAND.starts(np.array([2.0, 4.0])).tolist() == [4.5, 7.0]


@pytest.mark.parametrize("part", [SPRING, replace(SPRING, bind_rate_n_per_m=None), CORD, STEADY, HAND])
@pytest.mark.parametrize("z", [-0.5, 0.2, 1.4, 1.7, 7.9, 8.3])
def test_energy_is_the_sum_of_the_force_and_the_force_of_its_growth(part, z):
    """The definitions, by numerical integration."""
    breaks = [one for one in (1.5, 8.0) if one < z]
    energy, _ = quad(lambda at: float(part.force(np.array(at))), 0.0, max(z, 0.0), points=breaks or None)
    assert float(part.work(np.array(z))) == pytest.approx(energy, rel=1e-9)
    grown, _ = quad(lambda at: float(part.growth(np.array(at))), 0.0, max(z, 0.0), points=breaks or None)
    jump = float(part.jump_n(np.array(z)))
    assert float(part.force(np.array(z))) == pytest.approx(jump + grown, rel=1e-9)


def test_eddy_brake_as_it_is_now():
    """exp(-2 pi d / pole pitch) of the force; twice 0.12 % of it for each kelvin of the magnets (READ); vc 0.39 %."""
    assert EDDY.figures() == (1500.0, 6.0)
    force, speed = replace(EDDY, gap_more_m=0.003, magnet_warmer_k=50.0, conductor_warmer_k=100.0).figures()
    assert force == pytest.approx(1500 * math.exp(-math.pi / 10) * 0.94**2)
    assert speed == pytest.approx(6 * 1.39)
    assert replace(EDDY, magnet_warmer_k=-50.0).figures()[0] == pytest.approx(1500 * 1.06**2)
    assert EDDY.ends_m() == 5.0
    assert replace(EDDY, length_m=None).ends_m() == 2.0


@pytest.mark.parametrize(
    ("part", "what", "figures"),
    [
        (replace(SPRING, bind_rate_n_per_m=None), "spring", ("rate_n_per_m", "preload_n", "bind_m")),
        (CORD, "cord", ("rate_n_per_m", "first_force_n", "first_length_m", "bind_m")),
        (HAND, "brake", ("force_n", "reaction_s")),
    ],
)
def test_computing_without_a_figure_is_the_programmers_error(part, what, figures):
    for figure in figures:
        with pytest.raises(TypeError, match=UNLOOKED_AT % what):
            replace(part, **{figure: None}).force(PLACES)


@pytest.mark.parametrize(
    "figure", ["force_n", "speed_mps", "gap_more_m", "pole_pitch_m", "magnet_warmer_k", "conductor_warmer_k"]
)
def test_eddy_brake_without_a_figure_is_the_programmers_error(figure):
    with pytest.raises(TypeError, match=UNLOOKED_AT % "brake"):
        replace(EDDY, **{figure: None}).figures()


def test_parts_fit_into_the_zone():
    """To the very end of it, and each part is looked at."""
    assert parts_problem([], 1.0) is None
    assert parts_problem([SPRING], 3.5) is None
    assert parts_problem([SPRING], 3.4) == refuse("zone-short", length=3.4, needed=3.5)
    assert parts_problem([CORD], 10.0) is None
    assert parts_problem([STEADY, CORD], 9.9) == refuse("zone-short", length=9.9, needed=10.0)
    assert parts_problem([EDDY], 5.0) is None
    assert parts_problem([EDDY], 4.5) == refuse("zone-short", length=4.5, needed=5.0)
    assert parts_problem([STEADY], 2.0) is None
    assert parts_problem([STEADY], 1.5) == refuse("brake-start-range", value=2.0, low=0, high=1.5)
    assert parts_problem([SPRING], 1.5) == refuse("brake-start-range", value=2.0, low=0, high=1.5)
    assert parts_problem([EDDY], 1.5) == refuse("brake-start-range", value=2.0, low=0, high=1.5)
    assert parts_problem([replace(EDDY, force_n=None)], 1.0) == refuse("eddy-force-missing")
    assert parts_problem([EDDY, replace(SPRING, bind_m=None), STEADY], 10.0) == refuse("bind-missing")
