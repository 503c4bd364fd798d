"""Bounds from few events, spares and replacement by age: published figures, and the laws themselves by scipy."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, optimize, stats
from statsmodels.stats.proportion import proportion_confint

from engineering.reliability_bounds import LOWER, UPPER, clopper_pearson, mean_life, wilson
from engineering.reliability_spares import demand, replacement_age, spares

NAN, INF = math.nan, math.inf


def test_published_bounds_of_mean_life():
    """7 failures in 19,520 h, 80 % two-sided; 6 in 10,000, 80 % one-sided (READ, documentation of a planner; 1e-9)."""
    assert mean_life(19_520, 7, 0.80, both_sides=True).low == pytest.approx(1658.3248534993454, rel=1e-9)
    assert mean_life(10_000, 6, 0.80).low == pytest.approx(1101.8815940201118, rel=1e-9)


def test_mean_life_by_poisson():
    """At the lower bound so few failures, or fewer, have the remaining chance; at the upper so many or more."""
    found = mean_life(1000.0, 3, 0.90, both_sides=True)
    assert found.estimate == pytest.approx(1000 / 3)
    assert stats.poisson.cdf(3, 1000 / found.low) == pytest.approx(0.05)
    assert stats.poisson.sf(2, 1000 / found.high) == pytest.approx(0.05)
    one = mean_life(1000.0, 3, 0.90)
    assert stats.poisson.cdf(3, 1000 / one.low) == pytest.approx(0.10)
    assert one.high is None
    ended = mean_life(1000.0, 3, 0.90, by_failure=True)
    assert ended.low == pytest.approx(2000 / stats.chi2.ppf(0.90, 6))


def test_mean_life_without_a_failure():
    """The rule of three (from memory): T / 3.0 at 95 %."""
    found = mean_life(3000.0, 0)
    assert found.low == pytest.approx(3000 / -math.log(0.05), rel=1e-12)
    assert (found.estimate, found.high) == (None, None)
    assert mean_life(3000.0, 0, both_sides=True).high is None
    assert mean_life(3000.0, 0, by_failure=True).code == "no-failure"


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ((0.0, 1), "setting-impossible"),
        ((INF, 1), "setting-impossible"),
        ((NAN, 1), "setting-impossible"),
        ((10.0, -1), "setting-impossible"),
        ((10.0, 1.5), "setting-impossible"),
        ((10.0, 1, 0.0), "level-impossible"),
        ((10.0, 1, 1.0), "level-impossible"),
    ],
)
def test_mean_life_of_what_cannot_be(arguments, code):
    assert mean_life(*arguments).code == code


def test_published_shares():
    """e-Handbook 7.2.4.1: 4 in 20 at 90 % exactly, 26 in 200 by Wilson, one-sided at 95 % (READ)."""
    low, high = clopper_pearson(4, 20, 0.90)
    assert low == pytest.approx(0.071354, abs=1e-6)
    assert high == pytest.approx(0.401029, abs=2e-6)
    assert wilson(26, 200, 0.95, LOWER) == (pytest.approx(0.09577, abs=5e-6), 1.0)


@pytest.mark.parametrize(
    ("found", "size", "level", "low", "high"),
    [
        (3, 20, 0.95, 0.0321, 0.3789),
        (12, 30, 0.90, 0.2495, 0.5661),
        (42, 100, 0.95, 0.3220, 0.5229),
        (85, 120, 0.99, 0.5904, 0.8092),
    ],
)
def test_table_of_exact_intervals(found, size, level, low, high):
    """READ codingace.net/statistics/clopper_pearson_interval.html, example table; and by the binomial."""
    lower, upper = clopper_pearson(found, size, level)
    assert stats.binom.sf(found - 1, size, lower) == pytest.approx((1 - level) / 2)
    assert stats.binom.cdf(found, size, upper) == pytest.approx((1 - level) / 2)
    assert (lower, upper) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 400), st.data(), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_shares_against_statsmodels(size, data, level):

    found = data.draw(st.integers(0, size))
    assert clopper_pearson(found, size, level) == pytest.approx(
        proportion_confint(found, size, 1 - level, "beta"), abs=1e-9
    )
    assert wilson(found, size, level) == pytest.approx(proportion_confint(found, size, 1 - level, "wilson"), abs=1e-9)


def test_one_sided_shares():
    assert clopper_pearson(0, 52, 0.95, UPPER) == (0.0, pytest.approx(1 - 0.05 ** (1 / 52)))
    assert clopper_pearson(52, 52, 0.95, LOWER) == (pytest.approx(0.05 ** (1 / 52)), 1.0)
    assert clopper_pearson(0, 5) == (0.0, pytest.approx(1 - 0.025**0.2))
    assert clopper_pearson(5, 5)[1] == 1.0
    assert clopper_pearson(2, 5, 0.9, LOWER)[0] == clopper_pearson(2, 5, 0.8)[0]
    assert clopper_pearson(2, 5, 0.9, LOWER)[1] == 1.0
    assert clopper_pearson(2, 5, 0.9, UPPER) == (0.0, clopper_pearson(2, 5, 0.8)[1])
    assert wilson(0, 9)[0] == 0.0
    assert wilson(9, 9)[1] == 1.0
    assert wilson(2, 9, 0.95, UPPER) == (0.0, pytest.approx(wilson(2, 9, 0.90)[1]))


@pytest.mark.parametrize("interval", [clopper_pearson, wilson])
def test_shares_of_what_cannot_be(interval):
    assert interval(0, 0).code == "setting-impossible"
    assert interval(1, 2.5).code == "setting-impossible"
    assert interval(-1, 5).code == "count-impossible"
    assert interval(6, 5).code == "count-impossible"
    assert interval(1.5, 5).code == "count-impossible"
    assert interval(1, 5, 1.0).code == "level-impossible"
    assert interval(1, 5, 0.0).code == "level-impossible"
    with pytest.raises(ValueError, match="not a side"):
        interval(1, 5, 0.9, "left")


# --- spares


@pytest.mark.parametrize(
    ("mean", "stocks"),
    [
        (0.1, (0, 1, 1)),
        (0.2, (1, 1, 2)),
        (0.5, (1, 2, 3)),
        (1.0, (2, 3, 4)),
        (2.0, (4, 5, 6)),
        (3.0, (5, 6, 8)),
        (5.0, (8, 9, 11)),
        (8.0, (12, 13, 15)),
    ],
)
def test_table_of_spares(mean, stocks):
    """At 90, 95 and 99 % (DERIVED with scipy's Poisson law; no published table was found)."""
    assert tuple(spares(mean, level).stock for level in (0.90, 0.95, 0.99)) == stocks
    for level in (0.90, 0.95, 0.99):
        assert spares(mean, level).stock == stats.poisson.ppf(level, mean)


def test_spares_of_the_textbook():
    """Barlow 1981: three kinds, 0.002 per hour, 1300, 1500 and 1200 h, assurance 0.90 (READ; answer DERIVED: 12)."""
    mean = sum(demand(1, hours, 500.0) for hours in (1300, 1500, 1200))
    assert mean == pytest.approx(8.0)
    found = spares(mean, 0.90)
    assert (found.stock, found.assurance) == (12, pytest.approx(0.9362, abs=5e-5))


@given(st.floats(1e-3, 5e4), st.floats(0.01, 0.999))
def test_stock_is_the_smallest_that_suffices(mean, level):
    found = spares(mean, level)
    assert found.assurance == pytest.approx(stats.poisson.cdf(found.stock, mean), abs=1e-9)
    assert found.assurance >= level
    if found.stock:
        assert stats.poisson.cdf(found.stock - 1, mean) < level + 1e-9


def test_spares_of_what_cannot_be():
    assert (spares(0.0, 0.99).stock, spares(0.0, 0.99).assurance) == (0, 1.0)
    assert spares(-0.1, 0.9).code == "setting-impossible"
    assert spares(NAN, 0.9).code == "setting-impossible"
    assert spares(INF, 0.9).code == "setting-impossible"
    assert spares(1e6, 0.9).stock > 1e6
    assert spares(1.1e6, 0.9).code == "demand-large"
    assert spares(1.0, 1.0).code == "level-impossible"
    assert spares(1.0, 0.0).code == "level-impossible"
    assert demand(0, 100.0, 10.0) == 0.0
    assert demand(-1, 100.0, 10.0).code == "setting-impossible"
    assert demand(1, NAN, 10.0).code == "setting-impossible"
    assert demand(1, 100.0, 0.0).code == "setting-impossible"
    assert demand(1, 100.0, INF).code == "setting-impossible"


def test_published_age_of_replacement():
    """Cost 1 against 5, scale 1000, shape 2.5: age 493.19, cost 0.0035 (READ; printed from a grid, hence 0.2)."""
    found = replacement_age(2.5, 1000.0, 1.0, 5.0)
    assert found.age == pytest.approx(493.19, abs=0.2)
    assert found.cost == pytest.approx(0.0035, abs=5e-5)


@given(st.floats(1.3, 8), st.floats(1.5, 50))
def test_age_of_replacement_costs_least(shape, ratio):
    def cost(age):
        survive = math.exp(-(age**shape))
        lived = integrate.quad(lambda t: math.exp(-(t**shape)), 0, age)[0]
        return (survive + ratio * (1 - survive)) / lived

    found = replacement_age(shape, 1.0, 1.0, ratio)
    if hasattr(found, "code"):
        far = optimize.minimize_scalar(cost, bounds=(0.01, 5), method="bounded")
        assert far.fun > 0.99 * ratio / math.gamma(1 + 1 / shape)
        return
    assert found.cost == pytest.approx(cost(found.age), rel=1e-6)
    if found.age < 3:
        assert found.cost <= cost(0.98 * found.age) + 1e-12
        assert found.cost <= cost(1.02 * found.age) + 1e-12
    assert found.cost <= found.cost_without * (1 + 1e-9)
    assert found.cost_without == pytest.approx(ratio / math.gamma(1 + 1 / shape))


def test_replacement_that_does_not_pay():
    assert replacement_age(1.0, 1000.0, 1.0, 5.0).code == "no-best-age"
    assert replacement_age(0.7, 1000.0, 1.0, 5.0).code == "no-best-age"
    assert replacement_age(2.5, 1000.0, 5.0, 5.0).code == "no-best-age"
    assert replacement_age(1.01, 1000.0, 1.0, 1.001).code == "no-best-age"
    for wrong in ((0.0, 1.0, 1.0, 5.0), (2.0, -1.0, 1.0, 5.0), (2.0, 1.0, NAN, 5.0), (2.0, 1.0, 1.0, INF)):
        assert replacement_age(*wrong).code == "setting-impossible"
    assert replacement_age(51.0, 1.0, 1.0, 5.0).code == "setting-impossible"
    assert replacement_age(50.0, 1.0, 1.0, 5.0).age < 1.0
    scaled, plain = replacement_age(2.5, 1000.0, 1.0, 5.0), replacement_age(2.5, 1.0, 1.0, 5.0)
    assert scaled.age == pytest.approx(1000 * plain.age)
    assert scaled.cost_without == pytest.approx(plain.cost_without / 1000)


@pytest.mark.parametrize(
    ("find", "figures", "name", "value"),
    [
        (demand, (-1, 100.0, 10.0), "parts", "-1"),
        (demand, (1, INF, 10.0), "cycles", "inf"),
        (demand, (1, 100.0, 0.0), "mean life", "0"),
        (spares, (-0.1, 0.9), "demand", "-0.1"),
        (replacement_age, (0.0, 1.0, 1.0, 5.0), "shape", "0"),
        (replacement_age, (51.0, 1.0, 1.0, 5.0), "shape", "51"),
        (replacement_age, (2.0, -1.0, 1.0, 5.0), "scale", "-1"),
        (replacement_age, (2.0, 1.0, 0.0, 5.0), "planned", "0"),
        (replacement_age, (2.0, 1.0, 1.0, INF), "failed", "inf"),
    ],
)
def test_the_figure_that_cannot_be_is_named(find, figures, name, value):
    found = find(*figures)

    assert (found.code, dict(found.params)) == ("setting-impossible", {"name": name, "value": value})


def test_a_part_may_last_less_than_one_unit():
    assert demand(1, 100.0, 0.5) == 200.0


def test_a_stock_that_suffices_exactly_is_enough():
    """Asked for the very chance that a stock gives (Poisson's law), it is that stock and not one more."""
    for mean, stock in ((0.5, 0), (3.0, 2), (8.0, 12)):
        enough = spares(mean, stats.poisson.cdf(stock, mean) - 1e-9)
        assert (enough.stock, spares(mean, enough.assurance).stock) == (stock, stock)
