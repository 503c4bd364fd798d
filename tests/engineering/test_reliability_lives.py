"""Lives of parts: Weibull and Kaplan-Meier against published fits and lifelines."""

import doctest
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter, WeibullFitter
from scipy import stats

from engineering import (
    reliability_bounds,
    reliability_plans,
    reliability_sample,
    reliability_spares,
    reliability_survival,
    reliability_weibull,
    reliability_words,
)
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


def test_every_sentence_is_whole():
    for code, sentence in SENTENCES.items():
        assert sentence[0].isupper() or sentence[0] == "%", code
        assert sentence.endswith("."), code
        assert " safe" not in sentence
    with pytest.raises(KeyError):
        note("no-such-code")
    with pytest.raises(KeyError):
        note("too-few")
