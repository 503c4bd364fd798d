"""Lives of parts: Weibull and Kaplan-Meier against published fits and lifelines; bounds, spares, replacement by age."""

import doctest
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter, WeibullFitter
from scipy import integrate, optimize, stats

from engineering import (
    reliability_bounds,
    reliability_plans,
    reliability_sample,
    reliability_spares,
    reliability_survival,
    reliability_weibull,
    reliability_words,
)
from engineering.reliability_bounds import LOWER, UPPER, clopper_pearson, mean_life, wilson
from engineering.reliability_spares import demand, replacement_age, spares
from engineering.reliability_survival import kaplan_meier, outlived_by
from engineering.reliability_weibull import weibull, weibull_plot
from engineering.reliability_words import SENTENCES, note
from tests.engineering.tables import rows

NAN, INF = math.nan, math.inf
# Remission of leukaemia, 6-MP group (Freireich 1963; data and table READ in two stored R outputs that agree).
REMISSION = ([6, 6, 6, 7, 10, 13, 16, 22, 23], [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35])


def lives(name):
    chosen = [row for row in rows("weibull_censored") if row["dataset"] == name]
    return tuple([float(row["time"]) for row in chosen if row["event"] == event] for event in ("1", "0"))


@pytest.mark.parametrize(
    "module",
    [
        reliability_bounds,
        reliability_plans,
        reliability_sample,
        reliability_spares,
        reliability_survival,
        reliability_weibull,
        reliability_words,
    ],
)
def test_examples(module):
    found = doctest.testmod(module)
    assert found.attempted
    assert not found.failed


@pytest.mark.parametrize(
    ("name", "shape", "scale", "tolerance"),
    [("nist_8413", 1.7207, 606.5280, 0.15), ("jqt1997_multicensored", 2.7540, 67.9188, 0.01)],
)
def test_published_weibull_fits(name, shape, scale, tolerance):
    """e-Handbook 8.4.1.3; Journal of Quality Technology 1997, doi 10.1080/00224065.1997.11979730 (READ second-hand)."""
    found = weibull(*lives(name))
    assert found.shape == pytest.approx(shape, abs=2e-3)
    assert found.scale == pytest.approx(scale, abs=tolerance)


def test_published_bounds_of_a_weibull_fit():
    """The same paper: 95 % Wald bounds, observed information (READ second-hand)."""
    found = weibull(*lives("jqt1997_multicensored")).bounds(by_logarithm=False)
    assert found.shape == pytest.approx((1.4977, 4.0102), rel=2e-3)
    assert found.scale == pytest.approx((53.8755, 81.9622), rel=2e-3)


@pytest.mark.parametrize("data", [lives("nist_8413"), lives("jqt1997_multicensored"), REMISSION])
def test_weibull_against_lifelines(data):
    found = weibull(*data)
    durations, events = [*data[0], *data[1]], [1] * len(data[0]) + [0] * len(data[1])
    oracle = WeibullFitter().fit(durations, events)
    assert found.shape == pytest.approx(oracle.rho_, rel=1e-4)
    assert found.scale == pytest.approx(oracle.lambda_, rel=1e-4)
    assert found.log_likelihood == pytest.approx(oracle.log_likelihood_, rel=1e-6)
    assert math.sqrt(found.covariance[0][0]) == pytest.approx(oracle.summary.loc["rho_", "se(coef)"], rel=1e-3)
    assert math.sqrt(found.covariance[1][1]) == pytest.approx(oracle.summary.loc["lambda_", "se(coef)"], rel=1e-3)
    assert found.covariance[0][1] == found.covariance[1][0]
    correlation = found.covariance[0][1] / math.sqrt(found.covariance[0][0] * found.covariance[1][1])
    order = list(oracle.variance_matrix_.columns)
    other = oracle.variance_matrix_.to_numpy()[order.index("rho_"), order.index("lambda_")]
    assert correlation * math.sqrt(found.covariance[0][0] * found.covariance[1][1]) == pytest.approx(other, rel=1e-3)
    for life in (durations[0], 2.0 * durations[-1]):
        assert found.share_failed(life) == pytest.approx(1 - oracle.survival_function_at_times(life).iloc[0], abs=1e-4)
    assert found.life(0.1) == pytest.approx(oracle.percentile(0.9), rel=1e-4)
    assert (found.failed, found.running) == (len(data[0]), len(data[1]))


