"""Forecasts of wear: the cases worked out beforehand, bad input by name, and properties."""

import doctest
import math
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from engineering import wear, wear_words
from engineering.wear import FALLING, RISING, forecast
from engineering.wear_gauge import gauge_u
from tests.engineering.tables import column

LIMIT = 9.0
U = gauge_u(0.1, 0.05)
EXAMPLE = list(
    zip(column("wear_example_derived", "kcycles"), column("wear_example_derived", "thickness_mm"), strict=True)
)


def at(xs, *ys):
    return list(zip(xs, ys, strict=True))


def untold(found):
    """Say whether a forecast names no x at all at which the limit may be reached."""
    return {found.at_limit, found.early, found.late, found.median_at_limit} == {None}


def test_examples():
    assert doctest.testmod(wear).attempted
    assert not doctest.testmod(wear).failed


def test_no_points():
    found = forecast([], LIMIT, FALLING)
    assert (found.status, found.n, found.margin) == ("no-data", 0, None)
    assert untold(found)


def test_one_point():
    """Our own table of cases (DERIVED), as all that name mm and thousands of rides here."""
    found = forecast([(0, 12.0)], LIMIT, FALLING)
    assert (found.status, found.n, found.margin, found.rate) == ("margin-only", 1, 3.0, None)
    assert untold(found)


def test_two_points():
    """DERIVED: -0.05 +/- 0.0212 = 2 sqrt2 0.03 / 4."""
    found = forecast(at((0, 4), 12.0, 11.8), LIMIT, FALLING, 0.03)
    assert found.status == "two-point"
    assert found.rate == pytest.approx(-0.05)
    assert found.rate_half == pytest.approx(0.0212, abs=5e-5)
    assert found.margin == pytest.approx(2.8)
    assert untold(found)


def test_two_points_wherever_the_count_stands():
    """The rate is of the difference: the same two readings a thousand rides on."""
    found = forecast(at((1000, 1004), 12.0, 11.8), LIMIT, FALLING, 0.03)
    assert found.rate == pytest.approx(-0.05)
    assert found.rate_half == pytest.approx(0.0212, abs=5e-5)


def test_two_points_without_a_gauge_have_no_rate():
    found = forecast(at((0, 4), 12.0, 11.8), LIMIT, FALLING)
    assert (found.status, found.rate, found.rate_half, found.notes) == ("two-point", None, None, ("gauge-missing",))


def test_two_points_at_one_place():
    found = forecast(at((4, 4), 11.8, 11.7), LIMIT, FALLING)
    assert found.status == "no-spread-x"
    assert found.margin == pytest.approx(2.7)
    assert untold(found)


def test_three_points():
    """DERIVED."""
    found = forecast(at((0, 2, 4), 12.0, 11.7, 11.5), LIMIT, FALLING)
    assert found.status == "weak"
    assert found.rate == pytest.approx(-0.125)
    assert found.s_used == pytest.approx(0.040825, abs=5e-7)
    assert found.g == pytest.approx(0.531513, abs=5e-7)
    assert found.at_limit == pytest.approx(23.8667, abs=5e-5)
    assert found.early == pytest.approx(14.4693, abs=5e-5)
    assert found.late is None
    late = wear.cross_level(found.line, LIMIT).late
    assert late == pytest.approx(82.8808, abs=5e-5)
    assert found.notes == ("gauge-missing", "beyond-horizon")  # 14.5 lies past 4 + 2 x 4


def test_four_points():
    """DERIVED."""
    found = forecast(at((0, 2, 4, 6), 12.0, 11.7, 11.5, 11.1), LIMIT, FALLING)
    assert found.status == "ok"
    assert found.rate == pytest.approx(-0.145)
    assert found.s_used == pytest.approx(0.059161, abs=5e-7)
    assert found.g == pytest.approx(0.070968, abs=5e-7)
    assert found.at_limit == pytest.approx(20.7586, abs=5e-5)
    assert found.early == pytest.approx(16.8388, abs=5e-5)
    assert found.late > found.at_limit
    assert found.horizon == 18.0


