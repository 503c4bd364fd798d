"""From rides to days: quantiles as numpy draws them, days counted by hand."""

import doctest
import math
from datetime import date, timedelta

import numpy as np
import pytest

from engineering import wear_dates
from engineering.wear_dates import Pace, day_of_rides, last_day, pace

TODAY = date(2026, 5, 1)
DAYS = [TODAY + timedelta(days=k) for k in range(0, 800, 2)]  # open every other day


def test_examples():
    assert doctest.testmod(wear_dates).attempted
    assert not doctest.testmod(wear_dates).failed


@pytest.mark.parametrize("n", [1, 2, 9, 10, 11, 20, 60])
def test_quantiles(n):
    """numpy.quantile, inverted distribution function, and numpy.median."""
    counts = np.random.default_rng(n).integers(0, 400, n) / 1000 + 0.001
    found = pace(counts.tolist())
    assert found.busy == pytest.approx(np.quantile(counts, 0.9, method="inverted_cdf"))
    assert found.median == pytest.approx(np.median(counts))


def test_only_the_last_sixty_days_count():
    assert pace([9.0] * 10 + [0.1] * 60) == Pace("ok", 0.1, pytest.approx(0.1))
    assert pace([9.0] * 10 + [0.1] * 54).busy == 0.1
    assert pace([9.0] * 10 + [0.1] * 53).busy == 9.0


def test_no_pace_and_why():
    assert pace([]) == Pace("no-rides")
    assert pace([None, math.nan, math.inf]) == Pace("no-rides")
    assert pace([0.0] * 9 + [0.5]) == Pace("no-rides")
    assert pace([0.0] * 8 + [0.5] * 2) == Pace("ok", 0.5, 0.0)
    assert pace([0.1, -0.1]) == Pace("cycles-negative")
    assert pace([None, 0.2]).busy == 0.2


@pytest.mark.parametrize(
    ("rides", "index"), [(0.01, 0), (0.25, 0), (0.2501, 1), (0.5, 1), (0.75, 2), (0.1 + 0.2 + 0.2, 1), (25.0, 99)]
)
def test_the_day_on_which_a_number_is_reached(rides, index):
    assert day_of_rides(rides, 0.25, DAYS, TODAY) == ("ok", DAYS[index])


def test_none_left_is_today():
    assert day_of_rides(0.0, 0.25, DAYS, TODAY) == ("ok", TODAY)
    assert day_of_rides(-3.0, 0.0, [], TODAY) == ("ok", TODAY)


def test_no_further_than_is_known():
    assert last_day(TODAY) == date(2027, 5, 1)
    few = DAYS[:4]
    assert day_of_rides(1.0, 0.25, few, TODAY) == ("ok", few[3])
    assert day_of_rides(1.01, 0.25, few, TODAY) == ("beyond-horizon", few[3])
    assert day_of_rides(1.0, 0.25, [], TODAY) == ("beyond-horizon", TODAY)
    assert day_of_rides(1.0, 0.0, few, TODAY) == ("no-rides", TODAY)
    assert day_of_rides(183 * 0.25, 0.25, DAYS, TODAY) == ("ok", DAYS[182])
    assert DAYS[182] <= last_day(TODAY) < DAYS[183]
    assert day_of_rides(184 * 0.25, 0.25, DAYS, TODAY) == ("beyond-horizon", last_day(TODAY))
    assert day_of_rides(1e6, 0.25, DAYS, TODAY) == ("beyond-horizon", last_day(TODAY))
