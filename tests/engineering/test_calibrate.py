"""Calibration: simulated test rides of known rolling and drag area, and the dossier's study of designs (COMPUTED).

The study's line has a drop of 24 m so that all arrive; speeds are taken to 0.15 m/s.
"""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import least_squares

from engineering.brakes import Spring
from engineering.calibrate import NOTES, Calibration, fit_both, fit_drag
from engineering.calibrate_predict import SENTENCES, STATES, calibrated_plan, predict
from engineering.calibrate_rides import BallastRide, Gauge, usable
from engineering.envelope import INTERVAL_MPS, Landing, Plan, weight_wind_map
from engineering.envelope_cells import StopLimits
from engineering.line import Air, Cable, Line, Rider, Wind
from engineering.refusal import Refusal
from engineering.ride import ride

LINE = Line(300.0, 24.0, Cable(1.05, 10e6), 15e3)
MILD, CALM = Air(15.0), Wind(0.0)
MASSES = np.linspace(50.0, 120.0, 6)
GAUGE, GATES = Gauge(300.0), (60.0, 120.0, 200.0)
GATED = replace(GAUGE, gates_m=GATES)
FREE = (0.010, 1e3)  # a prior that says nothing: arrival speeds alone


def rides(masses=MASSES, noise=0.0, seed=0, gates=(), rolling=0.010, area=0.50, head=0.0, told=None):
    """Test rides as the line would give them; ``told`` is the wind that is written down."""
    heads = np.broadcast_to(np.asarray(head, float), masses.shape)
    true = ride(LINE, Rider(masses, area, rolling), Wind(heads), MILD, gates_m=gates)
    rng = np.random.default_rng(seed)
    speeds = true.arrival_mps + noise * rng.standard_normal(masses.size)
    at_gates = true.gates_mps + noise * rng.standard_normal(true.gates_mps.shape)
    written = heads if told is None else np.full(masses.shape, told)
    return [
        BallastRide(float(m), float(v), float(w), 15.0, gates_mps=tuple(map(float, g)))
        for m, v, w, g in zip(masses, speeds, written, at_gates.T, strict=True)
    ]


def fitted(found):
    assert isinstance(found, Calibration), found.sentence
    return found


@pytest.mark.parametrize(
    ("fit", "rolling_sd", "area_sd", "correlation"),
    [
        (lambda: fit_drag(LINE, rides(np.linspace(60, 100, 6)), GAUGE, FREE), 0.029, 0.26, -1.000),
        (lambda: fit_drag(LINE, rides(), GAUGE, FREE), 0.0098, 0.091, -0.999),
        (lambda: fit_drag(LINE, rides(np.tile(MASSES, 2)), GAUGE, FREE), 0.0069, 0.064, -0.999),
        (lambda: fit_both(LINE, rides(gates=GATES), GATED), 0.0022, 0.019, -0.987),
        (lambda: fit_drag(LINE, rides(), GAUGE), 0.0029, 0.027, -0.990),
    ],
)
def test_designs_of_the_study(fit, rolling_sd, area_sd, correlation):
    """Table of part 5.1 of the dossier: to its printed digits."""
    found = fitted(fit())
    assert found.rolling == pytest.approx(0.010, abs=1e-6)
    assert found.drag_area_m2 == pytest.approx(0.50, abs=1e-5)
    assert found.rolling_sd == pytest.approx(rolling_sd, rel=0.02)
    assert found.drag_area_sd == pytest.approx(area_sd, rel=0.02)
    assert found.correlation == pytest.approx(correlation, abs=6e-4)
    assert found.scatter < 1e-3


