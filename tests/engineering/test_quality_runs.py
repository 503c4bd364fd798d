"""Repeats and runs against simulation worked out beforehand, exact sums and the handbook's run test."""

import doctest
import math
from statistics import stdev

import numpy as np
import pytest
from scipy import stats

from engineering import quality_runs
from engineering.quality_runs import (
    Run,
    longest_run,
    order_hint,
    repeat_chance,
    repeat_hint,
    run_chance,
    runs_about_median,
)
from engineering.wear_words import Untold
from tests.engineering.tables import column


def test_examples():
    assert doctest.testmod(quality_runs).attempted
    assert not doctest.testmod(quality_runs).failed


@pytest.mark.parametrize(("ratio", "chance"), [(0.25, 0.07), (0.5, 0.14), (1.0, 0.27), (2.0, 0.49)])
def test_chance_of_a_repeat(ratio, chance):
    """DERIVED and simulated beforehand; here also by the exact sum over steps, averaged over where the size lies."""
    found = repeat_chance(ratio, 1.0)
    assert found == pytest.approx(chance, abs=5e-3)
    places = (np.arange(200) + 0.5) / 200
    steps = np.arange(-60, 61)
    edges = (steps[:, None] - 0.5 - places) * ratio
    exact = np.mean(np.sum((stats.norm.cdf(edges + ratio) - stats.norm.cdf(edges)) ** 2, axis=0))
    assert found == pytest.approx(exact, rel=1e-9)


def test_chance_of_a_repeat_on_a_fine_scale():
    """step / (2 sqrt(pi) scatter) for fine steps."""
    for ratio in (1e-6, 1.4e-4, 1.5e-4, 1e-2):
        assert repeat_chance(ratio, 1.0) == pytest.approx(ratio / (2 * math.sqrt(math.pi)), rel=1e-4)
    assert repeat_chance(0.05, 0.1) == pytest.approx(repeat_chance(0.5, 1.0))
    assert repeat_chance(1e-5, 0.5) == pytest.approx(2e-5 / (2 * math.sqrt(math.pi)), rel=1e-9)
    for step, scatter in ((0.0, 1.0), (1.0, 0.0), (-1.0, 1.0), (math.nan, 1.0), (1.0, math.inf)):
        assert repeat_chance(step, scatter) == Untold("gauge-missing")
        assert run_chance(3, 9, step, scatter) == Untold("gauge-missing")


@pytest.mark.parametrize(("length", "bound", "simulated"), [(4, 0.107, 0.081), (5, 0.018, 0.014), (6, 0.0032, 0.0020)])
def test_bound_of_a_run(length, bound, simulated):
    """DERIVED for 30 readings at step/scatter 0.5, with 20,000 simulated runs made beforehand."""
    found = run_chance(length, 30, 0.5, 1.0)
    assert found == pytest.approx(bound, rel=0.03)
    assert found > simulated


@pytest.mark.slow
def test_bound_of_a_run_by_simulation():
    """The bound is never below what honest readings do, by three standard errors."""
    rng = np.random.default_rng(1)
    draws = 40_000
    for ratio in (0.25, 0.5, 1.0):
        sizes = rng.uniform(0, ratio, (draws, 1)) + rng.normal(0, 1, (draws, 30))
        read = np.round(sizes / ratio)
        same = np.concatenate([np.zeros((draws, 1), bool), read[:, 1:] == read[:, :-1]], axis=1)
        longest, current = np.ones(draws, int), np.ones(draws, int)
        for column_ in range(1, 30):
            current = np.where(same[:, column_], current + 1, 1)
            longest = np.maximum(longest, current)
        for length in (4, 5, 6, 7):
            share = np.mean(longest >= length)
            error = math.sqrt(max(share, 1 / draws) / draws)
            assert run_chance(length, 30, ratio, 1.0) > share - 3 * error


