"""Curves that only wear, cuts and steps against scipy's documented example and the Nile's flow."""

import doctest
import math

import numpy as np
import pytest
from scipy import optimize

from engineering import wear_shape
from engineering.wear_shape import STEP_K, Step, apparent_recovery, only_wearing, split_in_two, unrecorded_step
from engineering.wear_words import Untold
from tests.engineering.tables import column


def test_examples():
    assert doctest.testmod(wear_shape).attempted
    assert not doctest.testmod(wear_shape).failed


def test_documented_isotonic_example():
    """scipy.optimize.isotonic_regression, example of its documentation (READ), 1e-8."""
    found = only_wearing([1.5, 1.0, 4.0, 6.0, 5.7, 5.0, 7.8, 9.0, 7.5, 9.5, 9.0], 1)
    third = 16.7 / 3
    assert found == pytest.approx([1.25, 1.25, 4, third, third, third, 7.8, 8.25, 8.25, 9.25, 9.25], abs=1e-8)


def test_against_scipy():
    rng = np.random.default_rng(5)
    for n in (1, 2, 7, 40):
        values = np.round(rng.normal(0, 1, n), 1)
        for direction in (1, -1):
            theirs = optimize.isotonic_regression(values, increasing=direction == 1).x
            assert only_wearing(values.tolist(), direction) == pytest.approx(theirs.tolist(), abs=1e-12)


def test_recovery():
    """A reading of 11.8 after 11.6: the curve is at their mean, 11.7."""
    assert apparent_recovery([12.0, 11.6, 11.8, 11.0], -1) == pytest.approx(0.1)
    assert apparent_recovery([0.0, 0.4, 0.2, 1.0], 1) == pytest.approx(0.1)
    assert apparent_recovery([12.0, 11.0], -1) == 0.0
    assert apparent_recovery([12.0], -1) == Untold("few-points")
    assert apparent_recovery([12.0, math.nan], -1) == Untold("figure-missing")
    assert only_wearing([], 1) == []
    assert only_wearing([math.inf], 1) == Untold("figure-missing")
    with pytest.raises(ValueError, match="direction"):
        only_wearing([1.0], 0)


def test_the_nile():
    """Flow at Aswan (READ: strucchange by way of ggchangepoint): cut after 28 years, 1898; means 1097.75, 849.9722."""
    years, flow = column("nile_changepoint", "year"), column("nile_changepoint", "volume")
    found = split_in_two(list(zip(years, flow, strict=True)), sloped=False)
    assert found.first == 28
    assert years[found.first - 1] == 1898
    assert np.mean(flow[:28]) == pytest.approx(1097.75)
    assert np.mean(flow[28:]) == pytest.approx(849.9722, abs=5e-5)
    assert found.df == 98
    assert found.sse == pytest.approx(28 * np.var(flow[:28]) + 72 * np.var(flow[28:]))


def test_two_lines():
    """SSE of the two lines by numpy.polyfit."""
    points = [(0, 10.4), (2, 10.1), (4, 9.9), (6, 12.0), (8, 11.6), (10, 11.5)]
    found = split_in_two(points, sloped=True)
    sse = sum(
        np.polyfit([x for x, _ in part], [y for _, y in part], 1, full=True)[1][0] for part in (points[:3], points[3:])
    )
    assert (found.first, found.df) == (3, 2)
    assert found.sse == pytest.approx(sse)


def test_cuts_keep_their_least():
    points = [(0, 9.0), (1, 1.0), (2, 1.0), (3, 1.0)]
    assert split_in_two(points, sloped=False).first == 1
    assert split_in_two(points, sloped=False, least=2).first == 2
    assert split_in_two(points[:3], sloped=False, least=2) == Untold("few-points")
    assert split_in_two(points[:1], sloped=False) == Untold("few-points")
    assert split_in_two([(0, math.nan), (1, 1)], sloped=False) == Untold("figure-missing")
    assert split_in_two([(1, 1.0), (1, 2.0), (1, 5.0), (1, 6.0)], sloped=True).first == 2
    with pytest.raises(ValueError, match="least"):
        split_in_two(points, sloped=True, least=0)


def test_a_step_is_wider_than_the_gauge():
    """3.5 sqrt 2 u = 0.4950 with u 0.1, either side; a reading that gets worse is none."""
    assert pytest.approx(4.9497, abs=5e-5) == STEP_K
    for gain, is_step in ((0.494, False), (0.496, True)):
        for direction in (-1, 1):
            found = unrecorded_step([(0, 10.0), (1, 10.0 - direction * gain)], direction, 0.1)
            assert (found is not None) == is_step
            assert unrecorded_step([(0, 10.0), (1, 10.0 + direction * gain)], direction, 0.1) is None
    assert found == Step(1, pytest.approx(0.496), 0)


def test_a_step_is_wider_than_the_scatter():
    noisy = [(0, 10.4), (1, 9.4), (2, 10.6), (3, 12.0), (4, 11.0), (5, 12.2)]
    assert unrecorded_step(noisy, -1, 0.01) is None
    calm = [(0, 10.4), (1, 10.3), (2, 10.2), (3, 12.0), (4, 11.9), (5, 11.8)]
    assert unrecorded_step(calm, -1, 0.01) == Step(3, pytest.approx(11.9 - 10.3), 2)


def test_one_wild_reading_is_no_step():
    for wild in (30.0, 2.0):
        points = [(k, 12 - 0.1 * k) for k in range(40)]
        points[20] = (20, wild)
        assert unrecorded_step(points, -1, 0.05) is None


def test_no_step_and_why():
    assert unrecorded_step([(0, 1.0), (1, 9.0)], -1, None) == Untold("gauge-missing")
    assert unrecorded_step([(0, 1.0), (1, 9.0)], -1, 0.0) == Untold("gauge-missing")
    assert unrecorded_step([(0, 1.0), (1, 9.0)], -1, math.nan) == Untold("gauge-missing")
    assert unrecorded_step([(0, 1.0)], -1, 0.1) == Untold("few-points")
    assert unrecorded_step([(0, 1.0), (1, math.nan)], -1, 0.1) == Untold("figure-missing")
    with pytest.raises(ValueError, match="direction"):
        unrecorded_step([], 0, 0.1)