def test_noisy_points():
    """DERIVED: g 86.33, no date."""
    found = forecast(at((0, 2, 4, 6), 12.0, 11.6, 12.1, 11.7), LIMIT, FALLING)
    assert found.status == "no-wear-resolved"
    assert found.g == pytest.approx(86.33, abs=5e-3)
    assert untold(found)
    assert (found.rate, found.not_before) == (None, None)
    line = found.line
    by_hand = -line.slope + 2.919986 * line.s / math.sqrt(20)
    assert found.rate_most == pytest.approx(by_hand, rel=1e-6)


def test_equal_points():
    """DERIVED: u 0.057735; at most 1.645 u / sqrt(Sxx) = 0.015017 mm a thousand rides, not before 203.8."""
    found = forecast([(x, 12.0) for x in (0, 2, 4, 6, 8)], LIMIT, FALLING, U)
    assert found.status == "no-wear-resolved"
    assert found.s_used == pytest.approx(0.057735, abs=5e-7)
    assert found.rate_most == pytest.approx(0.015017, abs=5e-7)
    assert found.not_before == pytest.approx(203.8, abs=0.05)
    assert untold(found)
    assert {"beyond-horizon", "gauge-coarse"} == set(found.notes)
    assert found.horizon == 24.0


def test_equal_points_close_to_the_limit_are_to_be_measured_now():
    found = forecast([(x, 9.01) for x in (0, 2, 4, 6, 8)], LIMIT, FALLING, U)
    assert (found.status, found.not_before) == ("no-wear-resolved", None)
    assert "early-passed" in found.notes


def test_equal_points_within_the_horizon():
    """4 + 0.2 / 0.015017 = 17.3, before 24."""
    found = forecast([(x, 9.2) for x in (0, 2, 4, 6, 8)], LIMIT, FALLING, U)
    assert found.not_before == pytest.approx(17.318, abs=2e-3)
    assert found.notes == ("gauge-coarse",)


def test_ten_equal_readings_of_an_unknown_gauge():
    found = forecast([(x, 12.0) for x in range(10)], LIMIT, FALLING)
    assert (found.status, found.rate_most, found.not_before) == ("no-gauge", None, None)
    assert untold(found)


def test_growing_slowly():
    """DERIVED: b +0.04, g 2.398."""
    found = forecast(at((0, 2, 4, 6), 12.0, 11.9, 12.1, 12.2), LIMIT, FALLING)
    assert found.status == "no-wear-resolved"
    assert found.line.slope == pytest.approx(0.04)
    assert found.g == pytest.approx(2.398, abs=5e-4)
    assert untold(found)


def test_growing_for_sure():
    found = forecast(at((0, 2, 4, 6), 12.0, 12.2, 12.4, 12.65), LIMIT, FALLING, U)
    assert found.status == "wrong-sign"
    assert found.g < 1
    assert untold(found)
    assert (found.rate, found.rate_most) == (None, None)


def test_outlier():
    """DERIVED: OLS b -0.157143, s 0.576938, g 0.875, x0 18.36, early 9.09; Theil-Sen 20.714; reading 4 wild."""
    found = forecast(at((0, 2, 4, 6, 8, 10), 12.0, 11.7, 11.5, 9.9, 10.9, 10.6), LIMIT, FALLING)
    assert found.rate == pytest.approx(-0.157143, abs=5e-7)
    assert found.s_used == pytest.approx(0.576938, abs=5e-7)
    assert found.g == pytest.approx(0.875, abs=5e-4)
    assert found.at_limit == pytest.approx(18.36, abs=5e-3)
    assert found.early == pytest.approx(9.09, abs=5e-3)
    assert found.median.slope == pytest.approx(-0.14)
    assert found.median_at_limit == pytest.approx(20.714, abs=5e-4)
    assert (found.status, found.wild) == ("weak", 3)
    assert found.notes == ("gauge-missing", "outlier", "early-passed")


def test_gap():
    """DERIVED."""
    found = forecast(at((0, 2, 4, 20, 22, 24), 12.0, 11.7, 11.5, 9.3, 9.0, 8.7), 8.0, FALLING)
    assert found.status == "ok"
    assert found.rate == pytest.approx(-0.136688, abs=5e-7)
    assert found.s_used == pytest.approx(0.032317, abs=5e-7)
    assert found.at_limit == pytest.approx(29.3143, abs=5e-5)
    assert found.early == pytest.approx(28.6732, abs=5e-5)
    assert found.notes == ("gauge-missing", "gap")


