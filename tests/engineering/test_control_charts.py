"""The charts against the figures that the NIST/SEMATECH e-Handbook prints, and published hand vectors."""

import doctest
import math
from itertools import accumulate

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engineering import control_charts, control_run_rules, control_words
from engineering.control_charts import MEAN_RANGE, MEDIAN_RANGE, cusum, ewma, individuals, lag_one, moving_ranges, onset
from engineering.control_run_rules import NELSON, WESTERN_ELECTRIC, run_rules
from engineering.control_words import SENTENCES, Note, note
from tests.engineering.tables import column, rows

FLOW = column("spc_nist_6322_flowrate", "flowrate")
NAN, INF = math.nan, math.inf


@pytest.mark.parametrize("module", [control_charts, control_run_rules, control_words])
def test_examples(module):
    found = doctest.testmod(module)
    assert found.attempted
    assert not found.failed


def test_individuals_of_the_handbook():
    """e-Handbook 6.3.2.2, flow rate of ten batches (READ second-hand, four copies agree; the range's limit in one)."""
    found = individuals(FLOW)
    assert found.centre == pytest.approx(50.81, abs=1e-12)
    assert found.mean_range == pytest.approx(1.8778, abs=5e-5)
    assert found.high == pytest.approx(55.8041, abs=5e-5)
    assert found.low == pytest.approx(45.8159, abs=5e-5)
    assert found.range_high == pytest.approx(6.1349, abs=3e-4)
    assert (found.signals, found.range_signals, found.floored) == ((), (), False)
    assert found.sigma == found.mean_range / 1.128
    assert found.ranges[0] is None
    assert found.ranges[1:] == pytest.approx([2.0, 2.3, 1.4, 3.5, 3.4, 1.4, 0.2, 1.2, 1.5])


def test_ewma_of_the_handbook():
    """e-Handbook 6.3.2.4: twenty figures, weight 0.3, start 50, s 2.0539 (READ second-hand, four copies agree)."""
    found = ewma(column("spc_nist_6324_ewma", "x"), centre=50.0, sigma=2.0539, weight=0.3)
    assert found.series == pytest.approx(column("spc_nist_6324_ewma", "ewma_published"), abs=0.005 + 1e-9)
    assert found.settled_high == pytest.approx(52.5884, abs=5e-5)
    assert found.settled_low == pytest.approx(47.4115, abs=1e-4)  # the page rounds the factor to 0.4201
    assert found.settled_signals == ()


def test_cusum_of_the_handbook():
    """e-Handbook 6.3.2.3: target 325, k 0.3175, h 4.1959 (READ second-hand, two transcriptions agree)."""
    name = "spc_nist_6323_cusum"
    found = cusum(column(name, "x"), target=325.0, slack=0.3175, decision=4.1959)
    for series, key in ((found.high, "s_hi_published"), (found.low, "s_lo_published"), (found.sums, "cusum_published")):
        assert series == pytest.approx(column(name, key), abs=0.0051)  # half-way ties in print
    assert found.high_signals == tuple(range(13, 20))
    assert found.low_signals == ()
    assert onset(found.high, 13) == 12


def test_hand_vectors():
    """EWMA and CUSUM by hand, 1e-12: qcc, tests test-ewma.R and test-cusum.R (READ)."""
    found = ewma([11.0, 13.0, 12.0], centre=10.0, sigma=2.0, weight=0.5, width=1.0)
    assert found.series == pytest.approx([10.5, 11.75, 11.875], abs=1e-12)
    assert [one - 10 for one in found.high] == pytest.approx([1.0, math.sqrt(1.25), math.sqrt(1.3125)], abs=1e-12)
    assert [10 - one for one in found.low] == pytest.approx([1.0, math.sqrt(1.25), math.sqrt(1.3125)], abs=1e-12)
    assert found.signals == (1, 2)
    sums = cusum([1.5, 0.5, 0.6, -1.5, -0.5, -0.8], target=0.0, slack=0.5, decision=1.0)
    assert sums.high == pytest.approx([1, 1, 1.1, 0, 0, 0], abs=1e-12)
    assert sums.low == pytest.approx([0, 0, 0, 1, 1, 1.3], abs=1e-12)
    assert (sums.high_signals, sums.low_signals) == ((2,), (5,))


