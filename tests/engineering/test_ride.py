"""The ride: closed forms, scipy's solver on the same equations, energy, and cases computed before (COMPUTED)."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from engineering.cable import loaded_exact, loaded_sag_share, span_of, tension_at
from engineering.incline import speed_down_slope, terminal_speed
from engineering.line import G_MPS2, Air, Cable, Line, Rider, Wind, air_density
from engineering.march import march
from engineering.refusal import Refusal
from engineering.ride import ARRIVED, OUTSIDE, STATES, UNKNOWN, ride
from tests.engineering.mechanics_cases import only

REFERENCE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)
SHORT = Line(60.0, 5.0, Cable(0.7, 6e6), 3e3)
LONG = Line(600.0, 40.0, Cable(1.4, 14e6), 40e3)
CALM, MILD = Wind(0.0), Air(15.0)


def straight(length, drop, mass, area, density=1.225, rolling=0.0, steps=400, head=0.0, cross=0.0, launch=0.0):
    """March down a straight slope, as if the cable were a beam."""
    x = np.linspace(0.0, length, steps + 1)
    arc = np.full((steps, 1), math.hypot(length, drop) / steps)
    potential = (-drop / length * x)[:, None]
    return march(x, potential, arc, np.array([density * area / mass]), rolling, head, cross, launch)


def test_straight_slope_against_the_closed_form():
    inputs, expect, tolerance = only("G9")
    chord = math.hypot(300, 30)

    by_form = speed_down_slope(chord, 30 / chord, inputs["m"], inputs["CdA"], inputs["mu"], inputs["rho"])
    marched = straight(300.0, 30.0, inputs["m"], inputs["CdA"], inputs["rho"], inputs["mu"])

    assert by_form == pytest.approx(expect["v"], abs=tolerance)
    assert math.sqrt(marched.square[-1, 0]) == pytest.approx(by_form, abs=1e-9)
    near = straight(30.0, 3.0, 90.0, 0.5, 0.9, 0.01, launch=2.0)
    by_form = speed_down_slope(chord / 10, 30 / chord, 90.0, 0.5, 0.01, 0.9, 2.0)
    assert math.sqrt(near.square[-1, 0]) == pytest.approx(by_form, abs=1e-9)


def test_terminal_speed():
    inputs, expect, tolerance = only("D1")
    area = inputs["Cd"] * inputs["A"]

    assert terminal_speed(inputs["m"], area, inputs["rho"], gravity=inputs["g"]) == pytest.approx(
        expect["v"], abs=tolerance
    )
    after_long = speed_down_slope(3000.0, 1.0, inputs["m"], area, 0.0, inputs["rho"], gravity=inputs["g"])
    assert after_long == pytest.approx(expect["v"], abs=tolerance)
    marched = straight(3000.0, 3000.0, inputs["m"], area / math.sqrt(2), inputs["rho"])  # a path of 45°, so much longer
    assert math.sqrt(marched.square[-1, 0]) == pytest.approx(terminal_speed(70.0, area, 1.22), abs=1e-3)


def test_steady_head_wind_ends_at_the_terminal_speed_less_the_wind():
    """By definition: in the end the air passes at the terminal speed, from whatever side the wind is."""
    still = terminal_speed(80.0, 0.5, 1.225, 0.1)
    for head in (-5.0, 3.0):
        marched = straight(20_000.0, 20_000 * 0.1 / math.sqrt(0.99), 80.0, 0.5, head=head, steps=2000)
        assert math.sqrt(marched.square[-1, 0]) == pytest.approx(still - head, abs=1e-3)
    crossed = straight(20_000.0, 20_000 * 0.1 / math.sqrt(0.99), 80.0, 0.5, cross=6.0, steps=2000)
    v = math.sqrt(crossed.square[-1, 0])
    assert v * math.hypot(v, 6.0) == pytest.approx(still**2, rel=1e-4)


def test_ride_on_the_reference_line():
    _, expect, tolerance = only("G13")

    found = ride(REFERENCE, Rider(np.array([40.0, 80.0])), CALM, MILD)

    assert found.names() == ["stalled", "arrived"]
    assert found.arrival_mps[1] == pytest.approx(expect["v"], abs=tolerance["v"])
    assert found.stall_m[0] == pytest.approx(expect["x_stall"], abs=tolerance["x_stall"])
    assert np.isnan([found.arrival_mps[0], found.time_s[0], found.stall_m[1]]).all()


@pytest.mark.parametrize("line", [REFERENCE, SHORT, LONG, replace(REFERENCE, constant_tension=True)])
@pytest.mark.parametrize("steps", [10, 200])
def test_without_losses_the_energy_is_kept(line, steps):
    found = ride(
        line, Rider(np.array([25.0, 80.0, 120.0]), 0.0, 0.0), Wind(9.0, 5.0), MILD, launch_mps=2.0, steps=steps
    )

    assert found.arrival_mps == pytest.approx(math.sqrt(2 * G_MPS2 * line.drop_m + 4), abs=1e-9)


def test_lossless_arrival():
    _, expect, tolerance = only("G14")
    found = ride(REFERENCE, Rider(80.0, 0.0, 0.0), CALM, MILD)
    assert found.arrival_mps.shape == ()
    assert float(found.arrival_mps) == pytest.approx(expect["v"], abs=tolerance)


def test_rolling_takes_its_share_and_sheaves_theirs():
    """Energy balance: v² (1 + e) = 2 g (h - mu L), whatever the cable."""
    found = ride(REFERENCE, Rider(80.0, 0.0, 0.02, sheave_kg=0.8), CALM, MILD)
    assert float(found.arrival_mps) ** 2 * 1.01 == pytest.approx(2 * G_MPS2 * (18 - 0.02 * 300), rel=1e-12)


def by_solver(line, mass, rolling, area, head, cross):
    """Integrate in time with scipy; speed at the end or nan, place, duration."""
    span, load, density = span_of(line, 15.0), mass * G_MPS2, air_density(15.0)

    def height(x):
        return float(span.height(x, load, span.tension(x, load)))

    def change(_, state):
        x, v = min(max(state[0], 0.0), span.length), state[1]
        slope = float(span.driving_slope(x, load, span.tension(x, load)))
        low, high = max(x - 1e-3, 0.0), min(x + 1e-3, span.length)
        secant = math.hypot(1.0, (height(high) - height(low)) / (high - low))
        drag = density * area / (2 * mass) * math.hypot(v + head, cross) * (v + head) * secant
        return [v / secant, (-G_MPS2 * (slope + rolling) - drag) / secant]

    def at_end(_, state):
        return state[0] - span.length

    def stopped(_, state):
        return state[1] - 1e-6

    at_end.terminal = stopped.terminal = True
    stopped.direction = -1
    found = solve_ivp(change, [0, 400], [0.0, 1e-4], rtol=1e-9, atol=1e-9, events=[at_end, stopped])
    arrived = len(found.t_events[0])
    return (found.y[1, -1] if arrived else math.nan), found.y[0, -1], found.t[-1]


@pytest.mark.parametrize(
    ("line", "mass", "rolling", "area", "head", "cross"),
    [
        (REFERENCE, 80.0, 0.01, 0.5, 0.0, 0.0),
        (REFERENCE, 120.0, 0.008, 0.4, -6.0, 0.0),
        (REFERENCE, 100.0, 0.01, 0.5, 2.0, 3.0),
        (REFERENCE, 55.0, 0.015, 0.55, 2.0, 0.0),
        (SHORT, 50.0, 0.01, 0.5, -3.0, 4.0),
        (LONG, 80.0, 0.01, 0.5, -3.0, 0.0),
        (LONG, 100.0, 0.01, 0.5, 1.0, 2.0),
    ],
)
def test_ride_against_scipys_solver(line, mass, rolling, area, head, cross):
    """scipy.integrate.solve_ivp: within 1 mm/s at 200 steps, stops within 2 cm, duration within 0.03 s."""
    speed, place, duration = by_solver(line, mass, rolling, area, head, cross)

    found = ride(line, Rider(mass, area, rolling), Wind(head, cross), MILD)

    if math.isnan(speed):
        assert found.stalled
        assert float(found.stall_m) == pytest.approx(place, abs=0.02)
    else:
        assert float(found.arrival_mps) == pytest.approx(speed, abs=1e-3)
        assert float(found.time_s) == pytest.approx(duration, abs=0.03)


def test_map_of_masses_and_winds():
    """Arrival speeds of the reference line, head wind -6 to 2 m/s; None is a stop (COMPUTED, to the printed digit)."""
    expected = [
        [10.9, 8.6, 5.8, None, None],
        [11.9, 10.0, 7.7, 4.5, None],
        [12.6, 10.9, 8.9, 6.4, 2.3],
        [13.2, 11.7, 9.9, 7.7, 4.8],
    ]
    masses = np.array([60.0, 80.0, 100.0, 120.0])[:, None]

    found = ride(REFERENCE, Rider(masses), Wind(np.array([-6.0, -4.0, -2.0, 0.0, 2.0])[None, :]), MILD)

    assert found.state.shape == (4, 5)
    for row, speeds in zip(expected, found.arrival_mps, strict=True):
        for wanted, speed in zip(row, speeds, strict=True):
            assert np.isnan(speed) if wanted is None else speed == pytest.approx(wanted, abs=0.055)


def test_what_moves_the_arrival_speed():
    """80 kg, reference line: +1 m/s head wind -62 %, CdA +10 % -25 %, tension +10 % +18 %, +20 K -11 % (COMPUTED)."""

    def speed(area=0.5, head=0.0, tension=None, cable=None):
        return float(ride(REFERENCE, Rider(80.0, area), Wind(head), MILD, tension_n=tension, cable_c=cable).arrival_mps)

    base = speed()
    assert speed(head=1.0) / base - 1 == pytest.approx(-0.62, abs=0.01)
    assert speed(area=0.55) / base - 1 == pytest.approx(-0.25, abs=0.01)
    assert speed(tension=16.5e3) / base - 1 == pytest.approx(0.18, abs=0.01)
    assert speed(cable=35.0) / base - 1 == pytest.approx(-0.11, abs=0.01)
    crossed = ride(REFERENCE, Rider(100.0), Wind(0.0, np.array([0.0, 3.0, -6.0])), MILD).arrival_mps
    assert crossed == pytest.approx([6.40, 6.10, 5.19], abs=0.006)


def test_thinner_air_holds_less():
    """Drag goes with density: at 2000 m and 15 °C the same ride as with so much less drag area, at sea level."""
    high = ride(REFERENCE, Rider(80.0), CALM, Air(15.0, 79_500.0))
    less = ride(REFERENCE, Rider(80.0, 0.5 * 79_500 / 101_325), CALM, MILD)
    assert float(high.arrival_mps) == pytest.approx(float(less.arrival_mps), abs=1e-9)


def test_ride_along_the_exact_cable():
    """The fast form's ride is within 25 mm/s of one along the exact elastic catenary (COMPUTED for five lines)."""
    places = np.concatenate([[0.5], np.arange(2.0, 299.0, 2.0), [299.5]])
    states = [loaded_exact(REFERENCE, 100.0, float(place)).points[0] for place in places]
    drive = [(one.slope_before + one.slope_after) / 2 for one in states]
    x = np.linspace(0, 300, 601)
    slopes = np.interp(x, places, drive)
    slopes[0], slopes[-1] = 2 * slopes[1] - slopes[2], 2 * slopes[-2] - slopes[-3]
    potential = np.concatenate([[0], np.cumsum((slopes[1:] + slopes[:-1]) / 2 * np.diff(x))])
    heights = np.interp(x, [0, *places, 300], [0, *[-one.depth for one in states], -18])
    arc = np.hypot(np.diff(x), np.diff(heights))
    marched = march(x, potential[:, None], arc[:, None], np.array([air_density(15.0) * 0.5 / 100]), 0.01, 0.0, 0.0, 0.0)

    fast = ride(REFERENCE, Rider(100.0), CALM, MILD)

    assert math.sqrt(marched.square[-1, 0]) == pytest.approx(float(fast.arrival_mps), abs=0.025)


