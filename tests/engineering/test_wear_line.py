"""The fitted line and its bands against certified values, published examples, statsmodels, and its own definition."""

import doctest
import math

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from engineering import wear_line
from engineering.wear_line import LARGEST, cross_level, fieller_g, fit_line, no_spread, read_back, student, usable
from engineering.wear_words import CAUSES, NOTE_SENTENCES, STATUS_SENTENCES, Untold
from tests.engineering.tables import column

EXAMPLE = list(
    zip(column("wear_example_derived", "kcycles"), column("wear_example_derived", "thickness_mm"), strict=True)
)


def points_of(name, x="x", y="y"):
    return list(zip(column(name, x), column(name, y), strict=True))


def test_examples():
    assert doctest.testmod(wear_line).attempted
    assert not doctest.testmod(wear_line).failed


def test_norris():
    """NIST StRD Norris (READ): certified to 15 digits; 1e-10 for B0, 1e-12 for the rest."""
    line = fit_line(points_of("nist_strd_norris"))
    assert line.n == 36
    assert line.df == 34
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-10)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert line.se_intercept == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.se_slope == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert line.s == pytest.approx(0.884796396144373, rel=1e-10)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-12)
    assert (line.slope / line.se_slope) ** 2 == pytest.approx(5436385.54079785, rel=1e-9)


def test_norris_far_from_nought():
    """The same figures a million days on: the sums are taken about the mean."""
    line = fit_line([(x + 1e6, y) for x, y in points_of("nist_strd_norris")])
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)
    assert line.s == pytest.approx(0.884796396144373, rel=1e-9)


def test_through_the_origin():
    """NIST StRD NoInt1 and NoInt2 (READ); R² about the origin."""
    line = fit_line(points_of("nist_strd_noint1"), origin=(0.0, 0.0))
    assert line.slope == pytest.approx(2.07438016528926, rel=1e-12)
    assert line.se_slope == pytest.approx(0.165289256198347e-01, rel=1e-12)
    assert line.s == pytest.approx(3.56753034006338, rel=1e-12)
    assert line.r_squared == pytest.approx(0.999365492298663, rel=1e-12)
    assert (line.df, line.intercept, line.se_intercept, line.centre_share) == (10, 0.0, 0.0, 0.0)
    few = fit_line(points_of("nist_strd_noint2"), origin=(0.0, 0.0))
    assert few.slope == pytest.approx(0.727272727272727, rel=1e-12)
    assert few.se_slope == pytest.approx(0.420827318078432e-01, rel=1e-12)


def test_a_shifted_origin_is_the_same_line():
    points = points_of("nist_strd_noint2")
    held = fit_line([(x + 5, y + 7) for x, y in points], origin=(5.0, 7.0))
    assert held.slope == pytest.approx(0.727272727272727, rel=1e-12)
    assert held.at(5.0) == 7.0
    assert held.r_squared == pytest.approx(fit_line(points, origin=(0.0, 0.0)).r_squared, rel=1e-12)
    assert held.intercept == pytest.approx(7 - 5 * 0.727272727272727, rel=1e-12)


def test_prediction_of_stopping_distances():
    """R predict.lm on datasets::cars at speed 10 (READ): 95 % of the mean and of a new value."""
    line = fit_line(points_of("r_cars_speed_stopping", "speed_mph", "dist_ft"))
    middle = line.at(10.0)
    assert middle == pytest.approx(21.74499, abs=6e-6)
    mean = line.half_width(10.0, confidence=0.975, q=0.0)
    new = line.half_width(10.0, confidence=0.975)
    assert [middle - mean, middle + mean] == pytest.approx([15.46192, 28.02807], abs=6e-6)
    assert [middle - new, middle + new] == pytest.approx([-9.809601, 53.29959], abs=6e-6)