def test_drag_alone_is_sharp():
    """Rolling fixed: 0.004 m² (COMPUTED)."""
    assert fitted(fit_drag(LINE, rides(), GAUGE, (0.010, 1e-9))).drag_area_sd == pytest.approx(0.004, abs=2e-4)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_same_as_scipys_least_squares(seed):
    taken = rides(noise=0.15, seed=seed, head=np.array([-2.0, -1.0, 0.0, 0.5, 1.0, 0.0]), gates=GATES)
    heads, masses = np.array([one.head_mps for one in taken]), np.array([one.mass_kg for one in taken])
    measured = np.array([(one.arrival_mps, *one.gates_mps) for one in taken]).T

    def apart(pair, prior):
        found = ride(LINE, Rider(masses, pair[1], pair[0]), Wind(heads), MILD, gates_m=GATES)
        errors = ((np.vstack([found.arrival_mps, found.gates_mps]) - measured) / 0.15).ravel()
        return np.append(errors, (pair[0] - 0.010) / 0.003) if prior else errors

    for prior, found in ((True, fit_drag(LINE, taken, GATED)), (False, fit_both(LINE, taken, GATED))):
        found = fitted(found)
        solved = least_squares(apart, [0.012, 0.45], x_scale=[0.01, 0.5], args=(prior,), xtol=1e-12, ftol=1e-12)
        assert found.rolling == pytest.approx(solved.x[0], abs=2e-6)
        assert found.drag_area_m2 == pytest.approx(solved.x[1], abs=2e-5)
        covariance = np.linalg.inv(solved.jac.T @ solved.jac) * max(1.0, found.scatter**2)
        assert found.covariance == pytest.approx(covariance, rel=0.01)
        residuals = apart(solved.x, False)
        assert found.scatter == pytest.approx(math.sqrt(residuals @ residuals / found.freedom), rel=1e-3)
        assert found.freedom == 24 - (1 if prior else 2)
        assert found.residuals_mps == pytest.approx(-0.15 * residuals[:6], abs=1e-4)
        assert found.kind == ("drag" if prior else "both")


@pytest.mark.slow
def test_many_simulated_fits():
    """Truth 0.010 and 0.50; none refused, the mean within its error, the spread as the fit says, 95 % inside 95 %."""
    found = [fitted(fit_drag(LINE, rides(noise=0.15, seed=seed), GAUGE)) for seed in range(60)]
    areas = np.array([one.drag_area_m2 for one in found])
    assert areas.mean() == pytest.approx(0.50, abs=0.01)
    speeds = [predict(one, LINE, 85.0, CALM, MILD) for one in found]
    truth = float(ride(LINE, Rider(85.0), CALM, MILD).arrival_mps)
    inside = [one.low_mps < truth < one.high_mps for one in speeds]
    assert np.mean(inside) > 0.97  # the interval is that of one further reading: wider than for the mean
    spread = np.std([float(one.arrival_mps) for one in speeds])
    assert spread == pytest.approx(0.08, abs=0.03)  # 0.08 m/s at 80 kg, COMPUTED


def test_prediction_widens_beyond_the_tested_weights():
    """0.08 m/s at 80 kg, 0.21 at 45 kg, the two figures free (COMPUTED from 200 fits, so to a tenth)."""
    found = predict(fitted(fit_drag(LINE, rides(), GAUGE, FREE)), LINE, np.array([45.0, 80.0, 130.0]), CALM, MILD)
    assert found.names() == ["told"] * 3
    assert found.mean_sd[:2] == pytest.approx([0.21, 0.08], rel=0.17)
    assert found.extrapolated.tolist() == [True, False, True]
    # t (0.975, 5) = 2.5706: printed tables, MEMORY
    assert found.half_mps == pytest.approx(2.5706 * np.hypot(found.mean_sd, 0.15), rel=1e-4)
    assert found.high_mps + found.low_mps == pytest.approx(2 * found.arrival_mps)
    at_ends = predict(fitted(fit_drag(LINE, rides(), GAUGE)), LINE, np.array([50.0, 120.0]), CALM, MILD)
    assert not at_ends.extrapolated.any()


def test_wind_not_written_down_misleads():
    """A steady 1 m/s head wind taken for none: rolling 0.010 becomes 0.023 (COMPUTED)."""
    found = fitted(fit_drag(LINE, rides(head=1.0, told=0.0), GAUGE, FREE))
    assert found.rolling == pytest.approx(0.023, abs=5e-4)
    right = fitted(fit_drag(LINE, rides(head=1.0), GAUGE, FREE))
    assert right.rolling == pytest.approx(0.010, abs=1e-6)


def test_uncertain_wind_widens():
    sharp, blurred = (fitted(fit_drag(LINE, rides(), replace(GAUGE, wind_sd_mps=sd))) for sd in (0.0, 0.5))
    assert blurred.drag_area_sd > 1.2 * sharp.drag_area_sd
    assert blurred.drag_area_m2 == pytest.approx(0.50, abs=1e-4)


