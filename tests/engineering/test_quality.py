"""Hints on figures: what is read from texts, the words, digits against published counts, pace by hand."""

import doctest
import math
import random
from fractions import Fraction

import pytest
from scipy import stats

from engineering import quality, quality_digits, quality_pace
from engineering.quality import (
    CLOSING,
    FACTS,
    ORDINARY,
    REASONS,
    SAME_WORDS,
    SUGGESTED,
    Hint,
    figures,
    hint,
    none,
    scale_of,
)
from engineering.quality_digits import digit_hint, evenness, last_digit
from engineering.quality_pace import pace_hint
from engineering.wear_words import Untold
from tests.engineering.tables import column

TENTH = scale_of("0.1", "mm")


@pytest.mark.parametrize("module", [quality, quality_digits, quality_pace])
def test_examples(module):
    assert doctest.testmod(module).attempted
    assert not doctest.testmod(module).failed


def test_a_hint_is_rarer_than_once_in_a_thousand():
    assert hint("run", 0.001, 9).status == "nothing"
    assert hint("run", 0.000999, 9).status == "look"
    assert hint("run", 0.001, 9).sentences == []
    assert none("digits", "few").sentences == []
    assert none("digits", "few").why_not == REASONS["few"]
    assert hint("run", 0.5, 9).why_not == ""
    assert (hint("run", 0.5, 9).n, hint("run", 0.5, 9).skipped) == (9, 0)
    with pytest.raises(KeyError):
        none("digits", "no-such-reason")


def test_every_kind_has_its_words_and_none_accuses():
    for kind in FACTS:
        assert SAME_WORDS.get(kind, kind) in ORDINARY
        assert SAME_WORDS.get(kind, kind) in SUGGESTED
    assert set(ORDINARY) == set(SUGGESTED)
    for sentence in (*FACTS.values(), *ORDINARY.values(), *SUGGESTED.values(), *REASONS.values(), CLOSING):
        assert sentence.endswith(".")
        assert not any(word in sentence.lower() for word in ("fake", "fraud", "suspicious", "invented", "cheat"))
    assert Hint("floor", "look", params=(("took", "a"), ("items", "b"), ("least", "c"))).sentences == [
        "The visit took a for b items; the manager reckons with at least c.",
        ORDINARY["pace"],
        SUGGESTED["pace"],
        "This is not a finding about a person.",
    ]


@pytest.mark.parametrize(
    ("text", "places", "digit"),
    [("66.12", 2, 2), ("12.00", 2, 0), ("12.0", 1, 0), ("12", 1, 0), ("0.29", 2, 9), ("-1.7", 1, 7)],
)
def test_last_digit_of_the_decimal_text(text, places, digit):
    """66.12, 12.00 and 12.0 as the account of the published example asks (READ); never from a binary float."""
    assert last_digit(Fraction(text), places) == digit


def test_a_figure_finer_than_the_scale_has_no_last_digit():
    assert last_digit(Fraction("66.123"), 2) is None
    assert last_digit(Fraction(1, 3), 2) is None


def test_counts_of_a_textbook():
    """80 weights (READ, total DERIVED): two contributions 6.125 and 1.125, critical 16.919, 23.5, p 0.00517."""
    counts = [int(count) for count in column("terminal_digits", "students")]
    found = evenness(counts)
    assert ((15 - 8) ** 2 / 8, (5 - 8) ** 2 / 8) == (6.125, 1.125)
    assert (found.chi2, found.df) == (23.5, 9)
    assert found.p == pytest.approx(0.00517, abs=5e-6)
    assert evenness([1] * 10) == quality_digits.Evenness(0.0, 9, 1.0)
    assert stats.chi2.sf(16.919, 9) == pytest.approx(0.05, abs=5e-6)


def test_counts_of_a_retracted_experiment():
    """3235 weights (READ): 584.98 from the decimal texts; the printed 539.67 comes of binary floats."""
    texts = [int(count) for count in column("terminal_digits", "decoy_text")]
    floats = [int(count) for count in column("terminal_digits", "decoy_floor")]
    assert evenness(texts).chi2 == pytest.approx(584.98, abs=5e-3)
    assert evenness(floats).chi2 == pytest.approx(539.67, abs=5e-3)


def test_evenness_by_scipy():
    for counts in ([3, 4], [10, 0, 5], [7, 7, 7, 9]):
        theirs = stats.chisquare(counts)
        found = evenness(counts)
        assert [found.chi2, found.p] == pytest.approx([theirs.statistic, theirs.pvalue], rel=1e-12)
    single = evenness([1, 0])  # (1/2)²/(1/2) twice
    assert (single.chi2, single.df, single.p) == (1.0, 1, pytest.approx(stats.chi2.sf(1.0, 1)))
    assert evenness([5]) == Untold("few-points")
    assert evenness([0, 0]) == Untold("few-points")
    assert evenness([3, -1]) == Untold("figure-missing")


