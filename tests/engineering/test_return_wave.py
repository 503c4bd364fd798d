"""Tension and sag from a stopwatch: the bulletin's formula, the string's theory, and what a hand can time."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engineering.line import G_MPS2, Cable, Line
from engineering.parabola import horizontal_weight, sag_of_tension
from engineering.refusal import Refusal
from engineering.return_wave import (
    STUDENT,
    sag_of_return,
    stopwatch_sag,
    stopwatch_tension,
    tension_of_return,
    time_of_returns,
)
from tests.engineering.mechanics_cases import cases

LINE = Line(300.0, 18.0, Cable(1.05, 10e6), None)
WEAK = Line(300.0, 18.0, Cable(1.05, 10e6, breaking_force_n=14e3), None)
INCH_PER_FOOT = 12


@pytest.mark.parametrize(("name", "inputs", "expect", "tolerance"), cases("C4"))
def test_sag_by_the_bulletin(name, inputs, expect, tolerance):
    found = sag_of_return(inputs["T_s"], inputs["N"], 32.2)
    assert found * INCH_PER_FOOT == pytest.approx(expect["sag_in"], abs=tolerance)
    assert sag_of_return(inputs["T_s"], inputs["N"]) / 0.0254 == pytest.approx(expect["sag_in"], rel=1.5e-3)


@given(st.floats(20, 1500), st.floats(-0.05, 0.15), st.floats(0.2, 3), st.floats(1e3, 1e5), st.integers(1, 12))
def test_string_theory_and_sag_agree(span, slope, mass, tension, returns):
    """Wave speed sqrt(T/m) over the chord there and back (textbook), and the sag of the parabola, inclined too."""
    drop, secant = slope * span, math.hypot(1, slope)
    time = returns * 2 * span * secant / math.sqrt(tension * secant / mass)

    assert time_of_returns(tension, returns, mass, span, drop) == pytest.approx(time, rel=1e-12)
    assert tension_of_return(time, returns, mass, span, drop) == pytest.approx(tension, rel=1e-12)
    weight = horizontal_weight(mass * G_MPS2, span, drop)
    assert sag_of_return(time, returns) == pytest.approx(sag_of_tension(weight, span, tension), rel=1e-12)


def test_reference_line():
    """One return 5.02 s, three 15.07 s, sag 7.74 m; 0.15 s on three returns is 2 % of tension (COMPUTED)."""
    assert time_of_returns(15e3, 1, 1.05, 300.0, 18.0) == pytest.approx(5.02, abs=0.005)
    time = time_of_returns(15e3, 3, 1.05, 300.0, 18.0)
    assert time == pytest.approx(15.07, abs=0.005)

    found = stopwatch_tension(LINE, [time], 3)

    assert found.tension_n == pytest.approx(15e3)
    assert found.tension_half_n / found.tension_n == pytest.approx(0.0199, abs=1e-4)
    assert found.sag_m == pytest.approx(7.74, abs=0.005)
    assert found.sag_half_m / found.sag_m == pytest.approx(0.0199, abs=1e-4)
    assert found.mean_tension_n == pytest.approx(15e3 * math.hypot(1, 0.06))
    assert (found.time_s, found.time_half_s, found.suspect_returns) == (time, 0.15, 0)


def test_what_is_not_exact_adds_up_in_squares():
    """Guide to the expression of uncertainty: independent relative parts, with their powers (from memory)."""
    time = time_of_returns(15e3, 3, 1.05, 300.0, 18.0)
    found = stopwatch_tension(LINE, [time], 3, mass_share=0.03, span_half_m=1.5)
    expected = math.sqrt((2 * 0.15 / time) ** 2 + 0.03**2 + (2 * 1.5 / 300) ** 2)
    assert found.tension_half_n / found.tension_n == pytest.approx(expected, rel=1e-12)
    assert found.sag_half_m / found.sag_m == pytest.approx(2 * 0.15 / time)  # the sag needs neither


def test_repeats_add_their_scatter_and_never_narrow_below_the_hand():
    steady = stopwatch_tension(LINE, [15.0, 15.0, 15.0], 3)
    assert steady.time_half_s == 0.15
    spread = stopwatch_tension(LINE, [14.9, 15.0, 15.1], 3)
    by_scipy = stats.t.ppf(0.975, 2) * 0.1 / math.sqrt(3)
    assert spread.time_half_s == pytest.approx(math.hypot(0.15, by_scipy), rel=1e-3)
    assert spread.time_s == pytest.approx(15.0)
    pair = stopwatch_tension(LINE, [15.0, 15.02], 3)
    assert pair.time_half_s == pytest.approx(math.hypot(0.15, 12.706 * 0.01), rel=1e-3)
    many = stopwatch_tension(LINE, [14.99, 15.01] * 10, 3)
    assert many.time_half_s > 0.15


def test_table_of_student():
    """scipy.stats.t, two-sided 95 %."""
    for degrees, factor in enumerate(STUDENT, start=1):
        assert factor == pytest.approx(stats.t.ppf(0.975, degrees), abs=6e-4)


def test_more_returns_are_surer():
    few, many = (
        stopwatch_tension(LINE, [time_of_returns(15e3, n, 1.05, 300.0, 18.0)], n).tension_half_n for n in (2, 6)
    )
    assert many == pytest.approx(few / 3)


@pytest.mark.parametrize(("counted", "really"), [(4, 3), (3, 4), (2, 3), (5, 4)])
def test_miscounted_returns_are_suspected(counted, really):
    line = replace(LINE, tension_n=15e3)
    found = stopwatch_tension(line, [time_of_returns(15e3, really, 1.05, 300.0, 18.0)], counted)
    assert found.suspect_returns == really


def test_a_slack_cable_is_not_called_a_miscount():
    line = replace(LINE, tension_n=15e3)
    time = time_of_returns(15e3 * 0.8, 3, 1.05, 300.0, 18.0)  # a fifth slacker: no other count fits
    assert stopwatch_tension(line, [time], 3).suspect_returns == 0
    assert stopwatch_tension(replace(LINE, tension_n=float("nan")), [time], 3).suspect_returns == 0


def test_short_time_tells_how_many_returns_to_count():
    short = Line(60.0, 5.0, Cable(0.7, 6e6), None)
    one = time_of_returns(3e3, 1, 0.7, 60.0, 5.0)
    found = stopwatch_tension(short, [one], 1)
    assert found.code == "time-short"
    needed = int(dict(found.params)["returns"])
    assert needed == math.ceil(2 * 0.15 / 0.10 / one)
    assert not isinstance(stopwatch_tension(short, [needed * one], needed), Refusal)
    assert stopwatch_tension(short, [(needed - 1) * one], needed - 1).code == "time-short"


def test_suspicion_begins_beyond_twice_the_uncertainty():
    """Twenty returns counted as 21 make the tension 10.25 % too high; own bound: twice the half-width."""
    line = replace(LINE, tension_n=15e3)
    time = time_of_returns(15e3, 20, 1.05, 300.0, 18.0)
    assert stopwatch_tension(line, [time], 21, hand_s=0.0505 * time / 2).suspect_returns == 20
    assert stopwatch_tension(line, [time], 21, hand_s=0.0520 * time / 2).suspect_returns == 0
    far = replace(LINE, tension_n=10e3)  # half as taut again: two of three returns would be off by a third
    assert stopwatch_tension(far, [time * 3 / 20], 3).suspect_returns == 0
    assert stopwatch_tension(replace(LINE, tension_n=math.inf), [time], 20).suspect_returns == 0
    assert stopwatch_tension(replace(LINE, tension_n=-15e3), [time], 20).suspect_returns == 0


def test_reasons_name_their_figures():
    assert stopwatch_tension(LINE, [15.0], 3, hand_s=2.0).sentence.endswith("count at least 8 returns.")
    quick = stopwatch_tension(LINE, [6 * math.sqrt(32 * 0.0075 * 300 / G_MPS2)], 6).sentence
    assert quick == "A sag of 0.75 % of the span, under 1 %, would follow: count whole returns only."
    slow = stopwatch_tension(LINE, [6 * math.sqrt(32 * 0.0625 * 300 / G_MPS2)], 6).sentence
    assert slow == "A sag of 6.25 % of the span, over 6 %, would follow: count again, none missed."
    assert stopwatch_tension(LINE, [13.6, 16.3], 3).sentence == "The times differ by 2.7 s; count and time again."
    assert sag_of_return(3.0) == sag_of_return(3.0, 1)
    assert tension_of_return(5.0, 1, 1.0, 300.0) == tension_of_return(5.0, 1, 1.0, 300.0, 0.0)


NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (stopwatch_tension(LINE, [], 3), "time-missing"),
        (stopwatch_tension(LINE, [None], 3), "time-missing"),
        (stopwatch_tension(LINE, [15.0, NAN], 3), "time-missing"),
        (stopwatch_tension(LINE, [0.0], 3), "time-impossible"),
        (stopwatch_tension(LINE, [-15.0], 3), "time-impossible"),
        (stopwatch_tension(LINE, [INF], 3), "time-impossible"),
        (stopwatch_tension(LINE, [15.0], 0), "returns-few"),
        (stopwatch_tension(LINE, [15.0], -1), "returns-few"),
        (stopwatch_tension(LINE, [15.0], 2.5), "returns-few"),
        (stopwatch_tension(LINE, [15.0], 51), "figure-impossible"),
        (stopwatch_tension(LINE, [13.6, 16.3], 3), "times-differ"),
        (stopwatch_tension(LINE, [9.0], 3), "wave-fast"),
        (stopwatch_tension(LINE, [24.0], 3), "wave-slow"),
        (stopwatch_tension(LINE, [15.07], 6), "wave-fast"),  # there and back counted as two
        (stopwatch_tension(WEAK, [15.0], 3), "tension-impossible"),
        (stopwatch_tension(replace(LINE, drop_m=59.06), [15.0], 3), "drop-feet"),
        (stopwatch_tension(replace(LINE, cable=Cable(None, 10e6)), [15.0], 3), "cable-mass-missing"),
        (stopwatch_tension(LINE, [15.0], 3, hand_s=-0.1), "figure-impossible"),
        (stopwatch_tension(LINE, [15.0], 3, hand_s=NAN), "figure-impossible"),
        (stopwatch_tension(LINE, [15.0], 3, hand_s=0.8), "time-short"),
        (stopwatch_tension(LINE, [15.0], 3, mass_share=-0.1), "figure-impossible"),
        (sag_of_return(3.0, 0), "returns-few"),
        (sag_of_return(0.0, 1), "figure-impossible"),
        (tension_of_return(NAN, 1, 1.0, 300.0), "figure-missing"),
        (tension_of_return(5.0, 1, 1.0, 0.0), "figure-impossible"),
        (time_of_returns(0.0, 1, 1.0, 300.0), "figure-impossible"),
    ],
)
def test_impossible_timings_are_refused_by_name(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code


def test_bounds_of_sag_and_of_times():
    """Just inside and just outside 1 and 6 % of the span, and half a return between two times. Own bounds."""
    for share, inside in ((0.0101, True), (0.0099, False), (0.0599, True), (0.0601, False)):
        time = 6 * math.sqrt(32 * share * 300 / G_MPS2)
        assert isinstance(stopwatch_tension(LINE, [time], 6), Refusal) is not inside
    assert stopwatch_tension(LINE, [13.75, 16.24], 3).code == "times-scatter"  # within half a return, too far apart
    assert stopwatch_tension(LINE, [13.75, 16.26], 3).code == "times-differ"


# A span of 150 m whose wave comes back three times in 10.6 s has a sag of 3.83 m, 2.6 %.
SHORTER = Line(150.0, 8.0, Cable(1.05, 10e6), None)


def test_several_times_are_not_refused_where_one_of_them_is_taken():
    """Three times that differ by 0.4 s widen the interval, by scipy's Student t; each alone has only the hand's."""
    times = [10.6, 10.5, 10.9]
    for one in times:
        alone = stopwatch_tension(SHORTER, [one], 3)
        assert (alone.time_half_s, alone.apart_s) == (0.15, 0.0)
    found = stopwatch_tension(SHORTER, times, 3)
    scatter = stats.t.ppf(0.975, 2) * 0.2081666 / math.sqrt(3)  # their standard deviation, by hand
    assert found.time_half_s == pytest.approx(math.hypot(0.15, scatter), rel=1e-3)
    assert found.tension_half_n / found.tension_n > 0.1
    assert found.apart_s == pytest.approx(0.4)
    assert stopwatch_sag(times, 3, span_m=150.0).apart_s == pytest.approx(0.4)


@given(st.lists(st.floats(10.45, 10.75), min_size=2, max_size=6))
def test_times_within_a_hand_never_say_that_they_differ(times):
    """0.3 s is the whole width of a hand's interval: half of it is 0.15 s."""
    found = stopwatch_sag(times, 3, span_m=150.0)
    assert not isinstance(found, Refusal)
    assert found.apart_s == 0.0