def test_edges_of_the_bound():
    assert run_chance(1, 30, 0.5, 1.0) == 1.0
    assert run_chance(31, 30, 0.5, 1.0) == 0.0
    assert 0.0 < run_chance(30, 30, 0.5, 1.0) < 1e-15
    assert run_chance(5, 30, 3.0, 1.0) == 1.0
    assert run_chance(2, 2, 3.0, 1.0) == 1.0  # a step over 2.5 scatters: no bound but the whole
    assert run_chance(1, 1, 0.5, 1.0) == 1.0
    assert run_chance(0, 30, 0.5, 1.0) == Untold("few-points")
    assert run_chance(1, 0, 0.5, 1.0) == Untold("few-points")


@pytest.mark.parametrize(
    ("values", "length"),
    [([1] * 10 + [0, 1] * 5, 10), ([1] * 20, 20), ([1, 0] * 10, 1), ([1] * 10 + [0] * 10, 10), ([], 0)],
)
def test_longest_string_of_equal_answers(values, length):
    """Test vectors of R's careless (READ), and none."""
    assert longest_run(values).length == length


def test_the_last_of_equally_long_runs():
    assert longest_run([1, 1, 2, 2, 3]) == Run(2, 2)
    assert longest_run([5, 5, 5, 1]) == Run(3, 0)
    assert longest_run([]) == Run(0, 0)


def test_nine_equal_readings():
    """The wording's own case: 0.1 mm steps, usual scatter 0.2 mm, nine of 11.5 mm."""
    found = repeat_hint(["11.8", "12.1", "11.9"] + ["11.5"] * 9, "0.1", 0.2)
    assert (found.kind, found.status, found.n, found.skipped) == ("run", "look", 12, 0)
    assert found.p == pytest.approx(2 * run_chance(9, 12, 0.1, 0.2))
    assert found.sentences == [
        "9 readings in a row are all 11.5 mm. With this gauge (0.1 mm steps, usual scatter 0.2) "
        "so many equal readings in a row are rare.",
        "Ordinary reasons: the part hardly wore, the value was carried over on purpose, the gauge sticks, "
        "one place is always measured.",
        "Suggested: measure once with a second gauge and note it.",
        "This is not a finding about a person.",
    ]


def test_ten_equal_readings_of_a_coarse_gauge_are_as_they_should_be():
    assert repeat_hint(["11.5"] * 10, "0.1", 0.0999).reason == "coarse"
    assert repeat_hint(["11.5"] * 10, "0.1", 0.1001).reason is None
    assert repeat_hint(["11.5"] * 10, "0.1", 0.1001).status == "look"


def test_honest_readings_give_no_hint():
    rng = np.random.default_rng(2)
    for ratio in (0.5, 1.0):
        for _ in range(20):
            texts = [f"{v:.1f}" for v in 11.5 + rng.normal(0, 0.1 / ratio, 60)]
            found = repeat_hint(texts, "0.1", 0.1 / ratio)
            assert (found.status, found.kind, found.n) == ("nothing", "run", 60)


def test_readings_that_never_repeat_are_as_likely_as_can_be():
    found = repeat_hint([f"{11 + 0.1 * k:.1f}" for k in range(30)], "0.1", 0.2)
    assert (found.status, found.p) == ("nothing", 1.0)


def test_pairs_that_repeat_without_a_long_run():
    """Each figure twice: every other pair equal; binomial by scipy, doubled for two halves and for two questions."""
    texts = [f"{11 + 0.1 * (k * 7 % 10):.1f}" for k in range(10) for _ in range(2)]
    found = repeat_hint(texts, "0.1", 0.2)
    chance = repeat_chance(0.1, 0.2)
    assert (found.kind, found.status) == ("repeats", "look")
    assert found.p == pytest.approx(4 * stats.binom.sf(9, 10, chance), rel=1e-9)
    assert found.sentences[0] == (
        "Of 19 readings 10 equal the one before; with this gauge (0.1 mm steps, usual scatter 0.2) "
        f"about {chance * 19:.1f} would be usual."
    )
    shifted = repeat_hint(["9.0", *texts], "0.1", 0.2)
    assert shifted.kind == "repeats"
    assert shifted.p == pytest.approx(found.p)