def test_scales():
    assert (TENTH.step, TENTH.places, TENTH.in_last_digit) == (Fraction(1, 10), 1, 1)
    assert (scale_of("0.02", "mm").in_last_digit, scale_of("0.25", "mm").in_last_digit) == (2, 25)
    assert (scale_of(" 1 ", "mm").places, scale_of("10", "mm").in_last_digit) == (0, 10)
    assert scale_of("1000", "mm").step == 1000
    assert scale_of("0.000001", "mm").places == 6
    for wrong in (None, "", "x", "0", "-0.1", "nan", "inf", "1001", "0.0000001", "1e-9"):
        assert scale_of(wrong, "mm") is None
    assert TENTH.written(Fraction("11.5")) == "11.5 mm"
    assert TENTH.written(Fraction(12)) == "12.0 mm"


def test_only_plain_figures_of_the_scale_are_read():
    values, skipped = figures(["11.8", "11,7", "11.6 mm", "12", "1,234", "0.5 in", "11.75", "", None, "x"], TENTH)
    assert values == [Fraction("11.8"), Fraction("11.7"), Fraction("11.6"), Fraction(12)]
    assert skipped == 6
    assert figures(["-0.3", "-0.35"], TENTH) == ([Fraction("-0.3")], 1)


def part(n, low=8.0, high=12.0, rng=None, round_to=None):
    rng = rng or random.Random(4)
    values = [rng.uniform(low, high) for _ in range(n)]
    return [f"{round(v / round_to) * round_to if round_to else v:.1f}" for v in values]


def test_honest_digits_give_no_hint():
    found = digit_hint([part(150)], "0.1")
    assert (found.status, found.n, found.skipped, found.kind) == ("nothing", 150, 0, "digits")
    assert found.p > 0.01


def test_readings_to_the_nearest_half_give_one():
    found = digit_hint([part(150, round_to=0.5), ["?"]], "0.1")
    assert (found.status, found.n, found.skipped) == ("look", 150, 1)
    counts = [0] * 10
    for text in part(150, round_to=0.5):
        counts[int(text[-1])] += 1
    assert found.p == pytest.approx(stats.chisquare(counts).pvalue)
    most = max(counts)
    assert found.sentences[0] == (
        f"Of 150 readings with this gauge (0.1 mm steps) {most} end in {counts.index(most)}; about 15 would be usual."
    )
    assert found.sentences[-1] == CLOSING


def test_digits_of_few_readings():
    """Under a hundred (ten of each ending), and so under fifty, nothing is looked for."""
    for n, reason in ((99, "few"), (49, "few"), (0, "few"), (100, None)):
        assert digit_hint([part(n, round_to=0.5)], "0.1").reason == reason


def test_digits_of_close_readings():
    """Standard deviation under five last digits within a part, whatever lies between the parts."""
    close = [f"{11.0 + 0.1 * (k % 17):.1f}" for k in range(170)]  # sd 4.91 steps
    assert digit_hint([close], "0.1").reason == "narrow"
    wide = [f"{11.0 + 0.1 * (k % 18):.1f}" for k in range(180)]  # sd 5.20 steps
    assert digit_hint([wide], "0.1").reason is None
    assert digit_hint([["9.0"] * 60, ["12.0"] * 60], "0.1").reason == "narrow"
    assert digit_hint([[text] for text in part(150)], "0.1").reason == "narrow"
    assert digit_hint([part(150), []], "0.1").reason is None


def test_five_last_digits_of_spread_are_enough():
    """Three readings half a millimetre apart: squares 0.5 on two degrees of freedom, deviation 0.5 mm or five steps."""
    parts = [[f"{middle / 10 + off:.1f}" for off in (-0.5, 0.0, 0.5)] for middle in range(90, 124)]
    assert digit_hint(parts, "0.1").reason is None
    # One part with two readings is enough to know a spread: 4 mm / sqrt 2.
    assert digit_hint([["8.0", "12.0"], *([f"{9 + k / 10:.1f}"] for k in range(98))], "0.1").reason is None


def test_the_spread_counts_in_last_digits_of_the_scale():
    """Ten figures 0.02 mm apart: deviation 0.057 mm, which is 5.7 of a hundredth."""
    assert digit_hint([[f"{9 + 0.02 * (k % 10):.2f}" for k in range(50)]], "0.02", coarse_scale=True).reason is None
    assert digit_hint([[f"{9 + 0.02 * (k % 8):.2f}" for k in range(50)]], "0.02", coarse_scale=True).reason == "narrow"