def test_half_the_span_is_no_gap():
    found = forecast(at((0, 2, 4, 8), 12.0, 11.7, 11.5, 11.0), LIMIT, FALLING, U)
    assert "gap" not in found.notes
    found = forecast(at((0, 2, 4, 8.1), 12.0, 11.7, 11.5, 11.0), LIMIT, FALLING, U)
    assert "gap" in found.notes


@pytest.mark.parametrize("last", [9.0, 8.9, -1.0])
def test_the_last_reading_at_the_limit_wins_over_any_fit(last):
    for points in ([(10, last)], [*EXAMPLE[:-1], (10, last)], at((10, 10), last, 11.0), at((10, 10), 11.0, last)):
        found = forecast(points, LIMIT, FALLING, U)
        assert found.status == "already-at-limit"
        assert found.margin == pytest.approx(9.0 - last if last > 9 else last - 9.0)
        assert untold(found)
        assert found.rate is None


def test_an_earlier_reading_at_the_limit_does_not():
    assert forecast(at((0, 2), 8.0, 12.0), LIMIT, FALLING).status == "two-point"
    assert forecast(at((0, 2), 12.0, 9.001), LIMIT, FALLING).status == "two-point"


def test_points_on_a_line_are_a_coarse_gauge():
    """DERIVED: s_eff is u, not nought."""
    found = forecast(at((0, 2, 4, 6), 12.0, 11.8, 11.6, 11.4), 10.6, FALLING, 0.0577)
    assert found.s_used == 0.0577
    assert found.early < 12.0 < found.late
    assert found.at_limit == pytest.approx(14.0)
    assert "gauge-coarse" in found.notes
    unknown = forecast(at((0, 2, 4, 6), 12.0, 11.8, 11.6, 11.4), LIMIT, FALLING)
    assert (unknown.status, unknown.notes) == ("no-gauge", ("gauge-missing",))
    assert untold(unknown)


def test_example_with_and_without_floor():
    """Our own worked example (DERIVED)."""
    plain = forecast(EXAMPLE, LIMIT, FALLING)
    assert (plain.status, plain.notes) == ("ok", ("gauge-missing",))
    assert [plain.early, plain.at_limit, plain.late] == pytest.approx([20.0030, 21.428571, 23.0733], abs=6e-5)
    floored = forecast(EXAMPLE, LIMIT, FALLING, 0.0577)
    assert [floored.early, floored.late] == pytest.approx([19.6233, 23.6002], abs=6e-5)
    assert floored.g == pytest.approx(0.011028, abs=6e-7)
    true = forecast(EXAMPLE, LIMIT, FALLING, q=0.0)
    assert [true.early, true.late] == pytest.approx([20.1634, 22.9128], abs=6e-5)
    wide = forecast(EXAMPLE, LIMIT, FALLING, confidence=0.975)
    assert [wide.early, wide.late] == pytest.approx([19.6077, 23.6229], abs=6e-5)
    assert plain.median.slope == pytest.approx(-0.14)
    assert [plain.median.low, plain.median.high] == pytest.approx([-0.15, -0.125])


def test_rising_is_falling_turned_over():
    found = forecast([(x, 20 - y) for x, y in EXAMPLE], 11.0, RISING, 0.0577)
    other = forecast(EXAMPLE, LIMIT, FALLING, 0.0577)
    assert found.early == pytest.approx(other.early)
    assert found.rate == pytest.approx(-other.rate)
    assert (found.status, found.notes) == (other.status, other.notes)


def test_horizon():
    near = forecast(EXAMPLE, LIMIT, FALLING, 0.0577, horizon=9.62)
    assert (near.status, near.horizon) == ("beyond-horizon", pytest.approx(19.62))
    assert untold(near)
    assert near.rate == pytest.approx(-0.14)
    assert forecast(EXAMPLE, LIMIT, FALLING, 0.0577, horizon=9.63).status == "ok"
    assert forecast(EXAMPLE, LIMIT, FALLING, 0.0577, horizon=1e6).horizon == 30.0
    far = forecast(EXAMPLE, 1.0, FALLING, 0.0577)
    assert (far.status, far.horizon) == ("beyond-horizon", 30.0)
    assert untold(far)