@pytest.mark.parametrize("row", rows("spc_run_rules"), ids=lambda row: row["rule"])
def test_run_rules_by_published_vectors(row):
    """Seventeen vectors with the positions that signal: qcc, test-rules.R (READ)."""
    names = {
        "WE": list(WESTERN_ELECTRIC),
        "NEL": [
            "1-beyond-3",
            "9-on-one-side",
            "6-steady",
            "14-alternating",
            "2-of-3-beyond-2",
            "4-of-5-beyond-1",
            "15-within-1",
            "8-outside-1",
        ],
    }
    family = "WE" if row["rule"].startswith("WE") else "NEL"
    name = names[family][int(row["rule"].removeprefix(family).rstrip("b")) - 1]
    found = run_rules([float(x) for x in row["x"].split()], {"WE": WESTERN_ELECTRIC, "NEL": NELSON}[family])
    assert [i + 1 for i in found[name]] == [int(i) for i in row["signals_at"].split()]


def test_run_rules_edges():
    """Our own: equal and opposite points, the zone's edge, breaks."""
    assert run_rules([]) == dict.fromkeys(WESTERN_ELECTRIC, ())
    assert run_rules([2.0, 2.0, 2.0])["2-of-3-beyond-2"] == ()
    assert run_rules([1.0, 1.0, 1.0, 1.0, 1.0])["4-of-5-beyond-1"] == ()
    assert run_rules([2.1, -2.1, 2.1])["2-of-3-beyond-2"] == (2,)
    assert run_rules([2.1, 0.0, -2.1])["2-of-3-beyond-2"] == ()
    assert run_rules([2.1, 2.1, 0.0])["2-of-3-beyond-2"] == ()  # the point itself is not in the zone
    assert run_rules([0.5] * 4 + [0.0] + [0.5] * 4)["8-on-one-side"] == ()  # on the centre is on no side
    assert run_rules([0.5] * 9)["8-on-one-side"] == (7, 8)
    assert run_rules([0.5] * 9, breaks={1})["8-on-one-side"] == (8,)
    assert run_rules([0.5] * 9, breaks={2})["8-on-one-side"] == ()
    assert run_rules([2.5] * 6, breaks={3})["2-of-3-beyond-2"] == (2, 5)
    assert run_rules([1.0] * 15, NELSON)["15-within-1"] == (14,)  # one sigma is still within
    assert run_rules([1.0, -1.0] * 4, NELSON)["8-outside-1"] == ()
    assert run_rules([1.0, 2.0, 3.0, 3.0, 4.0, 5.0], NELSON)["6-steady"] == ()
    assert run_rules([6.0, 5.0, 4.0, 3.0, 3.0, 2.0], NELSON)["6-steady"] == ()
    assert run_rules([1.0, 2.0] * 6 + [2.0, 1.0], NELSON)["14-alternating"] == ()
    assert run_rules([0.0, NAN]).code == "value-missing"
    assert run_rules([None]).code == "value-missing"
    assert run_rules([-INF, 0.0])["1-beyond-3"] == (0,)


def test_signals_are_strictly_beyond():
    """Two figures at 0 and 1.128 have sigma 1 and limits 3 away; a third one just there does not signal."""
    found = individuals([0.0, 1.128, 0.0], width=0.376)
    assert found.sigma == pytest.approx(1.0)
    edge = individuals([1.0, 2.0, 1.0, 2.0], width=0.5 * 1.128)  # limits exactly at the figures
    assert edge.signals == ()
    assert individuals([1.0, 2.0, 1.0, 2.0], width=0.5 * 1.127).signals == (0, 1, 2, 3)
    assert cusum([1.5], target=0.0, slack=0.5, decision=1.0).high_signals == ()
    assert cusum([-1.5], target=0.0, slack=0.5, decision=1.0).low_signals == ()
    exact = ewma([1.0], centre=0.0, sigma=1.0, weight=1.0, width=1.0)
    assert (exact.signals, exact.settled_signals) == ((), ())
    beyond = ewma([1.0], centre=0.0, sigma=1.0, weight=1.0, width=0.999)
    assert (beyond.signals, beyond.settled_signals) == ((0,), (0,))
    early = ewma([0.8], centre=0.0, sigma=1.0, weight=0.5, width=1.0)  # 0.4: within 0.5 and within 0.577
    assert early.signals == ()
    early = ewma([1.1], centre=0.0, sigma=1.0, weight=0.5, width=1.0)  # 0.55: beyond 0.5, within 0.577
    assert (early.signals, early.settled_signals) == ((0,), ())