def test_bounds_about_the_logarithm():
    found = weibull(*lives("nist_8413"))
    z = stats.norm.ppf(0.95)
    shape_se = math.sqrt(found.covariance[0][0])
    bounds = found.bounds(0.90)
    assert bounds.shape[1] == pytest.approx(found.shape * math.exp(z * shape_se / found.shape))
    assert bounds.shape[0] * bounds.shape[1] == pytest.approx(found.shape**2)
    assert bounds.scale[0] * bounds.scale[1] == pytest.approx(found.scale**2)
    assert bounds.scale[1] == pytest.approx(found.scale * math.exp(z * math.sqrt(found.covariance[1][1]) / found.scale))
    for level in (0.0, 1.0, NAN):
        assert found.bounds(level).code == "level-impossible"


def test_lives_and_shares_are_inverse():
    found = weibull(*lives("nist_8413"))
    assert found.share_failed(found.scale) == pytest.approx(1 - math.exp(-1))
    assert found.share_failed(found.life(0.37)) == pytest.approx(0.37)
    assert found.share_failed(0.0) == found.share_failed(-1.0) == 0.0
    assert found.share_failed(INF) == 1.0
    for share in (0.0, 1.0, NAN):
        assert found.life(share).code == "setting-impossible"


@given(st.floats(1e-3, 1e6))
def test_fit_does_not_depend_on_the_unit(factor):
    failed, running = lives("jqt1997_multicensored")
    one = weibull(failed, running)
    other = weibull([factor * life for life in failed], [factor * life for life in running])
    assert other.shape == pytest.approx(one.shape, rel=1e-9)
    assert other.scale == pytest.approx(factor * one.scale, rel=1e-9)


@given(st.floats(0.5, 6), st.floats(10, 1000), st.integers(0, 10**6))
def test_the_fit_is_the_most_likely(shape, scale, seed):
    """No neighbouring pair is likelier, by the density itself."""
    drawn = scale * np.random.default_rng(seed).weibull(shape, 12)
    failed, running = drawn[:8].tolist(), (0.7 * drawn[8:]).tolist()
    found = weibull(failed, running)

    def likelihood(b, eta):
        up = stats.weibull_min.logpdf(failed, b, scale=eta).sum()
        return up + stats.weibull_min.logsf(running, b, scale=eta).sum()

    best = likelihood(found.shape, found.scale)
    assert found.log_likelihood == pytest.approx(best, rel=1e-9, abs=1e-9)
    for b, eta in ((0.99, 1.0), (1.01, 1.0), (1.0, 0.99), (1.0, 1.01)):
        assert likelihood(b * found.shape, eta * found.scale) < best


@pytest.mark.parametrize(
    ("failed", "running", "code"),
    [
        ([], [], "nothing-observed"),
        ([], [5.0, 7.0], "no-failure"),
        ([1.0, 2.0, 3.0, 4.0], [5.0], "too-few"),
        ([3.0] * 6, [], "no-scatter"),
        ([3.0] * 6, [1.0, 3.0], "no-scatter"),
        ([1.0, 2.0, 3.0, 4.0, 0.0], [], "time-impossible"),
        ([1.0, 2.0, 3.0, 4.0, -1.0], [], "time-impossible"),
        ([1.0, 2.0, 3.0, 4.0, 5.0], [INF], "time-impossible"),
        ([1.0, 2.0, 3.0, 4.0, NAN], [], "time-missing"),
        ([1.0, 2.0, 3.0, 4.0, None], [], "time-missing"),
    ],
)
def test_lives_that_give_no_fit(failed, running, code):
    assert weibull(failed, running).code == code
    if code.startswith(("nothing", "time")):
        assert kaplan_meier(failed, running).code == code
        assert weibull_plot(failed, running).code == code


def test_five_failures_and_two_on_demand():
    assert weibull([1.0, 2.0, 3.0, 4.0, 5.0]).failed == 5
    assert dict(weibull([1.0, 2.0, 3.0, 4.0]).params) == {"count": "4", "needed": "5"}
    assert weibull([1.0, 2.0], least=2).failed == 2
    assert weibull([1.0], least=0).code == "too-few"
    assert weibull([3.0] * 6, [4.0]).shape > 5.0  # equal lives that another part outlived have a scatter


def test_weibull_plot_of_the_handbook():
    """y = -ln(1 - F): first 0.03491627; log10 y on log10 t: 1.457519, -4.116536 (READ, output of an R script).

    The line differs from the most likely shape (1.72): a drawing, not the fit.
    """
    points = weibull_plot(*lives("nist_8413"))
    y = [-math.log(1 - share) for _, share in points]
    assert y[0] == pytest.approx(0.03491627, abs=5e-9)
    line = stats.linregress(np.log10([life for life, _ in points]), np.log10(y))
    assert line.slope == pytest.approx(1.457519, abs=5e-7)
    assert line.intercept == pytest.approx(-4.116536, abs=5e-7)