def test_a_fixed_start():
    """Line through a fixed point: slope sum xy / sum xx (textbook); two readings are then three points."""
    found = forecast(at((2, 4), 0.3, 0.5), 3.0, RISING, origin=(0.0, 0.0))
    assert found.status == "weak"
    assert found.rate == pytest.approx(2.6 / 20)
    assert forecast([(4, 0.5)], 3.0, RISING, 0.03, origin=(0.0, 0.0)).rate == pytest.approx(0.125)
    assert forecast([(0, 0.5)], 3.0, RISING, origin=(0.0, 0.0)).status == "no-spread-x"
    assert forecast([], 3.0, RISING, origin=(0.0, 0.0)).status == "no-data"
    assert forecast([(4, 0.5)], 3.0, RISING, origin=(0.0, math.nan)).status == "no-start"
    more = forecast(
        [(x, 0.14 * x + e) for x, e in ((2, 0.02), (4, -0.05), (6, 0.03), (8, 0))], 3.0, RISING, origin=(0, 0)
    )
    assert (more.status, more.horizon, more.median) == ("ok", 24.0, None)


def test_a_replacement_that_was_not_recorded():
    """Worn, replaced, worn again: a line through both would come out too late; there is none."""
    points = at((0, 2, 4, 6, 8, 10), 10.4, 10.1, 9.8, 12.0, 11.7, 11.4)
    found = forecast(points, LIMIT, FALLING, 0.03)
    assert (found.status, found.step) == ("grew", 3)
    assert untold(found)
    assert (found.rate, found.rate_most) == (None, None)
    few = forecast(at((0, 2, 4, 6), 11.0, 10.7, 12.0, 11.8), LIMIT, FALLING, U)
    assert (few.status, few.step) == ("no-wear-resolved", 2)
    assert "grew-once" in few.notes
    assert forecast(at((0, 2), 10.0, 12.0), LIMIT, FALLING, U).notes == ("grew-once",)
    assert forecast(at((0, 2), 12.0, 12.2), LIMIT, FALLING, U).notes == ()


def test_what_is_no_figure_is_counted_and_left_out():
    bad = [(None, 1.0), (1.0, None), (math.nan, 1.0), (1.0, math.nan), (math.inf, 1.0), (1.0, -math.inf), (1e12, 1.0)]
    found = forecast([*bad, *EXAMPLE], LIMIT, FALLING, U)
    clean = forecast(EXAMPLE, LIMIT, FALLING, U)
    assert (found.n, found.dropped) == (6, 7)
    assert found.early == clean.early
    assert found.notes == ("dropped", *clean.notes)
    assert (clean.dropped, forecast(bad, LIMIT, FALLING).status) == (0, "no-data")


@pytest.mark.parametrize("limit", [None, math.nan, math.inf])
def test_no_limit(limit):
    assert forecast(EXAMPLE, limit, FALLING).status == "no-limit"
    assert untold(forecast(EXAMPLE, limit, FALLING))


@pytest.mark.parametrize("u", [-0.01, math.nan, math.inf])
def test_impossible_gauge(u):
    assert forecast(EXAMPLE, LIMIT, FALLING, u).status == "gauge-impossible"


def test_a_gauge_of_no_uncertainty_is_an_unknown_one():
    assert forecast(EXAMPLE, LIMIT, FALLING, 0.0) == forecast(EXAMPLE, LIMIT, FALLING)


def test_decimals_are_taken():
    exact = [(x, Decimal(str(y))) for x, y in EXAMPLE]
    assert forecast(exact, Decimal("9.0"), FALLING, Decimal("0.0577")) == forecast(EXAMPLE, 9.0, FALLING, 0.0577)


@pytest.mark.parametrize(
    "wrong",
    [
        {"direction": 0},
        {"confidence": 0.5},
        {"confidence": 1.0},
        {"q": -0.1},
        {"q": 1.1},
        {"horizon": -1},
        {"horizon": math.nan},
    ],
)
def test_errors_of_the_program(wrong):
    with pytest.raises(ValueError, match=r"direction|confidence"):
        forecast(EXAMPLE, LIMIT, **{"direction": FALLING, **wrong})


def test_text_is_an_error_of_the_program():
    with pytest.raises(TypeError):
        forecast([("1", "2")], LIMIT, FALLING)


