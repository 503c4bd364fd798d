"""Statistics: the figures of the project's notes that no other test holds, to the digits printed.

READ: the source's text was opened and says so. READ second-hand: in a copy that quotes the source. DERIVED: by formula.
"""

import math

import numpy as np
import pytest
from scipy import stats

from engineering.control_run_length import cusum_run_length, individuals_run_length
from engineering.quality import RARE
from engineering.quality_digits import LEAST_SPREAD
from engineering.reliability_bounds import LOWER, clopper_pearson, mean_life, wilson
from engineering.reliability_plans import acceptance, acceptance_of_lot
from engineering.reliability_sample import discovery_size
from engineering.reliability_weibull import weibull
from engineering.wear import FALLING, RISING, forecast
from engineering.wear_gauge import gauge_u, guard
from engineering.wear_line import cross_level, fieller_g, fit_line, student
from tests.engineering.tables import column, rows

EXAMPLE = list(
    zip(column("wear_example_derived", "kcycles"), column("wear_example_derived", "thickness_mm"), strict=True)
)


def points_of(name, x, y):
    return list(zip(column(name, x), column(name, y), strict=True))


# --- lines


def test_norris_to_the_last_certified_digits():
    """NIST StRD Norris (READ): every certified figure to 1e-10, variance ratio and root mean square among them."""
    line = fit_line(points_of("nist_strd_norris", "x", "y"))
    certified = {
        "intercept": -0.262323073774029,
        "se_intercept": 0.232818234301152,
        "slope": 1.00211681802045,
        "se_slope": 0.429796848199937e-03,
        "s": 0.884796396144373,
        "r_squared": 0.999993745883712,
    }
    for name, value in certified.items():
        assert getattr(line, name) == pytest.approx(value, rel=1e-10), name
    assert (line.slope / line.se_slope) ** 2 == pytest.approx(5436385.54079785, rel=1e-10)


def test_dial_of_a_reaction_chamber():
    """Graybill & Iyer p. 433, through R's investr (READ): when the mean is there, 99 %."""
    line = fit_line(points_of("calib_chamber", "dial", "temp"))
    found = cross_level(line, 400.0, confidence=0.995, q=0.0)
    assert found.x == pytest.approx(66.5, abs=0.05)
    assert [found.early, found.late] == pytest.approx([65.07, 68.03], abs=0.005)


def test_hours_of_a_crystal():
    """Graybill & Iyer p. 434, through R's investr (READ): 90 % of the mean; first-order errors by its delta method."""
    line = fit_line(points_of("calib_crystal", "hours", "weight_g"))
    mean = cross_level(line, 5.0, confidence=0.95, q=0.0)
    assert mean.x == pytest.approx(9.93, abs=0.005)
    assert [mean.early, mean.late] == pytest.approx([8.65, 11.05], abs=0.005)
    assert mean.se == pytest.approx(0.6658998, rel=1e-4)
    assert cross_level(line, 5.0, q=1.0).se == pytest.approx(2.211698, rel=1e-4)


def test_first_order_error_is_too_short_when_g_is_large():
    """Three readings, g 0.53: its interval is less than half of Fieller's; six readings, g 0.007: the same to 2 %."""
    few = cross_level(fit_line([(0, 12.0), (2, 11.7), (4, 11.5)]), 9.0)
    assert few.g == pytest.approx(0.531513, abs=5e-7)  # our table of cases, DERIVED, with 14.4693 and 82.8808
    assert [few.early, few.late] == pytest.approx([14.4693, 82.8808], abs=5e-5)
    assert 2 * student(0.95, 1) * few.se < 0.5 * (few.late - few.early)
    good = cross_level(fit_line(EXAMPLE), 9.0)
    assert good.g == pytest.approx(0.006625, abs=5e-7)
    assert 2 * student(0.95, 4) * good.se == pytest.approx(good.late - good.early, rel=0.02)


def test_table_of_students_t():
    """Printed one- and two-sided 95 % quantiles (DERIVED with scipy; the usual printed tables)."""
    one = {1: 6.3138, 2: 2.9200, 3: 2.3534, 4: 2.1318, 5: 2.0150, 8: 1.8595, 10: 1.8125, 20: 1.7247}
    two = {1: 12.7062, 2: 4.3027, 3: 3.1824, 4: 2.7764, 5: 2.5706, 8: 2.3060, 10: 2.2281, 20: 2.0860}
    for df in one:
        assert student(0.95, df) == pytest.approx(one[df], abs=6e-5)
        assert student(0.975, df) == pytest.approx(two[df], abs=6e-5)