def test_together_or_one_by_one_is_the_same():
    """A bundle of riders more than are marched at once; each as if alone. No outside source."""
    rng = np.random.default_rng(4)
    masses, areas, heads = rng.uniform(30, 140, 600), rng.uniform(0.3, 0.8, 600), rng.normal(0, 2, 600)
    together = ride(REFERENCE, Rider(masses, areas), Wind(heads), MILD)
    for i in (0, 255, 256, 511, 512, 599):
        alone = ride(REFERENCE, Rider(masses[i], areas[i]), Wind(heads[i]), MILD)
        assert alone.state == together.state[i]
        np.testing.assert_allclose(alone.arrival_mps, together.arrival_mps[i], rtol=1e-12)
        np.testing.assert_allclose(alone.stall_m, together.stall_m[i], rtol=1e-12)


def test_gates_and_trace():
    found = ride(REFERENCE, Rider(np.array([40.0, 80.0])), CALM, MILD, gates_m=(60.0, 150.7, 290.0, 300.0), traced=True)

    assert found.gates_mps.shape == (4, 2)
    assert found.trace.speed_mps.shape == (201, 2)
    assert found.gates_mps[0] == pytest.approx(found.trace.speed_mps[40])
    assert found.gates_mps[3, 1] == pytest.approx(found.arrival_mps[1])
    assert np.isnan(found.gates_mps[2:, 0]).all()  # the light rider stopped before
    assert not np.isnan(found.gates_mps[:2, 0]).any()
    to_gate = ride(REFERENCE, Rider(80.0), CALM, MILD, end_m=150.7)
    assert found.gates_mps[1, 1] == pytest.approx(float(to_gate.arrival_mps), abs=2e-3)
    assert found.top_mps == pytest.approx(found.trace.speed_mps.max(axis=0))
    assert found.trace.height_m[-1] == pytest.approx([-18, -18])
    assert found.trace.height_m[100, 1] == pytest.approx(-18.2312, abs=5e-4)  # case G10
    assert found.trace.x_m[[0, -1]].tolist() == [0, 300]
    assert (found.trace.speed_mps[:, 0][found.trace.x_m > 281] == 0).all()
    assert ride(REFERENCE, Rider(80.0), CALM, MILD).trace is None