def test_uncertain_wind_weighs_as_propagated():
    """Law of propagation of uncertainty (textbook): sd² = gauge² + (dv/dw sd_w)², then the usual normal equations."""

    def speeds(rolling=0.010, area=0.50, head=0.0):
        return ride(LINE, Rider(MASSES, area, rolling), Wind(head), MILD).arrival_mps

    found = fitted(fit_drag(LINE, rides(), replace(GAUGE, wind_sd_mps=0.5)))
    sd = np.hypot(0.15, 0.5 * (speeds(head=0.25) - speeds(head=-0.25)) / 0.5)
    by_rolling = (speeds(rolling=0.0101) - speeds(rolling=0.0099)) / 2e-4 / sd
    by_area = (speeds(area=0.501) - speeds(area=0.499)) / 2e-3 / sd
    jacobian = np.column_stack([by_rolling, by_area])
    covariance = np.linalg.inv(jacobian.T @ jacobian + np.diag([0.003**-2, 0.0]))
    assert np.array(found.covariance) == pytest.approx(covariance, rel=1e-3)


def test_scatter_widens_and_never_narrows():
    quiet, loud = (fitted(fit_drag(LINE, rides(noise=n, seed=4), GAUGE)) for n in (0.02, 0.25))
    exact = fitted(fit_drag(LINE, rides(), GAUGE))
    assert quiet.scatter < 1 < loud.scatter
    assert quiet.drag_area_sd == pytest.approx(exact.drag_area_sd, rel=0.02)
    assert loud.drag_area_sd == pytest.approx(loud.scatter * exact.drag_area_sd, rel=0.1)
    assert "scatter-wide" in loud.notes
    assert "scatter-wide" not in quiet.notes
    assert all(one.endswith(".") for one in NOTES.values())


def test_notes_and_weights():
    found = fitted(fit_drag(LINE, rides(np.linspace(60, 109.9, 6)), GAUGE))
    assert found.notes == ("ballast-drag", "spread-narrow")
    wide = fitted(fit_drag(LINE, rides(np.linspace(60, 110, 6)), GAUGE))
    assert wide.notes == ("ballast-drag",)
    assert (wide.least_kg, wide.most_kg, wide.rides) == (60.0, 110.0, 6)


def changed(number, taken=None, **figures):
    taken = list(taken or rides(noise=0.1))
    taken[number] = replace(taken[number], **figures)
    return taken


EIGHT = rides(np.linspace(50, 120, 8), noise=0.1)


@pytest.mark.parametrize(
    ("fit", "code"),
    [
        (lambda: fit_drag(LINE, [], GAUGE), "rides-few"),
        (lambda: fit_drag(LINE, rides()[:5], GAUGE), "rides-few"),
        (lambda: fit_drag(LINE, changed(0, head_mps=None), GAUGE), "rides-few"),
        (lambda: fit_drag(LINE, rides(np.full(6, 80.0), 0.1), GAUGE), "masses-narrow"),
        (lambda: fit_drag(LINE, rides(np.linspace(60, 89.9, 6)), GAUGE), "masses-narrow"),
        (lambda: fit_drag(LINE, [replace(one, arrival_mps=7.0) for one in rides()], GAUGE), "speeds-equal"),
        (lambda: fit_drag(LINE, changed(4, EIGHT, arrival_mps=EIGHT[4].arrival_mps + 2.0), GAUGE), "ride-wild"),
        (lambda: fit_drag(LINE, rides(noise=1.5, seed=1), GAUGE), "rides-scatter"),
        (
            lambda: fit_drag(LINE, [replace(one, arrival_mps=3.6 * one.arrival_mps) for one in rides()], GAUGE),
            "rides-scatter",
        ),
        (lambda: fit_drag(LINE, rides(area=0.09), GAUGE), "fit-impossible"),
        (lambda: fit_both(LINE, rides(), GAUGE), "gates-missing"),
        (lambda: fit_both(LINE, rides(), GATED), "rides-few"),
        (lambda: fit_both(LINE, rides(gates=(296.0, 298.0)), replace(GAUGE, gates_m=(296.0, 298.0))), "fit-singular"),
        (lambda: fit_drag(LINE, rides(), Gauge(None)), "landing-missing"),
        (lambda: fit_drag(LINE, rides(), Gauge(300.1)), "position-range"),
        (lambda: fit_drag(LINE, rides(), replace(GAUGE, sd_mps=None)), "gauge-missing"),
        (lambda: fit_drag(LINE, rides(), replace(GAUGE, sd_mps=0.0)), "gauge-range"),
        (lambda: fit_drag(LINE, rides(), replace(GAUGE, wind_sd_mps=-0.1)), "gauge-range"),
        (lambda: fit_drag(replace(LINE, tension_n=None), rides(), GAUGE), "tension-missing"),
    ],
)
def test_no_fit_and_why(fit, code):
    found = fit()

    assert isinstance(found, Refusal), found
    assert found.code == code
    assert found.sentence.endswith((".", ")."))