def test_times_that_scatter_the_figure_by_more_than_half_are_refused_by_what_they_are():
    """Two times: t is 12.706, so that 0.42 s apart in 10.6 s are 50.4 % of the tension and 0.41 s 49.2 %."""
    within, beyond = (stopwatch_sag([10.6 - by / 2, 10.6 + by / 2], 3, span_m=150.0) for by in (0.41, 0.42))
    assert within.sag_half_m / within.sag_m == pytest.approx(0.492, abs=1e-3)
    assert beyond.sentence == "The times differ by 0.42 s, more than a hand's; time again or count more returns."


def test_the_sag_alone_is_that_of_the_tension_and_needs_nothing_of_the_cable():
    """f = g (t/N)² / 32: USDA RUS Bulletin 1726C-115, eq. (1), READ."""
    line = Line(300.0, 18.0, Cable(1.05, 10e6), None)
    times = [15.07, 15.01, 15.12]
    whole, alone = stopwatch_tension(line, times, 3), stopwatch_sag(times, 3, span_m=300.0)

    assert not isinstance(whole, Refusal)
    assert not isinstance(alone, Refusal)
    assert (alone.sag_m, alone.sag_half_m) == (whole.sag_m, whole.sag_half_m)
    assert (alone.time_s, alone.time_half_s) == (whole.time_s, whole.time_half_s)
    assert alone.sag_m == pytest.approx(9.80665 * (sum(times) / 3 / 3) ** 2 / 32)


@pytest.mark.parametrize(
    ("times", "returns", "span", "code"),
    [
        ([], 3, 300.0, "time-missing"),
        ([0.0], 3, 300.0, "time-impossible"),
        ([15.07], 0, 300.0, "returns-few"),
        ([15.0, 18.0], 3, 300.0, "times-differ"),
        ([2.9], 3, None, "time-short"),
        ([30.0], 3, 300.0, "wave-slow"),
        ([9.0], 3, 300.0, "wave-fast"),
    ],
)
def test_times_that_cannot_be_tell_no_sag(times, returns, span, code):
    found = stopwatch_sag(times, returns, span_m=span)
    assert isinstance(found, Refusal)
    assert found.code == code