def test_stops_at_once_where_nothing_drives():
    level = Line(300.0, 0.0, Cable(1.05, 10e6), 15e3)
    found = ride(level, Rider(30.0, 0.5, 0.05), Wind(15.0), MILD)
    assert found.stalled
    assert 0 <= float(found.stall_m) < 300
    stuck = straight(100.0, 1.0, 80.0, 0.5, rolling=0.02)
    assert stuck.stall_x[0] == 0.0
    assert np.isnan(stuck.time_s[0])


NAN = float("nan")


def one(line=REFERENCE, rider=None, wind=CALM, air=MILD, **more):
    return ride(line, rider or Rider(80.0), wind, air, **more)


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (one(wind=None), "wind-missing"),
        (one(wind=Wind(None)), "wind-missing"),
        (one(wind=Wind(NAN)), "wind-missing"),
        (one(wind=Wind(0.0, None)), "wind-missing"),
        (one(wind=Wind(15.1)), "wind-range"),
        (one(wind=Wind(0.0, -15.1)), "wind-range"),
        (one(air=None), "temperature-missing"),
        (one(air=Air(None)), "temperature-missing"),
        (one(air=Air(70.0)), "temperature-range"),
        (one(cable_c=61.0), "temperature-range"),
        (one(air=Air(15.0, None)), "pressure-missing"),
        (one(air=Air(15.0, 1013.25)), "pressure-range"),
        (one(rider=Rider(None)), "mass-missing"),
        (one(rider=Rider(NAN)), "mass-missing"),
        (one(rider=Rider(176.4)), "mass-range"),
        (one(rider=Rider(24.9)), "mass-range"),
        (one(rider=Rider(80.0, None)), "drag-missing"),
        (one(rider=Rider(80.0, 1.21)), "drag-range"),
        (one(rider=Rider(80.0, -0.01)), "drag-range"),
        (one(rider=Rider(80.0, 0.5, None)), "rolling-missing"),
        (one(rider=Rider(80.0, 0.5, 0.051)), "rolling-range"),
        (one(rider=Rider(80.0, 0.5, 0.01, 5.1)), "sheave-range"),
        (one(launch_mps=None), "launch-missing"),
        (one(launch_mps=4.1), "launch-range"),
        (one(launch_mps=-0.1), "launch-range"),
        (one(end_m=0.0), "position-range"),
        (one(end_m=300.1), "position-range"),
        (one(gates_m=(301.0,)), "position-range"),
        (one(replace(REFERENCE, tension_n=None)), "tension-missing"),
        (one(replace(REFERENCE, drop_m=59.06)), "drop-feet"),
        (one(tension_n=-1.0), "tension-impossible"),
        (one(tension_n=NAN), "tension-missing"),
        (one(tension_n=5e3), "sag-high"),
        (one(tension_n=60e3), "sag-low"),
        (one(Line(300.0, 18.0, Cable(0.5, 4e6), 3.6e3), Rider(150.0)), "sag-high"),
        (one(Line(1500.0, 225.0, Cable(3.0, 3e7), 160e3), Rider(150.0, 0.0, 0.0)), "speed-wave"),
    ],
)
def test_bad_figures_are_refused_by_name(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code
    assert found.sentence.endswith(".")


def test_bad_elements_are_named_and_carry_no_figure():
    masses = np.array([80.0, NAN, 24.0, 151.0, 80.0, 80.0, 80.0])
    tensions = np.array([15e3, 15e3, 15e3, 15e3, NAN, 5e3, 60e3])

    found = ride(REFERENCE, Rider(masses), CALM, MILD, tension_n=tensions, gates_m=(150.0,), traced=True)

    expected = [ARRIVED, UNKNOWN, OUTSIDE, OUTSIDE, UNKNOWN, OUTSIDE, OUTSIDE]
    assert found.state.tolist() == expected
    assert found.names() == [STATES[i] for i in expected]
    for figures in (found.arrival_mps, found.top_mps, found.time_s, found.gates_mps[0], found.trace.speed_mps[100]):
        assert np.isnan(figures[1:]).all()
        assert not np.isnan(figures[0])
    assert np.isnan(found.stall_m).all()
    assert found.arrived.tolist() == [True] + 6 * [False]
    assert not found.stalled.any()


def test_nothing_asked_nothing_told():
    assert ride(REFERENCE, Rider(np.array([])), CALM, MILD).state.shape == (0,)


def test_quarter_of_the_wave_speed_is_the_end():
    """Waves run at sqrt(T / m) (textbook). With constant tension, without losses, down all the way: v² = 2 g h."""
    square = 1 + 0.14**2

    def at(share):
        # the sag that makes sqrt(2 g h) this share of the wave speed
        tension = 3.0 * G_MPS2 * math.sqrt(square) * 600 / 8 / (share**2 * square / (16 * 0.14))
        line = Line(600.0, 84.0, Cable(3.0, 3e7), tension, constant_tension=True)
        return ride(line, Rider(25.0, 0.0, 0.0), CALM, MILD)

    assert float(at(0.2499).arrival_mps) == pytest.approx(math.sqrt(2 * G_MPS2 * 84))
    assert at(0.2501).sentence == "The rider reaches 25.01 % of the cable's wave speed; this method ends at 25 %."


def test_reasons_name_their_figures():
    slack = Line(300.0, 18.0, Cable(0.5, 4e6), 3.6e3)
    sag = 100 * float(loaded_sag_share(span_of(slack, 15.0), 150 * G_MPS2))
    assert one(slack, Rider(150.0)).sentence.startswith(f"A sag of {sag:.6g} % of the span is over 6 %")
    warm = Line(300.0, 18.0, Cable(1.05, 10e6), 6.5e3, -50.0)
    assert tension_at(warm, 60.0).sentence.startswith("A sag of 6.")
    assert " is over 6 %" in tension_at(warm, 60.0).sentence
    assert one(rider=Rider(176.4)).sentence == "A weight of 176.4 kg is outside 25 to 150 kg."


def test_tension_above_the_breaking_force_is_outside():
    line = replace(REFERENCE, cable=replace(REFERENCE.cable, breaking_force_n=20e3))
    found = ride(line, Rider(80.0), CALM, MILD, tension_n=np.array([19.9e3, 20e3, 20.1e3]))
    assert found.names() == ["arrived", "outside", "outside"]


def test_too_few_steps_is_the_programmers_error():
    with pytest.raises(ValueError, match="ten"):
        one(steps=9)
