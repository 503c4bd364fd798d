"""Gauge, repeatability and guard band against NIST's certified values and published examples."""

import doctest
import math

import pytest

from engineering import wear_gauge
from engineering.wear_gauge import (
    GUARD_K,
    REPEAT_K,
    SENTENCES,
    Guarded,
    Jump,
    gauge_u,
    guard,
    jump,
    pooled_repeatability,
    repeatability_of_pairs,
    spread,
)
from engineering.wear_words import Untold
from tests.engineering.tables import column, rows


def test_examples():
    assert doctest.testmod(wear_gauge).attempted
    assert not doctest.testmod(wear_gauge).failed


def alternating(first, low, high, n=1001):
    return [first] + [low if k % 2 == 0 else high for k in range(n - 1)]


UNIVARIATE = {
    "lew": (column("nist_strd_univ_lew", "y"), 1e-11, 1e-11),
    "mavro": (column("nist_strd_univ_mavro", "y"), 1e-11, 1e-11),
    "numacc1": (column("nist_strd_univ_numacc1", "y"), 1e-12, 1e-12),
    "numacc3": (alternating(1000000.2, 1000000.1, 1000000.3), 1e-8, 1e-6),
}


@pytest.mark.parametrize("row", rows("nist_strd_univ_certified"), ids=lambda row: row["dataset"])
def test_mean_and_deviation_of_nist(row):
    """NIST StRD, univariate (READ second-hand): certified mean, standard deviation, lag-1 autocorrelation."""
    values, sd_tolerance, lag_tolerance = UNIVARIATE[row["dataset"]]
    found = spread(values)
    assert found.n == int(row["n"])
    assert found.mean == pytest.approx(float(row["mean"]), rel=1e-12)
    assert found.sd == pytest.approx(float(row["sd"]), rel=sd_tolerance)
    assert found.lag1 == pytest.approx(float(row["lag1"]), rel=lag_tolerance)


def test_deviation_of_figures_far_from_nought():
    """NumAcc2 and NumAcc4 by the same rule (READ second-hand); sd 0.1, lag-1 -0.999 as NumAcc3 by construction."""
    assert spread(alternating(1.2, 1.1, 1.3)).sd == pytest.approx(0.1, rel=1e-12)
    assert spread(alternating(10000000.2, 10000000.1, 10000000.3)).sd == pytest.approx(0.1, rel=2e-8)


def test_spread_of_equal_and_of_few():
    found = spread([0.1] * 10)
    assert (found.n, found.mean, found.sd) == (10, pytest.approx(0.1), 0.0)
    assert math.isnan(found.lag1)
    assert spread([0.0, 1e-200]).sd == 0.0
    assert spread([1.0, 2.0]).sd == pytest.approx(math.sqrt(0.5))
    assert spread([1.0]) == Untold("few-points")
    assert spread([]) == Untold("few-points")
    assert spread([1.0, math.nan]) == Untold("figure-missing")
    assert spread([1.0, None, 2.0]) == Untold("figure-missing")


def test_pooled_repeatability_of_the_handbook():
    """NIST e-Handbook 2.4.4.1 (READ): 12 daily deviations of 5 degrees of freedom, s1 = 0.07871."""
    pairs = list(
        zip(
            column("msa_nist_2441_repeatability", "stddev"),
            [int(df) for df in column("msa_nist_2441_repeatability", "df")],
            strict=True,
        )
    )
    found = pooled_repeatability(pairs)
    assert sum(df for _, df in pairs) == 60
    assert found == pytest.approx(0.07871, abs=5e-6)
    assert found * found * 60 == pytest.approx(0.37176, abs=5e-6)


def test_pooling_weighs_by_degrees_of_freedom():
    assert pooled_repeatability([(0.1, 1), (0.2, 3)]) == pytest.approx(math.sqrt((0.01 + 0.12) / 4))
    assert pooled_repeatability([(0.1, 1)]) == pytest.approx(0.1)
    assert pooled_repeatability([(0.0, 1), (0.5, 0)]) == 0.0
    assert pooled_repeatability([(0.1, 0)]) == Untold("few-points")
    assert pooled_repeatability([]) == Untold("few-points")
    assert pooled_repeatability([(-0.1, 2)]) == Untold("scatter-impossible")
    assert pooled_repeatability([(0.1, -1), (0.1, 3)]) == Untold("scatter-impossible")
    assert pooled_repeatability([(math.nan, 2)]) == Untold("figure-missing")


def test_repeatability_of_pairs():
    """sqrt(sum d² / 2n) is the pooled deviation of groups of two (textbook)."""
    pairs = [(11.5, 11.6), (11.2, 11.2), (10.9, 10.6)]
    deviations = [(abs(a - b) / math.sqrt(2), 1) for a, b in pairs]
    assert repeatability_of_pairs(pairs) == pytest.approx(pooled_repeatability(deviations))
    assert repeatability_of_pairs([]) == Untold("few-points")
    assert repeatability_of_pairs([(1.0, None)]) == Untold("figure-missing")


