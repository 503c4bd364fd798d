"""Samples for the auditor: published plans and curves, the exact discovery table, and a draw that can be repeated."""

import math
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engineering.reliability_plans import acceptance, acceptance_of_lot, smallest_plan
from engineering.reliability_sample import discovery_size, draw, most_bad
from tests.engineering.tables import rows

DAYS = [f"2026-05-{day:02d} line {line}" for day in range(1, 29) for line in range(1, 5)]


@pytest.mark.parametrize("row", rows("discovery_sampling_derived"), ids=lambda row: f"{row['N']} {row['pct_bad']}")
def test_discovery_table(row):
    """DERIVED with scipy.stats.hypergeom and whole numbers; and the definition again by the hypergeometric law."""
    lot, bad = int(row["N"]), int(row["D"])
    for confidence, expected in ((0.95, int(row["n_95"])), (0.99, int(row["n_99"]))):
        assert discovery_size(lot, bad, confidence) == expected
        assert stats.hypergeom.pmf(0, lot, bad, expected) <= 1 - confidence + 1e-12
        assert stats.hypergeom.pmf(0, lot, bad, expected - 1) > 1 - confidence - 1e-12


@given(st.integers(1, 300), st.data(), st.sampled_from([0.5, 0.8, 0.9, 0.95, 0.99]))
def test_discovery_by_definition(lot, data, confidence):
    bad = data.draw(st.integers(1, lot))
    size = discovery_size(lot, bad, confidence)

    def missed(n):
        return math.comb(lot - bad, n) / math.comb(lot, n)

    assert missed(size) <= 1 - confidence + 1e-12
    assert missed(size - 1) > 1 - confidence - 1e-12


def test_the_level_is_taken_as_it_is_written():
    """One bad of twenty: the chance to miss it with 19 is 1/20, exactly what 0.95 leaves; in binary it would not be."""
    assert discovery_size(20, 1, 0.95) == 19
    assert discovery_size(10, 1, 0.9) == 9
    assert discovery_size(1000, 1, 0.999) == 999


def test_discovery_of_large_lots_and_edges():
    """150,000 entries, one bad: 95 % of them; half bad: five."""
    assert discovery_size(150_000, 1) == 142_500
    assert discovery_size(150_000, 75_000) == 5
    assert discovery_size(150_000, 150_000) == 1
    assert discovery_size(1, 1) == 1
    assert discovery_size(0, 0).code == "lot-empty"
    assert discovery_size(10, 0).code == "count-impossible"
    assert discovery_size(10, 11).code == "count-impossible"
    assert discovery_size(10, -1).code == "count-impossible"
    assert discovery_size(10, 1, 1.0).code == "level-impossible"
    assert discovery_size(10, 1, 0.0).code == "level-impossible"


@given(st.integers(1, 120), st.data(), st.sampled_from([0.8, 0.9, 0.95]))
def test_most_bad_by_the_hypergeometric_law(lot, data, confidence):
    size = data.draw(st.integers(1, lot))
    found = data.draw(st.integers(0, size))
    bound = most_bad(lot, size, found, confidence)
    assert found <= bound <= lot - size + found
    assert bound == found or stats.hypergeom.cdf(found, lot, bound, size) > 1 - confidence - 1e-12
    if bound < lot - size + found:
        assert stats.hypergeom.cdf(found, lot, bound + 1, size) <= 1 - confidence + 1e-12


@given(st.integers(2, 200), st.data())
def test_discovery_and_bound_agree(lot, data):
    """A sample that would have shown D bad ones and shows none leaves fewer than D."""
    bad = data.draw(st.integers(1, lot))
    size = discovery_size(lot, bad)
    assert most_bad(lot, size, 0) < bad
    if size > 1:
        assert most_bad(lot, size - 1, 0) >= bad


def test_most_bad_of_everything_is_the_fact():
    assert [most_bad(30, 30, found) for found in (0, 3, 30)] == [0, 3, 30]
    assert most_bad(30, 29, 0) == 0  # 1/30 is less than the 1/20 that 95 % leaves
    assert most_bad(20, 19, 0) == 0
    assert most_bad(19, 18, 0) == 1
    assert most_bad(30, 0, 0).code == "sample-large"
    assert most_bad(30, 31, 0).code == "sample-large"
    assert most_bad(30, 5, 6).code == "count-impossible"
    assert most_bad(30, 5, -1).code == "count-impossible"
    assert most_bad(30, 5, 31).code == "count-impossible"
    assert most_bad(0, 0, 0).code == "lot-empty"
    assert most_bad(30, 5, 0, 1.0).code == "level-impossible"


# --- the draw


def test_draw_by_another_program():
    """sha256sum of the coreutils, as the docstring tells anyone to repeat it."""
    seed = "chosen by the auditor"
    ranks = {}
    for entry in DAYS[:12]:
        out = subprocess.run(["sha256sum"], input=f"{seed}\n{entry}".encode(), capture_output=True, check=True).stdout
        ranks[entry] = out.split()[0]
    found = draw(DAYS[:12], 5, seed)
    assert list(found.keys) == sorted(DAYS[:12], key=ranks.__getitem__)[:5]
    listed = subprocess.run(["sha256sum"], input=("\n".join(sorted(DAYS[:12])) + "\n").encode(), capture_output=True)
    assert found.list_sha256.encode() == listed.stdout.split()[0]
    assert (found.seed, found.lot) == (seed, 12)