def test_ranges_do_not_reach_across_breaks():
    broken = individuals([1.0, 2.0, 9.0, 8.0], breaks={2})
    assert broken.ranges == (None, 1.0, None, 1.0)
    assert broken.mean_range == 1.0
    assert broken.range_signals == ()
    assert individuals([1.0, 2.0], breaks={1}).code == "baseline-short"
    jump = individuals([0.0, 0.1] * 10 + [5.0])
    assert jump.range_signals == (20,)


def test_a_range_on_its_limit_does_not_signal():
    """With one range r the mean is r and the limit 3.267 r; with k zeros beside it the mean is r / (k + 1)."""
    assert individuals([0.0, 1.0]).range_signals == ()
    assert individuals([0.0] * 3 + [1.0]).range_signals == ()  # mean 1/3, limit 1.089
    assert individuals([0.0] * 4 + [1.0]).range_signals == (4,)  # mean 1/4, limit 0.817


def test_robust_scatter_hardly_moves_with_one_wild_figure():
    """Median range / 0.954 (READ jmp.com help); the constant is sqrt(2) times the normal's upper quartile."""
    figures = [0.0, 1.0, 0.5, 1.5, 0.2, 1.1, 0.4, 0.9]
    wild = [*figures[:4], 50.0, *figures[5:]]
    assert individuals(wild, robust=True).sigma < 2 * individuals(figures, robust=True).sigma
    assert individuals(wild).sigma > 10 * individuals(figures).sigma
    assert individuals(wild, robust=True).signals == (4,)
    assert individuals([0.0, 1.0, 5.0], robust=True).centre == 1.0
    assert individuals([0.0, 1.0, 5.0], robust=True).sigma == 2.5 / 0.954
    assert pytest.approx(math.sqrt(2) * 0.6744897501960817, abs=5e-4) == MEDIAN_RANGE
    assert pytest.approx(2 / math.sqrt(math.pi), abs=5e-4) == MEAN_RANGE


def test_floor_of_the_gauge():
    assert individuals([1.0, 1.0, 1.0]).code == "no-scatter"
    equal = individuals([1.0, 1.0, 1.0], floor=0.2)
    assert (equal.sigma, equal.floored) == (0.2, True)
    assert (equal.low, equal.high) == pytest.approx((0.4, 1.6))
    assert not individuals(FLOW, floor=0.2).floored
    assert individuals(FLOW, floor=0.2) == individuals(FLOW)
    exact = individuals([0.0, 1.128], floor=1.0)
    assert not exact.floored


def test_restarts_begin_anew():
    figures = [2.0, 2.0, 2.0, 2.0]
    assert cusum(figures, target=1.0, slack=0.5, decision=9.0).high == (0.5, 1.0, 1.5, 2.0)
    fresh = cusum(figures, target=1.0, slack=0.5, decision=9.0, restarts={2})
    assert fresh.high == (0.5, 1.0, 0.5, 1.0)
    assert fresh.sums == (1.0, 2.0, 1.0, 2.0)
    assert cusum([0.0, 0.0, 0.0], target=1.0, slack=0.5, decision=9.0, restarts={2}).low == (0.5, 1.0, 0.5)
    again = ewma(figures, centre=0.0, sigma=1.0, weight=0.5, restarts={2})
    assert again.series == (1.0, 1.5, 1.0, 1.5)
    assert again.high[:2] == again.high[2:]
    assert again.high[0] < again.high[1] < again.settled_high
    assert again.low[1] == -again.high[1]


def test_onset_is_after_the_last_nought():
    assert onset([0.0, 0.3, 0.0, 0.4, 1.1], 4) == 3
    assert onset([0.4, 1.1], 1) == 0
    assert onset([0.0, 0.0], 1) == 1
    assert onset([0.0, 0.7], 1) == 1
    with pytest.raises(IndexError):
        onset([0.1], 3)


@pytest.mark.parametrize(
    ("name", "certified", "tolerance"),
    [("lew", -0.307304800605679, 1e-11), ("mavro", 0.937989183438248, 1e-11)],
)
def test_lag_one_by_certified_values(name, certified, tolerance):
    """NIST StRD univariate (READ second-hand)."""
    assert lag_one(column(f"nist_strd_univ_{name}", "y")) == pytest.approx(certified, rel=tolerance)


def test_lag_one_of_nearly_equal_figures():
    """NIST StRD NumAcc1 and NumAcc3, which a one-pass sum gets wrong (READ second-hand; NumAcc3 by its recipe)."""
    assert lag_one([10000001.0, 10000003.0, 10000002.0]) == pytest.approx(-0.5, rel=1e-12)
    assert lag_one([1000000.2] + [1000000.1, 1000000.3] * 500) == pytest.approx(-0.999, rel=1e-6)
    assert lag_one([3.0, 3.0]).code == "no-scatter"
    assert lag_one([3.0]).code == "no-scatter"
    assert lag_one([]).code == "no-rides"