def test_when_repeats_say_nothing():
    assert repeat_hint(["11.5"] * 5, "0.1", 0.2).reason == "few"
    assert repeat_hint(["11.5"] * 5 + ["x"], "0.1", 0.2).skipped == 1
    assert repeat_hint(["11.5"] * 6, "0.1", 0.2).reason is None
    for step, scatter in ((None, 0.2), ("0.1", None), ("0.1", 0.0), ("0.1", -1.0), ("0.1", math.nan)):
        assert repeat_hint(["11.5"] * 9, step, scatter).reason == "gauge"
    assert repeat_hint([], "0.1", 0.2).reason == "few"


def test_run_test_of_the_handbook():
    """e-Handbook 1.3.5.13, Lew's data (READ second-hand): 120 runs, 101 expected, Z 2.6938, p 0.0070646."""
    found = runs_about_median(column("nist_strd_univ_lew", "y"))
    assert (found.runs, found.above, found.below, found.expected) == (120, 100, 100, 101.0)
    assert found.z == pytest.approx(2.6938, abs=5e-5)
    assert found.p == pytest.approx(0.0070646, abs=5e-7)


def test_runs_leave_out_the_median():
    found = runs_about_median([1, 1, 5, 9, 9, 5, 9, 1, 5])
    assert (found.runs, found.above, found.below) == (3, 3, 3)
    lopsided = runs_about_median([1, 5, 5, 5, 9, 9])
    assert (lopsided.runs, lopsided.above, lopsided.below) == (2, 2, 1)
    assert runs_about_median([]) == Untold("few-points")
    assert runs_about_median([1.0]) == Untold("few-points")
    assert runs_about_median([1.0, 2.0]) == Untold("few-points")
    assert runs_about_median([3.0] * 9) == Untold("few-points")
    assert runs_about_median([3.0, 3.0, 3.0, 9.0, 9.0]) == Untold("few-points")
    assert runs_about_median([1.0, math.nan]) == Untold("figure-missing")


def test_order_of_residuals():
    alternating = [(-1.0) ** k for k in range(40)]
    found = order_hint(alternating, 0.1)
    assert (found.kind, found.status) == ("alternating", "look")
    assert found.sentences[0] == "The readings change sides of their middle 39 times; about 20 times would be usual."
    halves = [1.0] * 20 + [-1.0] * 20
    found = order_hint(halves, 0.1)
    assert (found.kind, found.status) == ("smooth", "look")
    assert found.sentences[0] == (
        "The readings change sides of their middle only 1 times; about 20 times would be usual."
    )
    assert order_hint(np.random.default_rng(6).normal(0, 1, 60).tolist(), 0.1).status == "nothing"


def test_more_runs_than_usual_alternate_and_fewer_hang_together():
    """However few more: either side of what is expected is held against its own chance."""
    kinds = set()
    for seed in range(12):
        residuals = np.random.default_rng(seed).normal(0, 1, 60).tolist()
        counted, found = runs_about_median(residuals), order_hint(residuals, 0.1)
        assert (found.kind, found.n) == ("alternating" if counted.runs > counted.expected else "smooth", 60)
        assert found.p == pytest.approx(2 * stats.norm.sf(abs(counted.z)))
        kinds |= {(found.kind, abs(counted.z) < 1)}
    assert len(kinds) == 4  # both sides, near and far


def test_when_order_says_nothing():
    alternating = [(-1.0) ** k for k in range(40)]
    for step in (None, 0.0, -0.1, math.nan):
        assert order_hint(alternating, step).reason == "gauge"
    for few in ([], [1.0], alternating[:19]):
        assert order_hint(few, 0.1).reason == "few"
    assert order_hint(alternating[:20], 0.1).reason is None
    assert order_hint(alternating, stdev(alternating)).reason is None
    assert order_hint([*alternating[:30], math.nan], 0.1).reason == "few"
    assert order_hint(alternating, 1.02).reason == "coarse"
    assert order_hint(alternating, 1.01).reason is None
    lopsided = [0.0] * 15 + [1.0] * 9 + [-1.0] * 16
    assert order_hint(lopsided, 0.1).reason == "few"