def test_what_is_shown_by_the_number_of_readings():
    """None, margin, two-point rate, early end alone, both ends; the median line from six readings on (our own rule)."""
    readings = [(2.0 * k, 12.0 - 0.28 * k + 0.02 * (k % 2)) for k in range(7)]
    shown = []
    for n in range(7):
        found = forecast(readings[:n], 9.0, FALLING, 0.0577)
        shown.append((found.status, found.late is not None, found.median is not None))
    assert [status for status, _, _ in shown[:3]] == ["no-data", "margin-only", "two-point"]
    assert shown[3][:2] in (("weak", False), ("no-wear-resolved", False), ("beyond-horizon", False))
    assert [median for _, _, median in shown] == [False] * 6 + [True]
    assert shown[6][:2] == ("ok", True)


def test_a_library_would_be_sure_of_what_is_not_known():
    """scipy 1.17.1 gives two points an error of nought, and two equal x an exception; nothing of that is passed on."""
    assert stats.linregress([0, 4], [12.0, 11.8]).stderr == 0.0
    found = forecast([(0, 12.0), (4, 11.8)], 9.0, FALLING, 0.03)
    assert (found.status, found.early) == ("two-point", None)
    assert found.rate_half == pytest.approx(2 * math.sqrt(2) * 0.03 / 4)
    with pytest.raises(ValueError, match="identical"):
        stats.linregress([4, 4], [11.8, 11.7])
    assert forecast([(4, 11.8), (4, 11.7)], 9.0, FALLING, 0.03).status == "no-spread-x"


@pytest.mark.parametrize(("g", "status"), [(0.19, "ok"), (0.21, "weak"), (0.99, "weak"), (1.01, "no-wear-resolved")])
def test_g_decides_what_is_told(g, status):
    """At 1 there is no trend, above 0.2 the late end is not shown; g set by the gauge's floor alone (own borders)."""
    line = fit_line(EXAMPLE)
    gauge = math.sqrt(g) * abs(line.slope) * math.sqrt(line.sxx) / student(0.95, line.df)
    assert fieller_g(line, gauge, student(0.95, line.df)) == pytest.approx(g)
    found = forecast(EXAMPLE, 9.0, FALLING, gauge)
    if status == "no-wear-resolved":
        assert (found.status, found.early, found.late) == (status, None, None)
    else:
        assert found.g == pytest.approx(g)
        assert found.status == status
        assert (found.late is None) == (status == "weak")


# --- gauge and limit


def test_acceptance_limit_of_a_bolt():
    """A note on ILAC-G8 (READ): tolerance 0.003 mm, U 0.0010, so that the acceptance limit is 0.002 mm either side."""
    for side in (1, -1):
        for deviation, zone in ((0.00199, "clear"), (0.00201, "near"), (0.00299, "near"), (0.00301, "beyond")):
            assert guard(side * deviation, side * 0.003, side, 0.0005, k=2.0).zone == zone


def test_simple_acceptance_risks_half():
    """ILAC-G8 (READ second-hand): at the limit itself, w = 0, half of what is accepted may be beyond it."""
    at_limit = guard(9.0 + 1e-12, 9.0, -1, 0.05, k=0.0)
    assert at_limit.zone == "clear"
    assert at_limit.chance == pytest.approx(0.5, abs=1e-9)


def test_wear_that_is_too_small_for_the_gauge_is_the_same_rising_or_falling():
    """Steps of 0.1 mm, scatter 0.05: u 0.05774 (DERIVED); four equal readings tell nothing either way."""
    u = gauge_u(0.1, 0.05)
    assert u == pytest.approx(0.05774, abs=5e-6)
    for direction, limit in ((FALLING, 9.0), (RISING, 15.0)):
        found = forecast([(2.0 * k, 12.0) for k in range(4)], limit, direction, u)
        assert (found.status, found.early) == ("no-wear-resolved", None)


# --- charts