def test_uncertainty_of_a_gauge():
    """0.2887 of the resolution (JCGM 100, from memory; READ as quoted); 0.05774 with a repeatability of 0.05."""
    assert gauge_u(1.0) == pytest.approx(0.2887, abs=5e-5)
    assert gauge_u(0.1, 0.05) == pytest.approx(0.05774, abs=5e-6)
    for resolution in (None, 0.0, -0.1, math.nan, math.inf):
        assert gauge_u(resolution) == Untold("gauge-missing")
    assert gauge_u(0.1, -0.01) == Untold("scatter-impossible")
    assert gauge_u(0.1, math.nan) == Untold("figure-missing")
    assert gauge_u(0.1, None) == Untold("figure-missing")


def test_chance_to_conform():
    """JCGM 106:2012, 7.2 and 7.3 (from memory): 0.92 for the diode, 0.99 for the burst pressure."""
    diode = guard(-5.47, -5.40, 1, 0.05)
    assert diode.chance == pytest.approx(0.919, abs=5e-4)
    burst = guard(509.7, 490.0, -1, 8.6)
    assert burst.chance == pytest.approx(0.989, abs=5e-4)


def test_guard_band_of_two_u():
    """ILAC-G8 (READ second-hand): at w = 2 u less than 2.5 % are wrongly accepted; 0.0228 exactly."""
    edge = guard(10.0 + 2 * 0.5, 10.0, -1, 0.5, k=2.0)
    assert edge.zone == "clear"
    assert 1 - edge.chance == pytest.approx(0.0228, abs=5e-5)


@pytest.mark.parametrize(
    ("deviation", "zone"), [(0.0017, "clear"), (0.0025, "near"), (-0.0025, "near"), (0.003, "beyond")]
)
def test_bolt_with_a_tolerance(deviation, zone):
    """A note on ILAC-G8 (READ): tolerance 0.003 mm, U 0.0010: 0.0017 conforms, 0.0025 lies in the grey zone."""
    side = 1 if deviation > 0 else -1
    assert guard(deviation, side * 0.003, side, 0.0005, k=2.0).zone == zone


@pytest.mark.parametrize(
    ("value", "k", "zone"),
    [
        (9.0, GUARD_K, "beyond"),
        (8.99, GUARD_K, "beyond"),
        (9.0001, GUARD_K, "near"),
        (9.0949, GUARD_K, "near"),
        (9.0951, GUARD_K, "clear"),
        (9.1154, 2.0, "near"),
        (9.1156, 2.0, "clear"),
    ],
)
def test_band_before_a_falling_limit(value, k, zone):
    """DERIVED: resolution 0.1, repeatability 0.05: 9.095 at k 1.645, 9.115 at k 2."""
    found = guard(value, 9.0, -1, gauge_u(0.1, 0.05), k=k)
    assert found.zone == zone
    assert found.sentence == SENTENCES[zone]
    turned = guard(20 - value, 11.0, 1, gauge_u(0.1, 0.05), k=k)
    assert turned.zone == zone
    assert turned.chance == pytest.approx(found.chance)


def test_guard_without_a_gauge_goes_by_the_limit_alone():
    assert guard(9.01, 9.0, -1, None) == Guarded("clear", None)
    assert guard(9.0, 9.0, -1, None) == Guarded("beyond", None)
    assert guard(9.01, 9.0, -1, 0.0) == Guarded("clear", None)
    assert guard(9.01, 9.0, -1, math.nan) == Guarded("not-known", None)
    assert guard(9.01, 9.0, -1, -0.1) == Guarded("not-known", None)
    assert guard(8.9, 9.0, -1, math.nan) == Guarded("beyond", None)
    for value, limit in ((None, 9.0), (9.1, None), (math.nan, 9.0), (9.1, math.inf)):
        assert guard(value, limit, -1, 0.1) == Guarded("not-known", None)
    with pytest.raises(ValueError, match="direction"):
        guard(9.1, 9.0, 0, 0.1)


def test_a_jump_asks_for_a_second_reading():
    """Two readings of one thing differ by at most 2.77 u, 95 of 100 times (ISO 5725: 2.8 s, from memory)."""
    assert pytest.approx(2.77, abs=5e-3) == REPEAT_K
    for size, state in ((0.276, "fits"), (0.278, "measure-again")):
        for sign in (1, -1):
            found = jump(10.0 + sign * size, 10.0, 0.1)
            assert found.state == state
            assert found.change == pytest.approx(sign * size)
            assert found.explained == pytest.approx(0.2772, abs=5e-5)
            assert found.sentence == SENTENCES[state]
    assert jump(12.0, 10.0, 1.0, k=2.0).state == "fits"
    assert jump(9.7, 10.0, 0.1, expected=-0.1).state == "fits"
    assert jump(9.7, 10.0, 0.1, expected=0.1).state == "measure-again"


@pytest.mark.parametrize(
    ("value", "last", "u", "expected"),
    [
        (None, 1, 1, 0),
        (1, None, 1, 0),
        (1, 1, None, 0),
        (math.nan, 1, 1, 0),
        (1, 1, 0, 0),
        (1, 1, -1, 0),
        (1, 1, 1, math.nan),
    ],
)
def test_nothing_is_said_of_a_jump_without_its_figures(value, last, u, expected):
    assert jump(value, last, u, expected=expected) == Jump("not-known")