def test_inverse_prediction_of_a_thermostat():
    """Graybill & Iyer, Regression Analysis, ch. 6, p. 431, through R's investr (READ); further digits DERIVED."""
    line = fit_line(points_of("calib_thermostat", "temp_x", "read_y"))
    found = cross_level(line, 104.0, confidence=0.975)
    assert found.x == pytest.approx(103.995, abs=5e-4)
    assert [found.early, found.late] == pytest.approx([103.4, 104.6], abs=0.05)
    assert [found.x, found.early, found.late] == pytest.approx([103.99492, 103.40405, 104.58946], abs=5e-6)
    assert found.g == pytest.approx(0.0018456, abs=5e-8)
    other = cross_level(line, 100.0, confidence=0.95)
    assert other.x == pytest.approx(100.1, abs=0.05)
    assert [other.early, other.late] == pytest.approx([99.63, 100.59], abs=0.005)
    assert read_back(line, [104.0]) == found


def test_thermometer_of_the_guide():
    """JCGM 100:2008, H.3: data READ, results from memory, one unit of the last place."""
    line = fit_line([(x - 20, y) for x, y in points_of("gum_h3_thermometer", "t_degC", "b_degC")])
    assert line.intercept == pytest.approx(-0.1712, abs=1e-4)
    assert line.se_intercept == pytest.approx(0.0029, abs=1e-4)
    assert line.slope == pytest.approx(0.00218, abs=1e-5)
    assert line.se_slope == pytest.approx(0.00067, abs=1e-5)
    assert line.s == pytest.approx(0.0035, abs=1e-4)
    correlation = -line.x_centre * line.se_slope / line.se_intercept
    assert correlation == pytest.approx(-0.930, abs=1e-3)
    assert line.at(10.0) == pytest.approx(-0.1494, abs=1e-4)
    spread = line.half_width(10.0, q=0.0) / student(0.95, line.df)
    assert spread == pytest.approx(0.0041, abs=1e-4)


@pytest.mark.parametrize(
    ("confidence", "q", "s", "early", "late", "g"),
    [
        (0.95, 1.0, None, 20.0030, 23.0733, 0.006625),
        (0.95, 0.0, None, 20.1634, 22.9128, 0.006625),
        (0.975, 1.0, None, 19.6077, 23.6229, 0.011237),
        (0.95, 1.0, 0.0577, 19.6233, 23.6002, 0.011028),
    ],
)
def test_worked_wear_example(confidence, q, s, early, late, g):
    """Our own worked example (DERIVED: closed form and root finding)."""
    line = fit_line(EXAMPLE)
    assert [line.intercept, line.slope] == pytest.approx([12.0, -0.14], abs=1e-12)
    assert line.s == pytest.approx(0.0447214, abs=5e-8)
    found = cross_level(line, 9.0, confidence=confidence, q=q, s=s)
    assert found.x == pytest.approx(21.428571, abs=5e-7)
    assert [found.early, found.late] == pytest.approx([early, late], abs=5e-4 if s else 6e-5)
    assert found.g == pytest.approx(g, abs=2e-5 if s else 6e-7)


def test_against_statsmodels():
    """OLS of statsmodels: coefficients, errors, bands of the mean and of a new value, with and without intercept."""
    rng = np.random.default_rng(7)
    for n in (3, 4, 7, 30):
        x = rng.uniform(0, 40, n)
        y = 12 - 0.1 * x + rng.normal(0, 0.1, n)
        points = list(zip(x.tolist(), y.tolist(), strict=True))
        line, theirs = fit_line(points), sm.OLS(y, sm.add_constant(x)).fit()
        assert [line.intercept, line.slope] == pytest.approx(theirs.params, rel=1e-9)
        assert [line.se_intercept, line.se_slope] == pytest.approx(theirs.bse, rel=1e-9)
        assert line.r_squared == pytest.approx(theirs.rsquared, rel=1e-9)
        band = theirs.get_prediction(np.array([[1.0, 55.0]])).summary_frame(alpha=0.10).iloc[0]
        assert line.at(55.0) == pytest.approx(band["mean"], rel=1e-9)
        assert line.at(55.0) - line.half_width(55.0, q=0.0) == pytest.approx(band["mean_ci_lower"], rel=1e-8)
        assert line.at(55.0) - line.half_width(55.0) == pytest.approx(band["obs_ci_lower"], rel=1e-8)
        held, plain = fit_line(points, origin=(0.0, 0.0)), sm.OLS(y, x).fit()
        assert [held.slope, held.se_slope] == pytest.approx([plain.params[0], plain.bse[0]], rel=1e-9)
        assert held.s == pytest.approx(math.sqrt(plain.mse_resid), rel=1e-9)
        edge = plain.get_prediction(np.array([[55.0]])).summary_frame(alpha=0.10).iloc[0]
        assert held.at(55.0) - held.half_width(55.0) == pytest.approx(edge["obs_ci_lower"], rel=1e-8)