def test_one_wild_reading_that_hides_the_wear():
    points = [(2 * k, 12 - 0.28 * k) for k in range(9)]
    points[7] = (14, 30.0)
    found = forecast(points, LIMIT, FALLING, U)
    assert (found.status, found.wild, found.median_at_limit) == ("no-wear-resolved", 7, None)
    assert found.notes == ("outlier", "differs")
    assert found.median.slope == pytest.approx(-0.14)
    assert untold(found)


def test_every_status_has_its_sentence():
    found = forecast(at((0, 2, 4), 12.0, 11.7, 11.5), LIMIT, FALLING)
    assert found.sentence == wear_words.STATUS_SENTENCES["weak"]
    assert found.note_sentences == [wear_words.NOTE_SENTENCES[note] for note in found.notes]


sizes = st.floats(-5, 20).map(lambda v: round(v, 2))
records = st.lists(st.tuples(st.integers(0, 200).map(lambda k: k / 4), sizes), max_size=12)
gauges = st.sampled_from([None, 0.01, 0.05, 0.3])


@given(records, sizes, st.sampled_from([FALLING, RISING]), gauges)
def test_a_forecast_has_figures_only_with_a_good_status(points, limit, direction, u):
    found = forecast(points, limit, direction, u)
    assert found.status in wear_words.STATUS_SENTENCES
    assert set(found.notes) <= set(wear_words.NOTE_SENTENCES)
    if found.status in {"ok", "weak"}:
        assert found.early <= found.at_limit
        assert found.rate * direction > 0
        assert found.late is None or found.late >= found.at_limit
        assert all(map(math.isfinite, (found.early, found.at_limit, found.s_used, found.horizon)))
    else:
        assert untold(found)
    assert (found.status == "already-at-limit") == (found.margin is not None and found.margin <= 0)


@st.composite
def worn(draw):
    """Draw a falling record that mostly tells its wear, and a limit below it."""
    xs = draw(st.lists(st.integers(0, 80), min_size=3, max_size=10, unique=True))
    rate, noise = draw(st.floats(0.05, 1.0)), draw(st.sampled_from([0.01, 0.1]))
    off = draw(st.lists(st.floats(-1, 1), min_size=len(xs), max_size=len(xs)))
    points = [(x / 2, 50.0 - rate * x / 2 + noise * e) for x, e in zip(xs, off, strict=True)]
    return points, min(y for _, y in points) - draw(st.floats(0.2, 5.0))


@given(worn(), st.floats(1.0, 3.0))
def test_a_coarser_gauge_never_gives_a_later_early_value(record, factor):
    points, limit = record
    fine, coarse = (forecast(points, limit, FALLING, one) for one in (0.02, 0.02 * factor))
    assume(fine.early is not None and coarse.early is not None)
    assert coarse.early <= fine.early + 1e-9 * abs(fine.early)


@given(worn(), st.floats(-500, 500), st.sampled_from([0.5, 8.0]))
def test_where_nought_lies_and_the_unit_do_not_matter(record, shift, scale):
    points, limit = record
    found = forecast(points, limit, FALLING, 0.02)
    assume(found.early is not None and found.g < 0.9)
    moved = [(scale * x + shift, scale * y - shift) for x, y in points]
    other = forecast(moved, limit * scale - shift, FALLING, 0.02 * scale)
    assume(other.status == found.status)  # on a border rounding may decide
    assert other.early == pytest.approx(scale * found.early + shift, rel=1e-6, abs=1e-5 * scale)


@given(worn(), st.floats(0, 0.1))
def test_a_nearer_limit_never_gives_a_later_early_value(record, nearer):
    points, limit = record
    found, near = (forecast(points, one, FALLING, 0.02) for one in (limit, limit + nearer))
    assume(found.early is not None)
    assert near.early <= found.early + 1e-9 * max(1, abs(found.early))


@given(worn(), st.floats(0.9, 0.98))
def test_more_confidence_never_gives_a_later_early_value(record, confidence):
    points, limit = record
    found, surer = (forecast(points, limit, FALLING, 0.02, confidence=c) for c in (confidence, confidence + 0.01))
    assume(found.early is not None and surer.early is not None)
    assert surer.early <= found.early


@given(st.permutations(EXAMPLE))
def test_the_order_of_readings_does_not_matter(points):
    assert forecast(points, LIMIT, FALLING, U) == forecast(EXAMPLE, LIMIT, FALLING, U)
