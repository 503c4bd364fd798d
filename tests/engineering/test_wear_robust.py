"""Median line and wild readings against Sen's example, scipy and statsmodels."""

import doctest
import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from engineering import wear_robust
from engineering.wear_robust import MOST, MedianLine, Wild, furthest, median_line
from engineering.wear_words import Untold
from tests.engineering.tables import column

OUTLIER = [(0, 12.0), (2, 11.7), (4, 11.5), (6, 9.9), (8, 10.9), (10, 10.6)]


def test_examples():
    assert doctest.testmod(wear_robust).attempted
    assert not doctest.testmod(wear_robust).failed


def test_example_of_sen():
    """Sen (1968) as in scipy's own tests (READ): slope 4, intercept 4, 93 % interval 3.71 to 4.38."""
    points = list(zip(column("theil_sen_sen1968", "x"), column("theil_sen_sen1968", "y"), strict=True))
    found = median_line(points, confidence=0.965)
    assert (found.slope, found.intercept) == (4.0, 4.0)
    assert found.low == pytest.approx(26 / 7, rel=1e-12)
    assert found.high == 4.375
    assert found.reaches(44.0) == 10.0


def test_against_scipy():
    """scipy.stats.theilslopes, with ties in x and y."""
    rng = np.random.default_rng(11)
    for n in (2, 3, 5, 6, 9, 24, 60):
        for decimals in (0, 1, 6):
            x = np.round(rng.uniform(0, 20, n), decimals)
            y = np.round(12 - 0.15 * x + rng.normal(0, 0.4, n), decimals)
            found = median_line(list(zip(x.tolist(), y.tolist(), strict=True)), confidence=0.95)
            if len(set(x.tolist())) == 1:
                assert found == Untold("no-spread")
                continue
            theirs = stats.theilslopes(y, x, 0.90)
            assert [found.slope, found.intercept] == pytest.approx([theirs.slope, theirs.intercept], rel=1e-12)
            assert [found.low, found.high] == pytest.approx([theirs.low_slope, theirs.high_slope], rel=1e-12)


def test_pairs_of_equal_x_narrow_the_ranks():
    """Three ties of two: sigma² = (6 5 17 - 3 2 1 9)/18 = 25.3, not 28.3, which at 96 % is another rank (scipy)."""
    x, y = [0, 0, 1, 1, 2, 2], [1.0, 2.5, 2.1, 4.7, 4.0, 8.3]
    found, theirs = median_line(list(zip(x, y, strict=True)), confidence=0.96), stats.theilslopes(y, x, 0.92)
    assert [found.low, found.high] == pytest.approx([theirs.low_slope, theirs.high_slope], rel=1e-12)
    assert found.low == pytest.approx(-0.4)  # the second of the slopes; the first is -0.7


def test_many_readings_at_one_place_by_scipy():
    """Ten at each of three places, sizes in halves: ties of both, at every confidence that moves a rank."""
    rng = np.random.default_rng(8)
    x = np.repeat([0.0, 1.0, 2.0], 10)
    y = np.round(2 * (12 - x + rng.normal(0, 1, 30))) / 2
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    fine = list(zip(x.tolist(), (y + rng.normal(0, 0.01, 30)).tolist(), strict=True))
    for readings in (points, fine):
        for confidence in np.linspace(0.76, 0.99, 47):  # below, scipy takes 40 % for 60 %
            found = median_line(readings, confidence=confidence)
            theirs = stats.theilslopes([p[1] for p in readings], x, 2 * confidence - 1)
            assert [found.low, found.high] == pytest.approx([theirs.low_slope, theirs.high_slope], rel=1e-12)


def test_one_wild_reading_does_not_move_it():
    """Our table of cases (DERIVED): slope -0.14, 9.0 mm at 20.714."""
    found = median_line(OUTLIER)
    assert found.slope == pytest.approx(-0.14)
    assert found.reaches(9.0) == pytest.approx(20.714, abs=5e-4)