sizes = st.floats(-20, 20).map(lambda v: round(v, 3))
wear = st.lists(st.tuples(st.integers(0, 400).map(lambda k: k / 4), sizes), min_size=3, max_size=12)


@given(wear, sizes, st.sampled_from([0.9, 0.95, 0.975]), st.sampled_from([0.0, 1 / 3, 1.0]))
def test_the_interval_ends_where_the_band_meets_the_level(points, level, confidence, q):
    """Fieller's closed form against its definition."""
    line = fit_line(points)
    found = line if isinstance(line, Untold) else cross_level(line, level, confidence=confidence, q=q)
    if isinstance(found, Untold):
        assert found.code in {"no-spread", "no-trend"}
        return
    assert found.early <= found.x <= found.late
    for end in (found.early, found.late):
        reach = line.half_width(end, confidence=confidence, q=q)
        assert abs(line.at(end) - level) == pytest.approx(reach, rel=1e-5, abs=1e-6)


def test_the_interval_by_root_finding():
    """scipy.optimize.brentq on the band of a line held at a point."""
    line = fit_line(EXAMPLE[1:], origin=(0.0, 12.0))
    found = cross_level(line, 9.0)
    early = optimize.brentq(lambda x: line.at(x) - line.half_width(x) - 9.0, 0.0, found.x)
    late = optimize.brentq(lambda x: line.at(x) + line.half_width(x) - 9.0, found.x, 100.0)
    assert [found.early, found.late] == pytest.approx([early, late], rel=1e-9)


def test_first_order_error_of_the_crossing():
    """se = (s/|b|) sqrt(q + 1/n + d²/Sxx), by hand for the worked example: n 6, Sxx 70, d 16.428571."""
    found = cross_level(fit_line(EXAMPLE), 9.0)
    by_hand = 0.04472135955 / 0.14 * math.sqrt(1 + 1 / 6 + 16.4285714286**2 / 70)
    assert found.se == pytest.approx(by_hand, rel=1e-9)


def test_several_new_readings_share_the_scatter():
    """Pooled variance with m readings: by hand from SSE + SS of the readings on df + m - 1 (from memory)."""
    line = fit_line(points_of("calib_thermostat", "temp_x", "read_y"))
    readings = [103.9, 104.1, 104.0]
    found = read_back(line, readings)
    pooled = math.sqrt((6 * line.s**2 + 0.02) / 8)
    by_hand = cross_level(line, 104.0, confidence=0.975, q=1 / 3, s=pooled, df=8)
    assert [found.x, found.early, found.late] == pytest.approx([by_hand.x, by_hand.early, by_hand.late], rel=1e-9)
    assert found.early > read_back(line, [104.0]).early


@pytest.mark.parametrize(
    ("points", "origin", "code"),
    [
        ([], None, "few-points"),
        ([(0, 1)], None, "few-points"),
        ([(0, 1), (1, 2)], None, "few-points"),
        ([(1, 2)], (0, 0), "few-points"),
        ([(3, 1), (3, 2), (3, 3)], None, "no-spread"),
        ([(0, 1), (0, 2)], (0, 0), "no-spread"),
        ([(1e-200, 1), (2e-200, 2), (3e-200, 3)], None, "no-spread"),
        ([(0, 1), (1, math.nan), (2, 3)], None, "figure-missing"),
        ([(0, 1), (math.inf, 2), (2, 3)], None, "figure-missing"),
        ([(0, 1), (1, None), (2, 3)], None, "figure-missing"),
        ([(0, 1), (1, 2)], (math.nan, 0), "figure-missing"),
        ([(0, 1e10), (1, 2), (2, 3)], None, "figure-missing"),
    ],
)
def test_no_line_and_why(points, origin, code):
    found = fit_line(points, origin)
    assert found == Untold(code)
    assert found.sentence == CAUSES[code]