def test_the_wild_ride_is_named():
    found = fit_drag(LINE, changed(4, EIGHT, arrival_mps=EIGHT[4].arrival_mps + 2.0), GAUGE)
    assert "The ride with 90 kg is 1.9 m/s away" in found.sentence


@pytest.mark.parametrize("sd", [0.15, 0.05])
def test_the_scatter_told_is_that_about_the_best_fit(sd):
    """Root of squares over degrees of freedom (textbook), about the fit by scipy; twice the gauge is allowed."""
    taken = rides(np.linspace(50, 120, 8), noise=1.0, seed=1)
    masses, measured = (np.array([getattr(one, name) for one in taken]) for name in ("mass_kg", "arrival_mps"))

    def apart(pair):
        errors = (ride(LINE, Rider(masses, pair[1], pair[0]), CALM, MILD).arrival_mps - measured) / sd
        return np.append(errors, (pair[0] - 0.010) / 0.003)

    solved = least_squares(apart, [0.010, 0.5], x_scale=[0.01, 0.5], bounds=([1e-4, 0.01], [0.05, 1.5]))
    errors = apart(solved.x)[:-1] * sd
    found = fit_drag(LINE, taken, replace(GAUGE, sd_mps=sd))

    assert found.code == "rides-scatter"
    told = dict(found.params)
    assert float(told["value"]) == pytest.approx(math.sqrt(errors @ errors / 7), rel=0.06)  # to two digits
    assert float(told["limit"]) == pytest.approx(2 * sd)


@pytest.mark.parametrize(
    ("figures", "code"),
    [
        ({"accepted": False}, "not-accepted"),
        ({"mass_kg": None}, "mass-missing"),
        ({"mass_kg": 176.0}, "mass-range"),
        ({"arrival_mps": None}, "arrival-missing"),
        ({"arrival_mps": 0.1}, "arrival-range"),
        ({"arrival_mps": 41.0}, "arrival-range"),
        ({"head_mps": None}, "wind-missing"),
        ({"cross_mps": None}, "wind-missing"),
        ({"head_mps": 16.0}, "wind-range"),
        ({"temperature_c": None}, "temperature-missing"),
        ({"pressure_pa": 1013.0}, "pressure-range"),
        ({"launch_mps": 5.0}, "launch-range"),
        ({"gates_mps": (3.0,)}, "gates-missing"),
        ({"gates_mps": (3.0, None)}, "arrival-missing"),
    ],
)
def test_a_ride_left_out_says_why(figures, code):
    good = BallastRide(80.0, 6.0, 0.2, 15.0, gates_mps=(3.0, 5.0))
    used, left_out = usable([good, replace(good, **figures)], 2)
    assert used == [good]
    assert [(one.number, one.why.code) for one in left_out] == [(1, code)]


def test_left_out_rides_are_told_with_the_fit():
    found = fitted(fit_drag(LINE, [replace(EIGHT[0], head_mps=None), *EIGHT], GAUGE))
    assert found.rides == 8
    assert [(one.number, one.why.code) for one in found.left_out] == [(0, "wind-missing")]