def test_no_median_line_and_why():
    assert median_line([]) == Untold("few-points")
    assert median_line([(0, 1)]) == Untold("few-points")
    assert median_line([(0, 1), (1, 3)]).slope == 2.0
    assert median_line([(2, 1), (2, 3)]) == Untold("no-spread")
    assert median_line([(0, 1), (math.nan, 3)]) == Untold("figure-missing")
    assert median_line([(0, 1), (1, None)]) == Untold("figure-missing")
    assert median_line([(k, 0.0) for k in range(MOST + 1)]) == Untold("few-points")
    for confidence in (0.5, 1.0, math.nan):
        with pytest.raises(ValueError, match=r"^0\.5 < confidence < 1$"):
            median_line([(0, 1), (1, 3)], confidence=confidence)


def test_a_level_line_reaches_nothing():
    found = median_line([(k, 5.0) for k in range(8)])
    assert found == MedianLine(0.0, 5.0, 0.0, 0.0)
    assert found.reaches(4.0) is None


def test_studentised_residual():
    """Our table of cases (DERIVED): -33.2; all of them against statsmodels' influence."""
    found = furthest(OUTLIER)
    assert found.index == 3
    assert found.residual == pytest.approx(-33.2, abs=0.05)
    rng = np.random.default_rng(3)
    for n in (4, 5, 12):
        x, y = rng.uniform(0, 20, n), rng.normal(0, 1, n)
        theirs = sm.OLS(y, sm.add_constant(x)).fit().get_influence().resid_studentized_external
        found = furthest(list(zip(x.tolist(), y.tolist(), strict=True)))
        assert found.index == int(np.argmax(np.abs(theirs)))
        assert found.residual == pytest.approx(theirs[found.index], rel=1e-8)


def test_the_gauge_is_the_least_scatter():
    """-33.2 comes of a scatter of 0.0447 without the reading; a gauge of twice that halves it (by hand)."""
    plain, floored = furthest(OUTLIER), furthest(OUTLIER, floor=0.2)
    others = [p for i, p in enumerate(OUTLIER) if i != 3]
    s = wear_robust.fit_line(others).s
    assert floored.residual == pytest.approx(plain.residual * s / 0.2)
    assert furthest(OUTLIER, floor=s / 2).residual == plain.residual


def test_others_on_one_line():
    points = [(k, 12 - 0.1 * k) for k in range(7)]
    assert furthest(points).residual == 0.0
    assert furthest([(k, 1e6 - 0.1 * k) for k in range(7)]).residual == 0.0  # what rounding leaves of a million
    points[3] = (3, 5.0)
    assert furthest(points) == Wild(3, -math.inf)
    assert furthest(points, floor=0.1).residual == pytest.approx(-6.7 / (0.1 * math.sqrt(1 + 1 / 6)), rel=1e-9)


def test_a_reading_alone_at_its_end_is_not_called_wild():
    assert furthest([(0, 1.0), (0, 1.1), (0, 0.9), (0, 1.05), (9, 50.0)]).index != 4


def test_the_unit_does_not_matter():
    plain = furthest(OUTLIER)
    for scale in (1e-6, 1e6):
        found = furthest([(x, scale * y) for x, y in OUTLIER])
        assert (found.index, found.residual) == (plain.index, pytest.approx(plain.residual, rel=1e-6))


def test_border_of_wild():
    assert not Wild(0, 3.5).is_wild
    assert not Wild(0, -3.5).is_wild
    assert Wild(0, 3.5000001).is_wild
    assert Wild(0, -3.5000001).is_wild


def test_no_residual_and_why():
    assert furthest([(0, 1), (1, 2), (2, 4)]) == Untold("few-points")
    assert furthest([(0, 1), (1, 2)]) == Untold("few-points")
    assert furthest([(0, 1)] * 5) == Untold("no-spread")
    assert furthest([(0, 1), (1, math.nan), (2, 1), (3, 1)]) == Untold("figure-missing")