def test_how_often_a_course_of_twelve_lines_would_be_called_for_nothing():
    """Rule 1 alone, twelve lines every morning: every 31 days (DERIVED from 370.4; about 371, READ second-hand)."""
    assert individuals_run_length(0.0) / 12 == pytest.approx(31, abs=0.5)
    assert round(individuals_run_length(0.0)) in (370, 371)  # "about 371" in the handbook


def test_one_sided_sums_in_control_and_at_a_shift():
    """k 0.5, h 5: 931 mornings, a shift of one sigma found in 10.4 (DERIVED)."""
    assert cusum_run_length(0.0, slack=0.5, decision=5.0) == pytest.approx(931, abs=0.5)
    assert cusum_run_length(1.0, slack=0.5, decision=5.0) == pytest.approx(10.4, abs=0.05)
    # 38 mornings at half a sigma, two-sided
    assert cusum_run_length(0.5, slack=0.5, decision=5.0, both_sides=True) == pytest.approx(38.0, abs=0.05)


# --- lives and samples


def test_life_that_nine_in_ten_reach():
    """B10 = scale (-ln 0.9)^(1/shape), by hand from the published fit of e-Handbook 8.4.1.3 (READ second-hand)."""
    failed = [float(row["time"]) for row in rows("weibull_censored") if row["dataset"] == "nist_8413"][:10]
    found = weibull(failed, [500.0] * 10)
    by_hand = 606.5280 * (-math.log(0.9)) ** (1 / 1.7207)
    assert found.life(0.1) == pytest.approx(by_hand, rel=2e-3)


def test_rule_of_three():
    """No failure in T: the mean life is at least T / 2.996 at 95 % (MEMORY)."""
    assert 1000 / mean_life(1000.0, 0).low == pytest.approx(2.996, abs=5e-4)


def test_curves_of_plans_to_their_exact_digits():
    """7 CFR 42.140(b) curve 6 and a glossary's plan (READ, rounded there; exact 0.264, 0.998, 0.226, 0.222)."""
    assert acceptance(500, 3, 0.01) == pytest.approx(0.264, abs=5e-4)
    assert acceptance(500, 3, 0.001) == pytest.approx(0.998, abs=5e-4)
    assert acceptance(50, 2, 0.08) == pytest.approx(0.226, abs=5e-4)
    assert acceptance_of_lot(2000, 160, 50, 2) == pytest.approx(0.222, abs=5e-4)


def test_shares_of_the_handbook_in_full():
    """e-Handbook 7.2.4.1 (READ): 4 in 20 at 90 %, upper 0.4010281 in full; 26 in 200, 0.09577."""
    assert clopper_pearson(4, 20, 0.90)[1] == pytest.approx(0.4010281, abs=5e-8)
    assert wilson(26, 200, 0.95, LOWER)[0] == pytest.approx(0.09577, abs=5e-6)


def test_small_lots_mean_look_at_all():
    """Exact examples at 95 % (DERIVED): 365 days with 19 bad: 52; 100 with 5: 45; 50 with 5: 22; 30 with 1: 29."""
    for lot, bad, size in ((365, 19, 52), (100, 5, 45), (50, 5, 22), (30, 1, 29)):
        assert discovery_size(lot, bad) == size


# --- how readings look


def test_honest_digits_are_uneven_on_a_narrow_spread():
    """Spread 1 to 6 last-digit steps: digits off their tenth by up to 283, 97, 33, 8.4, 1.4, 0.16 % (DERIVED)."""
    steps = np.arange(-200, 201)
    for sd, percent in ((1, 283), (2, 97), (3, 33), (4, 8.4), (5, 1.4), (6, 0.16)):
        worst = 0.0
        for middle in np.linspace(0.0, 1.0, 21):
            share = stats.norm.cdf((steps + 0.5 - middle) / sd) - stats.norm.cdf((steps - 0.5 - middle) / sd)
            digits = [share[steps % 10 == digit].sum() for digit in range(10)]
            worst = max(worst, max(abs(one - 0.1) for one in digits) * 1000)
        assert worst == pytest.approx(percent, rel=0.04), sd
    assert LEAST_SPREAD == 5


def test_a_hint_where_there_is_nothing_is_rare():
    """Twenty people, five questions each a month: one false hint in ten months, where 1 % would give one in each."""
    monthly = 20 * 5 * RARE
    assert monthly == pytest.approx(0.1)