def test_ranks_adjusted_for_running_parts():
    """By hand: five parts, the second taken down sound: increments 1, 5/4, 5/4, 5/4 (textbook, from memory)."""
    points = weibull_plot([10.0, 30.0, 40.0, 50.0], [20.0])
    ranks = [share * 5.4 + 0.3 for _, share in points]
    assert ranks == pytest.approx([1.0, 2.25, 3.5, 4.75])
    assert [life for life, _ in points] == [10.0, 30.0, 40.0, 50.0]
    tied = weibull_plot([10.0], [10.0])  # the one still running has outlived the other
    assert tied[0][1] == pytest.approx(0.7 / 2.4)


# --- Kaplan and Meier


def test_published_table_of_survivors():
    """6-MP group: R's survfit as printed (READ in two stored outputs that agree)."""
    printed = [
        (6, 21, 3, 0.857, 0.0764),
        (7, 17, 1, 0.807, 0.0869),
        (10, 15, 1, 0.753, 0.0963),
        (13, 12, 1, 0.690, 0.1068),
        (16, 11, 1, 0.627, 0.1141),
        (22, 7, 1, 0.538, 0.1282),
        (23, 6, 1, 0.448, 0.1346),
    ]
    found = kaplan_meier(*REMISSION)
    assert [(step.life, step.at_risk, step.failed) for step in found] == [row[:3] for row in printed]
    assert [step.share for step in found] == pytest.approx([row[3] for row in printed], abs=5e-4)
    assert [step.error for step in found] == pytest.approx([row[4] for row in printed], abs=5e-5)
    assert outlived_by(found) == 23
    assert outlived_by(found, 0.4) is None


@pytest.mark.parametrize("confidence", [0.90, 0.95])
@pytest.mark.parametrize("data", [lives("nist_8413"), lives("jqt1997_multicensored"), REMISSION])
def test_kaplan_meier_against_lifelines(data, confidence):
    durations, events = [*data[0], *data[1]], [1] * len(data[0]) + [0] * len(data[1])
    oracle = KaplanMeierFitter(alpha=1 - confidence).fit(durations, events)
    found = kaplan_meier(*data, confidence=confidence)
    assert len(found) == len(set(data[0]))
    for step in found:
        assert step.share == pytest.approx(oracle.predict(step.life), abs=1e-9)
        low, high = oracle.confidence_interval_.loc[step.life]
        assert step.low == pytest.approx(low, abs=1e-9)
        assert step.high == pytest.approx(high, abs=1e-9)
        assert step.at_risk == oracle.event_table.loc[step.life, "at_risk"]
        assert step.failed == oracle.event_table.loc[step.life, "observed"]


def test_the_last_part_fails():
    first, last = kaplan_meier([3.0, 5.0])
    assert (first.share, first.at_risk) == (0.5, 2)
    assert (last.share, last.error, last.low, last.high) == (0.0, None, None, None)
    assert outlived_by([first, last]) == 3.0
    (only,) = kaplan_meier([2.0, 2.0])
    assert (only.share, only.failed) == (0.0, 2)
    assert kaplan_meier([], [1.0, 2.0]).code == "no-failure"
    assert kaplan_meier([2.0, 2.0], [2.0])[0].share == pytest.approx(1 / 3)
    for level in (0.0, 1.0, NAN):
        assert kaplan_meier([1.0], confidence=level).code == "level-impossible"


@given(st.lists(st.integers(1, 30), min_size=1, max_size=30), st.lists(st.integers(1, 30), max_size=30))
def test_survivors_only_become_fewer(failed, running):
    found = kaplan_meier([float(life) for life in failed], [float(life) for life in running])
    shares = [1.0, *(step.share for step in found)]
    assert shares == sorted(shares, reverse=True)
    assert sum(step.failed for step in found) == len(failed)
    exact = Fraction(1)
    for step in found:
        exact *= 1 - Fraction(step.failed, step.at_risk)
        assert step.share == pytest.approx(float(exact))
        if step.low is not None:
            assert 0.0 <= step.low < step.share < step.high <= 1.0


# --- bounds


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
    from statsmodels.stats.proportion import proportion_confint

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


def test_every_sentence_is_whole():
    for code, sentence in SENTENCES.items():
        assert sentence[0].isupper() or sentence[0] == "%", code
        assert sentence.endswith("."), code
        assert " safe" not in sentence
    with pytest.raises(KeyError):
        note("no-such-code")
    with pytest.raises(KeyError):
        note("too-few")
