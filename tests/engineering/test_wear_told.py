"""What stands beside a forecast of wear: counts, margin and notes of every status, and the guards of a wild reading.

Our own rules (DERIVED); the median line and the studentised residual are held against scipy and statsmodels elsewhere.
"""

import pytest

from engineering.wear import FALLING, RISING, Forecast, forecast
from engineering.wear_robust import furthest, median_line

LIMIT = 9.0
GONE = (None, 1.0)
STEADY = [(0, 12.0), (2, 11.7), (4, 11.5), (6, 11.1), (8, 10.9), (10, 10.6)]  # the worked example (DERIVED)
GAUGE = ("dropped", "gauge-missing")


@pytest.mark.parametrize(
    ("readings", "asked", "expected"),
    [
        ([(0, 12.0), GONE], {"limit": None}, Forecast("no-limit", 1, 1, ("dropped",))),
        ([(0, 12.0), GONE], {"u": -1.0}, Forecast("gauge-impossible", 1, 1, ("dropped",))),
        ([(0, 12.0), GONE], {"origin": (0.0, float("nan"))}, Forecast("no-start", 1, 1, ("dropped",))),
        ([GONE, GONE], {}, Forecast("no-data", 0, 2, ("dropped",))),
        ([(0, 8.5), GONE], {}, Forecast("already-at-limit", 1, 1, GAUGE, -0.5)),
        ([(0, 12.0), GONE], {}, Forecast("margin-only", 1, 1, GAUGE, 3.0)),
        ([(4, 11.5), (4, 11.25), GONE], {}, Forecast("no-spread-x", 2, 1, GAUGE, 2.25)),
        ([(0, 12.0), (4, 11.5), GONE], {}, Forecast("two-point", 2, 1, GAUGE, 2.5)),
    ],
)
def test_each_status_carries_its_counts_its_notes_and_what_is_left(readings, asked, expected):
    assert forecast(readings, **{"limit": LIMIT, "direction": FALLING, **asked}) == expected


def test_a_fitted_forecast_carries_them_too():
    found = forecast([*STEADY, GONE], LIMIT, FALLING)

    assert (found.status, found.n, found.dropped, found.notes) == ("ok", 6, 1, GAUGE)
    assert found.margin == pytest.approx(1.6)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"direction": 2}, r"^direction is -1 or \+1$"),
        ({"confidence": 0.5}, r"^0\.5 < confidence < 1, 0 <= q <= 1, horizon >= 0$"),
        ({"confidence": 1.0}, r"^0\.5 < confidence < 1, 0 <= q <= 1, horizon >= 0$"),
        ({"confidence": 1.5}, r"^0\.5 < confidence < 1, 0 <= q <= 1, horizon >= 0$"),
        ({"q": 1.1}, r"^0\.5 < confidence < 1, 0 <= q <= 1, horizon >= 0$"),
        ({"horizon": -0.1}, r"^0\.5 < confidence < 1, 0 <= q <= 1, horizon >= 0$"),
    ],
)
def test_errors_of_the_program_say_what_is_allowed(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        forecast(STEADY, LIMIT, **{"direction": FALLING, **wrong})


def test_a_horizon_of_nought_and_of_half_a_unit():
    for ahead in (0.0, 0.5):
        assert forecast(STEADY, LIMIT, FALLING, horizon=ahead).horizon == 10.0 + ahead


def test_where_the_count_stands_changes_neither_horizon_nor_gap():
    gappy = [(0, 12.0), (2, 11.7), (4, 11.5), (20, 9.8), (22, 9.6), (24, 9.4)]
    for points, gap in ((STEADY, False), (gappy, True)):
        here = forecast(points, LIMIT, FALLING, 0.05)
        there = forecast([(x + 1000, y) for x, y in points], LIMIT, FALLING, 0.05)
        assert ("gap" in here.notes, there.notes) == (gap, here.notes)
        assert there.horizon == pytest.approx(here.horizon + 1000)
        assert here.horizon == 3 * points[-1][0]


def test_readings_at_one_place_keep_the_order_in_which_they_came():
    points = [(0, 12.0), (2, 11.7), (4, 11.5), (6, 11.1), (6, 9.9), (8, 10.9), (10, 10.6)]

    assert forecast(points, LIMIT, FALLING).wild == 4
    points[3:5] = reversed(points[3:5])
    assert forecast(points, LIMIT, FALLING).wild == 3


def test_figures_of_a_million_on_one_line_are_still_on_one_line():
    found = forecast([(x, 1e6 - 0.1 * x) for x in (0, 3, 6, 10, 11)], 1.0, FALLING)

    assert found.status == "no-gauge"


def test_the_fastest_wear_is_told_where_it_has_passed_already():
    """1.645 u / sqrt(Sxx) = 1.645 x 0.0577350 / sqrt 40 (DERIVED)."""
    found = forecast([(x, 9.01) for x in (0, 2, 4, 6, 8)], LIMIT, FALLING, 0.057735)

    assert "early-passed" in found.notes
    assert found.rate_most == pytest.approx(0.015017, abs=5e-7)


def test_a_wild_reading_among_five_is_told_without_a_median_line():
    found = forecast([(0, 12.0), (2, 11.72), (4, 11.44), (6, 9.0), (8, 10.87)], 5.0, FALLING, 0.02)

    assert (found.wild, found.median) == (3, None)
    assert "outlier" in found.notes


def test_what_the_gauge_alone_explains_is_not_wild():
    points = [(x, 12 - 0.14 * x + 0.001 * (-1) ** x) for x in range(9)]
    points[4] = (4, 12 - 0.14 * 4 + 0.06)

    assert furthest(points).is_wild
    assert not furthest(points, floor=0.05).is_wild
    assert forecast(points, LIMIT, FALLING, 0.05).wild is None
    assert forecast(points, LIMIT, FALLING, 0.005).wild == 4


def test_with_a_fixed_start_readings_are_compared_among_themselves():
    """A fixed start that the readings do not bear out makes none of them wild, and there is no median line."""
    points = [(x, 0.1 * x + 2.0 + 0.01 * (-1) ** x) for x in (2, 4, 7, 9, 12, 15, 20)]
    found = forecast(points, 9.0, RISING, 0.005, origin=(0.0, 0.0))

    assert not furthest(points, floor=0.005).is_wild
    assert (found.wild, found.median, found.median_at_limit) == (None, None, None)
    points[3] = (9, 4.2)
    assert furthest(points, floor=0.005).index == 3
    assert forecast(points, 9.0, RISING, 0.005, origin=(0.0, 0.0)).wild == 3


def test_the_median_line_has_the_confidence_that_was_asked_for():
    found = forecast(STEADY, LIMIT, FALLING, confidence=0.8)

    assert found.median == median_line(STEADY, confidence=0.8)
    assert found.median != median_line(STEADY)


def test_two_lines_that_tell_something_else_are_told():
    """Eleven readings of 0.1 a unit and one far off of half that: the far one alone bends the fitted line."""
    bent = [*((x, 12 - 0.1 * x) for x in range(11)), (100, 7.0)]
    found = forecast(bent, 5.0, FALLING, 0.02)

    assert found.median.slope == pytest.approx(-0.1)
    assert found.median_at_limit == pytest.approx(70.0)
    assert found.median_at_limit < found.early
    assert "differs" in found.notes
    assert "differs" not in forecast(STEADY, LIMIT, FALLING, 0.02).notes