def test_the_least_that_makes_a_line():
    assert fit_line([(0, 1), (1, 2), (2, 4)]).df == 1
    assert fit_line([(1, 2), (2, 4.5)], origin=(0, 0)).df == 1
    assert fit_line([(5, 2), (5, 2.5)], origin=(0, 0)).slope == pytest.approx(0.45)


def test_no_crossing_and_why():
    line = fit_line([(0, 12.0), (2, 11.6), (4, 12.1), (6, 11.7)])
    assert cross_level(line, 9.0) == Untold("no-trend")
    level = fit_line([(0, 5.0), (1, 5.0), (2, 5.0)])
    assert cross_level(level, 4.0) == Untold("no-trend")
    assert fieller_g(level, 0.0, 2.0) == math.inf
    good = fit_line(EXAMPLE)
    assert cross_level(good, math.nan) == Untold("figure-missing")
    assert cross_level(good, 9.0, s=math.nan) == Untold("figure-missing")
    assert cross_level(good, 9.0, s=-0.1) == Untold("scatter-impossible")
    assert cross_level(good, 9.0, q=-0.1) == Untold("scatter-impossible")
    assert read_back(good, []) == Untold("few-points")
    assert read_back(good, [9.0, math.nan]) == Untold("figure-missing")


def test_g_of_one_has_no_interval():
    """At g = 1 the band is parallel to the level: no end of the interval exists; just below there is one."""
    line = fit_line(EXAMPLE)
    t = student(0.95, line.df)
    edge = abs(line.slope) * math.sqrt(line.sxx) / t
    assert cross_level(line, 9.0, s=edge * (1 + 1e-9)) == Untold("no-trend")
    assert cross_level(line, 9.0, s=edge * 0.999).g == pytest.approx(0.998001, rel=1e-9)


def test_exact_points_have_an_interval_of_no_width():
    found = cross_level(fit_line([(0, 4.0), (1, 3.0), (2, 2.0)]), 0.0)
    assert (found.x, found.early, found.late, found.g, found.se) == (4.0, 4.0, 4.0, 0.0, 0.0)


def test_student():
    """scipy.stats.t and the printed table (from memory)."""
    for df, factor in {1: 6.3138, 2: 2.9200, 3: 2.3534, 4: 2.1318, 5: 2.0150, 8: 1.8595, 20: 1.7247}.items():
        assert student(0.95, df) == pytest.approx(factor, abs=6e-5)
        assert student(0.975, df) == pytest.approx(stats.t.ppf(0.975, df), rel=1e-9)
    assert student(0.5, 3) == pytest.approx(0.0, abs=1e-12)
    for confidence, df in ((0.4999, 3), (1.0, 3), (0.95, 0), (0.95, -1), (math.nan, 3)):
        with pytest.raises(ValueError, match="confidence"):
            student(confidence, df)


def test_what_can_be_computed_with():
    assert usable(LARGEST)
    assert usable(-LARGEST)
    assert not usable(math.nextafter(LARGEST, math.inf))
    assert not usable(-math.inf)
    assert no_spread([0.0, 0.0])
    assert not no_spread([1e-3, 0.0])
    assert not no_spread([1.0, 1.0 + 1e-11])
    assert no_spread([-1.0, -1.0 - 1e-13])


def test_sentences_are_whole():
    for sentence in (*STATUS_SENTENCES.values(), *NOTE_SENTENCES.values(), *CAUSES.values()):
        assert sentence[0].isupper()
        assert sentence[-1] in ".?"
    with pytest.raises(KeyError, match="nothing-of-the-kind"):
        Untold("nothing-of-the-kind")