def test_prediction_by_state():
    made = fitted(fit_drag(LINE, rides(), GAUGE))
    found = predict(
        made, LINE, np.array([80.0, 30.0, 151.0, np.nan, 80.0]), Wind(np.array([0.0, 3.0, 0.0, 0.0, 3.5])), MILD
    )
    assert found.names() == ["told", "stalls", "beyond", "unknown", "near-stall"]
    for figures in (found.arrival_mps, found.low_mps, found.high_mps, found.mean_sd):
        assert np.isnan(figures[1:]).all()
    assert set(SENTENCES) == set(STATES)
    assert predict(made, LINE, None, CALM, MILD).code == "mass-missing"
    assert predict(made, LINE, 80.0, None, MILD).code == "wind-missing"
    assert predict(made, LINE, 80.0, CALM, Air(None)).code == "temperature-missing"


def test_calibrated_plan_narrows_the_map():
    made = fitted(fit_drag(LINE, rides(rolling=0.012, area=0.45), GAUGE))
    limits = StopLimits(mean_g=4.0, peak_g=8.0)
    plan = Plan(LINE, Landing(294.0, 5.0), [Spring(1500.0, 200.0, 4.0)], Rider(None, 0.7, 0.02), MILD, limits)
    masses, winds = np.linspace(40, 130, 10), np.linspace(-4, 4, 9)

    calibrated, by = calibrated_plan(plan, made, masses, winds)

    assert calibrated.rider == Rider(None, made.drag_area_m2, made.rolling)
    assert (by.rides, by.least_kg, by.most_kg) == (6, 50.0, 120.0)
    assert 0.3 < by.interval_mps < 3.0
    bare = replace(calibrated, interval_mps=0.0)
    narrow, wide = (weight_wind_map(one, masses, winds).state for one in (calibrated, bare))
    assert (narrow >= wide).all()
    assert (narrow == 0).sum() < (wide == 0).sum()
    told = predict(made, LINE, masses[:, None], Wind(winds[None, :]), MILD, end_m=294.0)
    assert (narrow[told.state != 0] > 0).all()
    assert calibrated.interval_mps[told.state == 0] == pytest.approx(told.half_mps[told.state == 0])
    inside = (told.state == 0) & ~told.extrapolated
    assert by.interval_mps == pytest.approx(told.half_mps[inside].max())
    assert calibrated_plan(replace(plan, cross_mps=None), made, masses, winds).code == "wind-missing"


def test_a_pushed_launch_is_part_of_the_prediction():
    made = fitted(fit_drag(LINE, rides(), GAUGE))
    pushed = predict(made, LINE, 85.0, CALM, MILD, launch_mps=2.0)
    truth = ride(LINE, Rider(85.0, 0.50, 0.010), CALM, MILD, launch_mps=2.0)

    assert float(pushed.arrival_mps) == pytest.approx(float(truth.arrival_mps), abs=1e-3)
    assert pushed.arrival_mps > predict(made, LINE, 85.0, CALM, MILD).arrival_mps


def test_a_map_wholly_beside_the_tested_weights_has_the_widest_interval():
    made = fitted(fit_drag(LINE, rides(), GAUGE))
    plan = Plan(LINE, Landing(294.0, 5.0), [Spring(1500.0, 200.0, 4.0)], Rider(None), MILD, StopLimits())

    _, by = calibrated_plan(plan, made, np.array([125.0, 140.0]), np.array([-1.0, 0.0]))

    assert by.interval_mps == INTERVAL_MPS[1]


def test_drag_that_grows_with_the_weight_is_found_again():
    """By the law of similar shapes, CdA (m / 80)^(2/3) (from memory); taken for one area it would not fit so well."""
    areas = 0.5 * (MASSES / 80.0) ** (2.0 / 3.0)
    true = ride(LINE, Rider(MASSES, areas, 0.010), Wind(np.zeros_like(MASSES)), MILD)
    told = [BallastRide(float(m), float(v), 0.0, 15.0) for m, v in zip(MASSES, true.arrival_mps, strict=True)]
    found = fitted(fit_drag(LINE, told, GAUGE, by_weight=True))

    assert found.by_weight
    assert found.drag_area_m2 == pytest.approx(0.5, abs=1e-4)
    assert isinstance(fit_drag(LINE, told, GAUGE), Refusal)  # one area for all of them fits none
    said = predict(found, LINE, MASSES, Wind(0.0), MILD)
    np.testing.assert_allclose(said.arrival_mps, true.arrival_mps, atol=1e-3)