def test_digits_of_a_coarse_scale():
    """A scale of halves has two endings only, one of 0.02 five."""
    fives = part(150, round_to=0.5)
    assert digit_hint([fives], "0.5").reason == "scale"
    assert digit_hint([fives], "0.5", coarse_scale=True).status == "nothing"
    tens = [text for text in fives if text.endswith("0")]
    assert len(tens) > 20
    found = digit_hint([tens], "0.5", coarse_scale=True)
    assert found.status == "look"
    assert found.p == pytest.approx(stats.chi2.sf(len(tens), 1))
    assert digit_hint([fives], "10", coarse_scale=True).reason == "scale"
    fine = [f"{9 + 0.02 * k:.2f}" for k in range(49)]
    assert digit_hint([fine], "0.02", coarse_scale=True).reason == "few"
    found = digit_hint([[*fine, "10.00"]], "0.02", coarse_scale=True)
    assert (found.status, found.n) == ("nothing", 50)
    assert digit_hint([fives], None).reason == "gauge"
    # Steps of 0.04 end in five digits (0, 4, 8, 2, 6), so that fifty readings are asked for.
    fours = [f"{9 + 0.04 * k:.2f}" for k in range(50)]
    assert digit_hint([fours[:49]], "0.04", coarse_scale=True).reason == "few"
    assert (digit_hint([fours], "0.04", coarse_scale=True).status, digit_hint([fours], "0.04").reason) == (
        "nothing",
        "scale",
    )


def test_a_flat_list_is_an_error_of_the_program():
    with pytest.raises(TypeError, match=r"^one list of texts for each part$"):
        digit_hint(["11.5", "11.6"], "0.1")


USUAL = [540.0] * 10 + [600.0] * 10 + [960.0] * 10


def test_a_visit_far_quicker_than_usual():
    """Median of ln 600; median deviation of ln(600/540) = 0.10536; bound 600 exp(-3 x 1.4826 x 0.10536) = 375.5 s."""
    bound = 600 * math.exp(-3 * 1.4826 * math.log(600 / 540))
    assert bound == pytest.approx(375.5, abs=0.1)
    look = pace_hint(375.0, USUAL, 14)
    assert (look.status, look.n, look.p) == ("look", 30, None)
    assert look.sentences == [
        "The visit took 6 min 15 s for 14 items; this line usually takes 9 min 0 s to 16 min 0 s.",
        ORDINARY["pace"],
        SUGGESTED["pace"],
        CLOSING,
    ]
    assert pace_hint(376.0, USUAL, 14).status == "nothing"
    assert pace_hint(1e6, USUAL, 14).status == "nothing"


def test_the_managers_least_time_comes_first():
    found = pace_hint(59.0, [], 14, least_s=60.0)
    assert (found.kind, found.status) == ("floor", "look")
    assert found.sentences[0] == "The visit took 0 min 59 s for 14 items; the manager reckons with at least 1 min 0 s."
    assert pace_hint(60.0, [], 14, least_s=60.0).reason == "few-visits"
    assert pace_hint(60.0, [], 14, least_s=math.nan).reason == "few-visits"


def test_when_pace_says_nothing():
    for seconds in (None, 0.0, -5.0, math.nan, math.inf):
        assert pace_hint(seconds, USUAL, 14).reason == "no-time"
    assert pace_hint(10.0, USUAL[:19], 14).reason == "few-visits"
    assert pace_hint(10.0, [*USUAL[:19], None, 0.0, -1.0, math.nan], 14).reason == "few-visits"
    assert pace_hint(10.0, USUAL[:20], 14).reason is None
    assert pace_hint(10.0, [600.0] * 30, 14).reason == "same-time"


def test_a_visit_of_half_a_second_is_a_time_too():
    assert pace_hint(0.5, USUAL, 14).status == "look"
    assert pace_hint(10.0, [*USUAL[:19], 0.5], 14).n == 20


def test_what_is_usual_leaves_out_a_tenth_on_each_side():
    """Twenty visits of 600, 610 ... 790 s: two left out at each end leave 620 to 770 s."""
    found = pace_hint(60.0, [600.0 + 10 * k for k in range(20)], 14)
    assert found.sentences[0].endswith("usually takes 10 min 20 s to 12 min 50 s.")


def test_only_the_last_sixty_visits_count():
    old, new = [10.0 + k for k in range(60)], [600.0 + 20 * (k % 10) for k in range(60)]
    assert pace_hint(300.0, [*old, *new], 14).status == "look"
    assert pace_hint(300.0, [*new, *old], 14).status == "nothing"
    assert pace_hint(300.0, [*old, *new], 14).n == 60