@given(st.permutations(DAYS[:20]), st.integers(1, 20))
def test_order_of_the_list_does_not_matter(order, size):
    assert draw(order, size, "seed") == draw(DAYS[:20], size, "seed")


def test_a_larger_sample_contains_the_smaller():
    whole = draw(DAYS, len(DAYS), "seed").keys
    assert sorted(whole) == sorted(DAYS)
    assert all(draw(DAYS, n, "seed").keys == whole[:n] for n in (1, 7, 30))


def test_every_entry_is_drawn_equally_often():
    """Over 2,000 seeds: chi-square of the counts below the 99.9 % quantile."""
    counts = dict.fromkeys(DAYS[:20], 0)
    for i in range(2000):
        for key in draw(DAYS[:20], 5, f"seed {i}").keys:
            counts[key] += 1
    # Without replacement the counts scatter by (1 - 5/20) less than the chi-square of independent draws.
    chi2 = sum((count - 500) ** 2 / 500 for count in counts.values()) / (1 - 5 / 20) * 19 / 20
    assert chi2 < stats.chi2.ppf(0.999, 19)
    assert chi2 > stats.chi2.ppf(0.001, 19)


@pytest.mark.parametrize(
    ("keys", "size", "seed", "code"),
    [
        ([], 1, "s", "lot-empty"),
        (["a"], 1, "", "seed-missing"),
        (["a"], 1, "  ", "seed-missing"),
        (["a"], 1, "one\ntwo", "seed-missing"),
        (["a", "a"], 1, "s", "key-twice"),
        (["a", ""], 1, "s", "key-bad"),
        (["a", "b\nc"], 1, "s", "key-bad"),
        (["a"], 0, "s", "sample-large"),
        (["a"], 2, "s", "sample-large"),
    ],
)
def test_draws_that_cannot_be(keys, size, seed, code):
    assert draw(keys, size, seed).code == code


# --- plans


def test_published_plan_for_two_risks():
    """0.95 at 5 %, 0.075 at 15 %: n 80, c 7; (20, 0) accepts 0.358 and 0.039 (READ, manual of AcceptanceSampling)."""
    found = smallest_plan(0.05, 0.95, 0.15, 0.075)
    assert (found.size, found.allowed) == (80, 7)
    assert found.accepts_good == pytest.approx(stats.binom.cdf(7, 80, 0.05))
    assert found.accepts_bad == pytest.approx(stats.binom.cdf(7, 80, 0.15))
    assert acceptance(20, 0, 0.05) == pytest.approx(0.358, abs=5e-4)
    assert acceptance(20, 0, 0.15) == pytest.approx(0.039, abs=5e-4)


def test_published_curves():
    """7 CFR 42.140(b) curve 6: n 500, c 3, 26 % at 1 %, about 99 % at 0.1 % (READ). n 50, c 2, lot 2000: about 23 %
    at 8 % (READ micquality.com)."""
    assert acceptance(500, 3, 0.01) == pytest.approx(0.26, abs=0.005)
    assert acceptance(500, 3, 0.001) == pytest.approx(0.99, abs=0.01)
    assert acceptance(50, 2, 0.08) == pytest.approx(0.226, abs=5e-4)
    assert acceptance_of_lot(2000, 160, 50, 2) == pytest.approx(0.222, abs=5e-4)


@given(st.integers(1, 200), st.data())
def test_acceptance_by_scipy(size, data):
    allowed, share = data.draw(st.integers(0, size)), data.draw(st.floats(0, 1))
    assert acceptance(size, allowed, share) == pytest.approx(stats.binom.cdf(allowed, size, share), abs=1e-12)
    lot = data.draw(st.integers(size, 300))
    bad = data.draw(st.integers(0, lot))
    expected = stats.hypergeom.cdf(allowed, lot, bad, size)
    assert acceptance_of_lot(lot, bad, size, allowed) == pytest.approx(expected, abs=1e-10)


def test_plans_that_cannot_be():
    assert smallest_plan(0.10, 0.95, 0.11, 0.01, most=50).code == "no-plan"
    assert smallest_plan(0.05, 0.95, 0.15, 0.075, most=80).size == 80
    assert smallest_plan(0.05, 0.95, 0.15, 0.075, most=79).code == "no-plan"
    assert smallest_plan(0.15, 0.95, 0.15, 0.075).code == "setting-impossible"
    for at in range(4):
        for wrong in (0.0, 1.0, math.nan):
            asked = [0.05, 0.95, 0.15, 0.075]
            asked[at] = wrong
            assert smallest_plan(*asked).code == "setting-impossible"
    assert acceptance(0, 0, 0.1).code == "count-impossible"
    assert acceptance(5, 6, 0.1).code == "count-impossible"
    assert acceptance(5, -1, 0.1).code == "count-impossible"
    assert acceptance(5, 1, 1.1).code == "setting-impossible"
    assert acceptance(5, 1, math.nan).code == "setting-impossible"
    assert acceptance(5, 0, 0.0) == 1.0
    assert acceptance(5, 4, 1.0) == 0.0
    assert acceptance_of_lot(10, 11, 5, 1).code == "count-impossible"
    assert acceptance_of_lot(10, 1, 11, 1).code == "sample-large"
    assert acceptance_of_lot(10, 1, 0, 0).code == "sample-large"
    assert acceptance_of_lot(10, 1, 5, 6).code == "count-impossible"
    assert acceptance_of_lot(10, 1, 5, 5) == 1.0
    assert acceptance_of_lot(10, 10, 5, 4) == 0.0