@pytest.mark.parametrize(
    ("figures", "code"),
    [([], "no-rides"), ([1.0, NAN], "value-missing"), ([None, 1.0], "value-missing"), ([1.0, INF], "value-impossible")],
)
def test_figures_that_cannot_be_charted(figures, code):
    assert individuals(figures).code == code
    assert ewma(figures, centre=0.0, sigma=1.0, weight=0.2).code == code
    assert cusum(figures, target=0.0, slack=0.5, decision=5.0).code == code
    assert lag_one(figures).code == code


def test_one_figure_has_no_scatter():
    assert individuals([1.0]) == Note("baseline-short", (("count", "1"), ("needed", "2")))
    assert not isinstance(individuals([1.0, 2.0]), Note)


@pytest.mark.parametrize(
    "made",
    [
        individuals([1.0, 2.0], floor=-0.1),
        individuals([1.0, 2.0], floor=NAN),
        individuals([1.0, 2.0], floor=INF),
        individuals([1.0, 2.0], width=0.0),
        ewma([1.0], centre=NAN, sigma=1.0, weight=0.2),
        ewma([1.0], centre=0.0, sigma=0.0, weight=0.2),
        ewma([1.0], centre=0.0, sigma=1.0, weight=0.0),
        ewma([1.0], centre=0.0, sigma=1.0, weight=1.0001),
        ewma([1.0], centre=0.0, sigma=1.0, weight=0.2, width=NAN),
        cusum([1.0], target=INF, slack=0.5, decision=5.0),
        cusum([1.0], target=0.0, slack=-0.1, decision=5.0),
        cusum([1.0], target=0.0, slack=0.5, decision=0.0),
    ],
)
def test_settings_that_cannot_be(made):
    assert made.code == "setting-impossible"


def test_slack_of_nought_and_floor_of_nought_are_allowed():
    assert cusum([1.0, 1.0], target=0.0, slack=0.0, decision=5.0).high == (1.0, 2.0)
    assert not isinstance(individuals([1.0, 2.0], floor=0.0), Note)


@given(st.lists(st.floats(-100, 100), min_size=2, max_size=40), st.floats(-50, 50), st.floats(0.1, 10))
def test_charts_move_and_stretch_with_the_unit(figures, shift, scale):
    """Metres or feet, from any mark: the same mornings signal."""
    one = individuals(figures, floor=1e-3)
    other = individuals([scale * x + shift for x in figures], floor=scale * 1e-3)
    assert other.centre == pytest.approx(scale * one.centre + shift, abs=1e-6)
    assert other.sigma == pytest.approx(scale * one.sigma, rel=1e-6, abs=1e-9)


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=60), st.floats(0, 2))
def test_cusum_is_the_climb_above_the_lowest(figures, slack):
    """S_i = C_i - min(0, C_0 .. C_i) with C the plain sum of x - k: the V-mask form (textbook, from memory)."""
    plain = list(accumulate(x - slack for x in figures))
    lowest = list(accumulate([0.0, *plain], min))[1:]
    found = cusum(figures, target=0.0, slack=slack, decision=5.0)
    assert found.high == pytest.approx([c - least for c, least in zip(plain, lowest, strict=True)], abs=1e-9)
    mirrored = cusum([-x for x in figures], target=0.0, slack=slack, decision=5.0)
    assert mirrored.low == pytest.approx(found.high, abs=1e-12)
    assert mirrored.low_signals == found.high_signals


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=60), st.floats(0.05, 1))
def test_ewma_is_a_weighted_mean(figures, weight):
    """The recursion against its written-out sum."""
    n = len(figures)
    weights = weight * (1 - weight) ** np.arange(n - 1, -1, -1.0)
    found = ewma(figures, centre=1.0, sigma=1.0, weight=weight)
    assert found.series[-1] == pytest.approx(float(weights @ np.array(figures)) + (1 - weight) ** n, abs=1e-9)


def test_every_sentence_is_whole():
    for code, sentence in SENTENCES.items():
        assert sentence[0].isupper() or sentence[0] == "%", code
        assert sentence.endswith("."), code
        assert " safe" not in sentence
    with pytest.raises(KeyError):
        note("no-such-code")
    with pytest.raises(KeyError):
        note("gap")
    assert moving_ranges([]) == ()
