"""Where nothing is looked for: what was asked, why not, how many readings there were, how many were no figures."""

import math

import pytest

from engineering.quality import NOT_APPLICABLE, Hint, none, scale_of
from engineering.quality_digits import digit_hint
from engineering.quality_pace import pace_hint
from engineering.quality_runs import order_hint, repeat_hint

WIDE = [f"{11 + 0.1 * (k % 18):.1f}" for k in range(180)]
SWINGING = [(-1.0) ** k for k in range(40)]


def silent(kind, reason, n=0, skipped=0):
    """What such a hint has to be, to the last field."""
    return Hint(kind, "not-applicable", n, skipped, reason, None, ())


def test_a_silence_carries_its_counts():
    assert none("digits", "few", 12, 3) == silent("digits", "few", 12, 3)
    assert none("digits", "few") == silent("digits", "few", 0, 0)
    assert NOT_APPLICABLE == "not-applicable"


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        (lambda: digit_hint([WIDE], None), silent("digits", "gauge")),
        (lambda: digit_hint([[*WIDE, "x"]], "0.5"), silent("digits", "scale", 40, 141)),
        (lambda: digit_hint([WIDE[:99], ["x", None]], "0.1"), silent("digits", "few", 99, 2)),
        (lambda: digit_hint([["9.0"] * 60, ["12.0"] * 60, ["x"]], "0.1"), silent("digits", "narrow", 120, 1)),
        (lambda: repeat_hint(["11.5"] * 9, None, 0.2), silent("run", "gauge")),
        (lambda: repeat_hint(["11.5"] * 9 + ["x"], "0.1", 0.05), silent("run", "coarse", 9, 1)),
        (lambda: repeat_hint(["11.5"] * 5 + ["x"], "0.1", 0.2), silent("run", "few", 5, 1)),
        (lambda: order_hint(SWINGING, None), silent("smooth", "gauge", 40)),
        (lambda: order_hint(SWINGING[:19], 0.1), silent("smooth", "few", 19)),
        (lambda: order_hint([1.0] * 9 + [-1.0] * 31, 0.1), silent("smooth", "few", 40)),
        (lambda: order_hint(SWINGING, 5.0), silent("smooth", "coarse", 40)),
        (lambda: pace_hint(None, [600.0] * 30, 14), silent("pace", "no-time")),
        (lambda: pace_hint(60.0, [600.0] * 19 + [None], 14), silent("pace", "few-visits", 19)),
        (lambda: pace_hint(60.0, [600.0] * 30, 14), silent("pace", "same-time", 30)),
    ],
)
def test_each_silence_says_what_and_why_and_of_how_many(found, expected):
    assert found() == expected


def test_a_hint_that_is_looked_for_carries_what_was_left_out():
    pairs = [f"{11 + 0.1 * (k * 7 % 10):.1f}" for k in range(10) for _ in range(2)]

    repeats = repeat_hint([*pairs, "x", None], "0.1", 0.2)
    assert (repeats.kind, repeats.n, repeats.skipped) == ("repeats", 20, 2)
    run = repeat_hint(["11.5"] * 9 + ["x"], "0.1", 0.2)
    assert (run.kind, run.n, run.skipped) == ("run", 9, 1)
    digits = digit_hint([WIDE, ["x", "y"]], "0.1")
    assert (digits.n, digits.skipped) == (180, 2)


def test_the_spread_that_counts_is_pooled_within_parts():
    """Two readings a part, 0.8 mm apart: standard deviation 0.8 / sqrt 2 = 0.57 mm, over five steps of 0.1 mm."""
    apart = [[f"{11 + 0.1 * (k % 10):.1f}", f"{11.8 + 0.1 * (k % 10):.1f}"] for k in range(60)]
    close = [[f"{11 + 0.1 * (k % 10):.1f}", f"{11.7 + 0.1 * (k % 10):.1f}"] for k in range(60)]

    assert digit_hint(apart, "0.1").reason is None
    assert digit_hint(close, "0.1").reason == "narrow"  # 0.7 / sqrt 2 = 0.495 mm


@pytest.mark.parametrize("step", [None, "", "  ", "x", "nan", "inf", "0", "-0.1", "1001", "0.0000009"])
def test_what_is_no_step_is_no_scale(step):
    assert scale_of(step, "mm") is None


@pytest.mark.parametrize(("step", "last", "places"), [("1000", 1000, 0), ("0.000001", 1, 6), (" 0.5 ", 5, 1)])
def test_the_finest_and_the_coarsest_step(step, last, places):
    found = scale_of(step, "mm")

    assert (found.in_last_digit, found.places, found.unit) == (last, places, "mm")


def test_no_hint_hangs_on_a_time_that_is_not_a_number():
    assert pace_hint(math.nan, [600.0 + k for k in range(30)], 14) == silent("pace", "no-time")
