"""What has to hold for every brake, map and band. From mechanics and definitions alone; no outside figures."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.brakes_stop import Zone, stop
from engineering.envelope import Landing, Plan, outcome, weight_wind_map
from engineering.envelope_band import Band, Posted, day_band, grid
from engineering.envelope_cells import CELL_NAMES, StopLimits
from engineering.line import G_MPS2, Air, Rider, Wind
from engineering.refusal import Refusal
from tests.engineering.strategies_lines import lines

CALM, MILD = Wind(0.0), Air(15.0)
springs = st.builds(Spring, st.floats(200, 8000), st.floats(0, 1000), st.floats(0.3, 4.0), start_m=st.floats(0, 4))
cords = st.builds(Cord, st.floats(50, 1000), st.floats(0, 500), st.floats(0.1, 2), st.floats(1, 8), st.floats(0, 4))
frictions = st.one_of(
    st.builds(Friction, st.floats(50, 3000), st.floats(0, 4)),
    st.builds(Friction, st.floats(50, 300), st.floats(0, 4), st.floats(0.7, 2.5)),
)
eddies = st.builds(Eddy, st.floats(100, 4000), st.floats(2, 15), st.floats(0.5, 6), st.floats(0, 4))
brakes = st.lists(st.one_of(springs, cords, frictions, eddies), min_size=1, max_size=3)
ZONE = 14.0


def reached(found):
    """How far the rider came; who passed came furthest."""
    return np.where(np.equal(found.state, 1), np.inf, found.stroke_m)


@settings(max_examples=80, deadline=None)
@given(brakes, st.floats(30, 145), st.floats(0.5, 12), st.floats(0.05, 2), st.floats(-0.05, 0.15), st.floats(0, 0.8))
def test_faster_never_stops_sooner(parts, mass, speed, more, slope, area):
    found = stop(parts, Zone(ZONE, slope), Rider(mass, area), np.array([speed, speed + more]), CALM, MILD)
    assume(not isinstance(found, Refusal))
    slow, fast = reached(found)
    assert fast >= slow - 2e-3


@settings(max_examples=80, deadline=None)
@given(springs, st.floats(30, 145), st.floats(0.5, 12), st.floats(0.01, 3.0))
def test_a_shorter_travel_is_never_better(spring, mass, speed, shorter):
    """Nearer to bind never a better state: the same rider, the bind moved towards him."""
    assume(spring.bind_m - shorter > 0.05)
    ranks = []
    for bind in (spring.bind_m, spring.bind_m - shorter):
        found = stop([replace(spring, bind_m=bind)], Zone(ZONE, 0.02), Rider(mass), speed, CALM, MILD)
        assume(not isinstance(found, Refusal))
        ranks.append((float(found.used), float(found.peak_g), float(found.over_s)))
    assert ranks[1][0] >= ranks[0][0] - 1e-9 or ranks[0][0] > 1
    assert ranks[1][1] >= ranks[0][1] - 1e-9


@settings(max_examples=60, deadline=None)
@given(brakes, st.floats(30, 145), st.floats(1, 12))
def test_energy_is_kept_on_the_level(parts, mass, speed):
    """Springs, cords and friction without drag and rolling: the work taken up is what the rider brought."""
    placed = [one for one in parts if not isinstance(one, Eddy)]
    assume(placed)
    found = stop(placed, Zone(ZONE, 0.0), Rider(mass, 0.0, 0.0), speed, CALM, MILD)
    assume(not isinstance(found, Refusal) and found.names() == ["stopped"])
    s = np.asarray(found.stroke_m)
    taken = sum(float(one.work(s - one.starts(speed))) for one in placed)
    assert taken == pytest.approx(mass * speed**2 / 2, rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.one_of(springs, cords), min_size=1, max_size=2), st.floats(30, 145), st.floats(1, 12))
def test_thrown_back_no_faster_than_he_came(parts, mass, speed):
    found = stop(parts, Zone(ZONE, 0.0), Rider(mass, 0.0), speed, CALM, MILD)
    assume(not isinstance(found, Refusal) and found.names() == ["stopped"])
    assert float(found.back_mps) < speed


@settings(max_examples=40, deadline=None)
@given(brakes, st.floats(30, 145), st.floats(1, 12), st.floats(-0.05, 0.15))
@example([Friction(345.0, 3.375)], 30.0, 1.0, 0.0)
def test_figures_go_with_states(parts, mass, speed, slope):
    found = stop(parts, Zone(ZONE, slope), Rider(mass), np.array([speed, np.nan, 99.0]), CALM, MILD)
    assume(not isinstance(found, Refusal))
    assert found.names()[1:] == ["unknown", "outside"]
    assert np.isnan(found.stroke_m[1:]).all()
    assert np.isnan(found.out_mps[1:]).all()
    if found.names()[0] == "stopped":
        assert 0 <= found.stroke_m[0] <= ZONE
        # The mean is taken over the way braked, which the method knows to 2 mm: of a short way that is more.
        braked = speed**2 / (2 * G_MPS2 * found.mean_g[0])
        assert found.peak_g[0] >= found.mean_g[0] * (1 - 0.002 / braked) - 1e-6
        assert found.step_g[0] <= found.peak_g[0] + 1e-6 or slope < 0
        assert np.isnan(found.out_mps[0])
    else:
        assert np.isnan(found.stroke_m[0])
        assert found.out_mps[0] >= 0


@st.composite
def plans(draw):
    line = draw(lines())
    start = line.span_m - draw(st.floats(4, 9))
    spring = Spring(draw(st.floats(400, 5000)), draw(st.floats(0, 500)), draw(st.floats(0.5, 3.5)))
    limits = StopLimits(3.0, 6.0, 0.04, draw(st.floats(0.5, 1.0)), draw(st.floats(0, 2)), draw(st.floats(5, 20)))
    interval = draw(st.sampled_from([0.0, 0.2, 0.6]))
    return Plan(line, Landing(start, 5.0), [spring], Rider(None), MILD, limits, interval_mps=interval)


@settings(max_examples=25, deadline=None)
@given(plans(), st.floats(0, 12), st.floats(0, 12), st.floats(-8, 8), st.floats(0, 2), st.booleans())
def test_band_is_never_wider_than_posted_and_all_of_it_is_good(plan, head, tail, wind, gust, by_test):
    posted = Posted(40.0, 120.0, head, tail)
    tested = (50.0, 105.0) if by_test else None
    axes = grid(posted, tested)
    assume(not isinstance(axes, Refusal))
    made = weight_wind_map(plan, *axes, steps=40)
    assume(not isinstance(made, Refusal))
    found = day_band({"new": made}, posted, wind, gust, tested)
    if isinstance(found, Refusal):
        return
    assert isinstance(found, Band)
    low, high = tested or (40.0, 120.0)
    assert low <= found.least.value < found.most.value <= high
    assert -tail <= found.tail.value <= wind - gust + 1e-12
    assert wind + gust - 1e-12 <= found.head.value <= head
    inside = made.state[
        np.ix_(
            (axes[0] >= found.least.value) & (axes[0] <= found.most.value),
            (axes[1] >= found.tail.value) & (axes[1] <= found.head.value),
        )
    ]
    assert (inside == 0).all()


@settings(max_examples=25, deadline=None)
@given(plans(), st.floats(30, 140), st.floats(-8, 6), st.floats(0.1, 2))
def test_less_certain_is_never_better(plan, mass, wind, wider):
    sure = outcome(plan, mass, wind, steps=40)
    assume(not isinstance(sure, Refusal))
    unsure = outcome(replace(plan, interval_mps=plan.interval_mps + wider), mass, wind, steps=40)
    assert CELL_NAMES.index(unsure.names()[0]) >= CELL_NAMES.index(sure.names()[0])


@settings(max_examples=25, deadline=None)
@given(plans(), st.floats(30, 140), st.floats(-8, 6), st.floats(0.05, 0.5))
def test_a_shorter_spring_never_has_a_better_cell(plan, mass, wind, shorter):
    (spring,) = plan.parts
    long = outcome(plan, mass, wind, steps=40)
    assume(not isinstance(long, Refusal) and spring.bind_m - shorter > 0.05)
    short = outcome(replace(plan, parts=[replace(spring, bind_m=spring.bind_m - shorter)]), mass, wind, steps=40)
    assert CELL_NAMES.index(short.names()[0]) >= CELL_NAMES.index(long.names()[0])
