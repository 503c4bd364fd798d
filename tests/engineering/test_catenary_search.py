"""The catenary to its last digits and at the ends of its range. Decimal arithmetic, textbook forms and own algebra."""

import math
from decimal import Decimal, getcontext

import pytest

from engineering import catenary, parabola, tension_cubic
from engineering.catenary import catenary_of_length, catenary_of_mean_tension, catenary_of_tension
from engineering.refusal import refuse
from engineering.tension_cubic import positive_root

# (span, length, drop) and the most steps its search may take: Newton's method, the count is our own.
LENGTHS = [
    ((100.0, 100.0 * (1 + 1e-9), 0.0), 1),
    ((100.0, 100.0001, 0.0), 2),
    ((100.0, 101.0, 0.0), 3),
    ((100.0, 150.0, 0.0), 4),
    ((100.0, 400.0, 0.0), 5),
    ((100.0, 2100.0, 0.0), 8),
    ((100.0, 100_100.0, 0.0), 12),
    ((20.0, 20.7, 5.0), 3),
    ((300.0, 500.0, -60.0), 4),
]


def hyperbolic(u):
    """Return sinh(u) and cosh(u) to 50 digits."""
    getcontext().prec = 50
    up = Decimal(u).exp()
    return (up - 1 / up) / 2, (up + 1 / up) / 2


@pytest.mark.parametrize("u", [1e-9, 1e-4, 0.01, 0.1, 0.3, 0.45, 0.4999, 0.5, 0.51, 0.7, 1.4, 2.0, 30.0])
def test_excess_of_the_hyperbolic_sine(u):
    """sinh(u)/u - 1 by Decimal's exponential: all digits but the last, though the difference loses half of them."""
    sinh, _ = hyperbolic(u)
    wanted = float(sinh / Decimal(u) - 1)
    assert catenary._sinhc_less_one(u) == pytest.approx(wanted, rel=2e-15 if u <= 0.5 or u > 2 else 1e-14, abs=0.0)


@pytest.mark.parametrize(("figures", "most"), LENGTHS)
def test_search_by_length_is_short_and_exact(monkeypatch, figures, most):
    """2 c sinh(L / 2c) = sqrt(S² - h²) (READ, forum) to 14 digits of what S adds to the chord, in so many steps."""
    monkeypatch.setattr(catenary, "MOST_STEPS", most)
    span, length, drop = figures
    found = catenary_of_length(span, length, drop)
    sinh, _ = hyperbolic(Decimal(span) / (2 * Decimal(found.parameter)))
    level = 2 * Decimal(found.parameter) * sinh
    wanted = (Decimal(length) ** 2 - Decimal(drop) ** 2).sqrt()
    assert float((level - Decimal(span)) / (wanted - Decimal(span))) == pytest.approx(1, abs=1e-12)
    assert found.height(span) == pytest.approx(-drop, abs=1e-9)


@pytest.mark.parametrize(("figures", "most"), LENGTHS[3:7])
def test_search_by_length_needs_its_steps(monkeypatch, figures, most):
    """It begins above the root: cut short, u = L / 2c is still too large, and c too small."""
    whole = catenary_of_length(*figures).parameter
    before = 0.0
    for steps in range(1, most):
        monkeypatch.setattr(catenary, "MOST_STEPS", steps)
        found = catenary_of_length(*figures).parameter
        assert before < found <= whole * (1 + 1e-14)
        before = found


def test_curve_by_the_textbook():
    """y = c cosh((x - x0)/c), T = w c cosh((x - x0)/c), S = c [sinh((L - x0)/c) + sinh(x0/c)] (textbook)."""
    hung = catenary_of_tension(200.0, 12.0, 1200.0, 40.0)
    c, low = hung.parameter, hung.lowest_x
    assert c == 100.0
    for x in (0.0, 20.0, 130.0, 200.0):
        assert hung.height(x) == pytest.approx(c * (math.cosh((x - low) / c) - math.cosh(low / c)), abs=1e-9)
        assert hung.tension(x, 12.0) == pytest.approx(1200 * math.cosh((x - low) / c))
    assert hung.height(200.0) == pytest.approx(-40.0)
    assert hung.length == pytest.approx(c * (math.sinh((200 - low) / c) + math.sinh(low / c)))
    assert hung.sag == pytest.approx(-20.0 - hung.height(100.0))
    assert low > 100  # the second support is the lower one, and the lowest point nearer to it
    assert catenary_of_tension(200.0, 12.0, 1200.0, -40.0).lowest_x == pytest.approx(200 - low)
    assert catenary_of_tension(200.0, 12.0, 1200.0) == catenary_of_tension(200.0, 12.0, 1200.0, 0.0)
    assert catenary_of_length(200.0, 210.0) == catenary_of_length(200.0, 210.0, 0.0)


def test_least_tension_that_a_span_can_have():
    """Own algebra: (H + T)/2 is least where coth(z/2) = z, z = w L / 2H = 1.5434; it is w L sinh(z) / 4 there."""
    z = 1.5434046384182085
    assert 1 / math.tanh(z / 2) == pytest.approx(z, rel=1e-12)
    least = 1000 * math.sinh(z) / 4
    found = catenary_of_mean_tension(1000.0, 1.0, least * 1.0001)
    assert 1.5 < 500 / found.parameter < z  # the tauter of the two states
    small = catenary_of_mean_tension(1.0, 0.001, least * 1.1e-6)  # the same in other units
    assert small.parameter == pytest.approx(catenary_of_mean_tension(1000.0, 1.0, least * 1.1).parameter / 1000)
    assert catenary_of_mean_tension(1000.0, 1.0, least * 0.9999) == refuse("no-solution")
    for tension in (least / 2, least / 10, 0.5, 1e-3, 324.1, 325.0, 340.0, 450.0):
        assert catenary_of_mean_tension(1000.0, 1.0, tension) == refuse("no-solution")


@pytest.mark.parametrize(("tension", "most"), [(1e6, 2), (4564.0, 3), (1000.0, 4), (700.0, 5)])
def test_search_by_mean_tension_is_short_and_exact(monkeypatch, tension, most):
    """The definition: H (1 + cosh(w L / 2H)) = 2 T, to 13 digits in so many steps (our own count)."""
    monkeypatch.setattr(catenary, "MOST_STEPS", most)
    found = catenary_of_mean_tension(1000.0, 1.0, tension)
    assert found.parameter * (1 + math.cosh(500 / found.parameter)) == pytest.approx(2 * tension, rel=1e-13)
    assert (found.span, found.drop, found.lowest_x) == (1000.0, 0.0, 500.0)
    monkeypatch.setattr(catenary, "MOST_STEPS", most - 1)
    assert catenary_of_mean_tension(1000.0, 1.0, tension) == refuse("no-solution")


def test_no_cable_hangs_deeper_than_its_figures_go():
    """Own bound: w L / 2H = 50, where the cable hangs 1e20 times as deep as its parameter; at the bound it answers."""
    assert catenary_of_tension(100.0, 1.0, 1.0).parameter == 1.0
    assert catenary_of_tension(100.0, 1.0, 0.999) == refuse("no-solution")
    assert catenary_of_tension(100.0, 2.0, 2.0).parameter == 1.0


def test_shortest_cable_reaches_exactly():
    """The chord of 30 and 40 is 50."""
    assert catenary_of_length(30.0, 50.0, 40.0) == refuse("length-short")
    assert catenary_of_length(30.0, 50.0, -40.0) == refuse("length-short")
    assert catenary_of_length(30.0, 50.000001, 40.0).length == pytest.approx(50.000001, rel=1e-12)
    assert catenary_of_length(30.0, 49.0, 40.0) == refuse("length-short")


@pytest.mark.parametrize(
    ("compliance", "shortage", "root"),
    [
        (1.0, 0.0, 2.0),
        (1e-5, 0.01, 1500.0),
        (1e-5, -0.5, 1500.0),
        (1e-12, -3.0, 40.0),
        (0.0, -3.0, 40.0),
        (2.0, 1e4, 7e3),
    ],
)
def test_cubic_is_solved_in_a_few_steps(monkeypatch, compliance, shortage, root):
    """The pull that belongs to a root gives it back. Newton's method; the count is our own."""
    pull = compliance * root**3 - shortage * root**2
    monkeypatch.setattr(tension_cubic, "MOST_STEPS", 7)
    assert float(positive_root(compliance, shortage, pull)) == pytest.approx(root, rel=1e-12)


def test_cubic_in_other_units_keeps_its_digits():
    """The same root in millionths and in millions: h = 1 of h³ - h²/2 = 1/2."""
    for unit in (1e-6, 1.0, 1e6):
        found = float(positive_root(1.0, 0.5 * unit, 0.5 * unit**3))
        assert found == pytest.approx(unit, rel=1e-12, abs=0.0)


def test_cubic_beyond_the_numbers_gives_no_figure():
    """Silently: an overflow, a division by nought, nothing in a list."""
    assert math.isnan(positive_root(1e-200, 0.0, 1e200))
    assert math.isnan(positive_root(0.0, 0.0, 1.0))
    assert math.isnan(positive_root(0.0, 0.0, 0.0))
    # h³ - 3 h² = -2 has roots above nought, but no sag pulls so; a straight wire has none and stretches by its shortage
    assert math.isnan(positive_root(1.0, 3.0, -2.0))
    assert math.isnan(positive_root(-1.0, -3.0, 2.0))
    assert float(positive_root(2.0, 1.0, 0.0)) == pytest.approx(0.5)
    assert positive_root([1, None, 1], 0, [8, 8, None]) == pytest.approx([2.0, math.nan, math.nan], nan_ok=True)


def test_parabola_by_the_textbook():
    """f = w L²/8H; S = L sec + w² L³/(24 sec³ H²) against the arc by numbers; heights above the lower support."""
    assert parabola.sag_of_tension(12.0, 200.0, 3000.0) == pytest.approx(20.0)
    assert parabola.tension_of_sag(12.0, 200.0, 20.0) == pytest.approx(3000.0)
    assert parabola.horizontal_weight(10.0, 40.0, 30.0) == pytest.approx(12.5)
    length = parabola.length(12.0, 200.0, 12_000.0, 50.0)
    steps = 100_000
    slopes = (-0.25 + 12 * (200 * (i + 0.5) / steps - 100) / 12_000 for i in range(steps))
    assert length == pytest.approx(math.fsum(math.hypot(1, one) for one in slopes) * 200 / steps, rel=1e-5)
    assert parabola.length(12.0, 200.0, 12_000.0) == parabola.length(12.0, 200.0, 12_000.0, 0.0) < length
    low = parabola.lowest_point(12.0, 200.0, 3000.0, 30.0)
    assert low.from_lower == pytest.approx(100 - 3000 * 30 / 2400)
    assert (low.below_lower, low.below_upper) == pytest.approx((12 * 62.5**2 / 6000, 12 * 137.5**2 / 6000))
    assert (low.above_lower(0.0), low.above_lower(200.0)) == pytest.approx((0.0, 30.0))
    assert low.above_lower(62.5) == pytest.approx(-low.below_lower)
    assert (low.weight, low.tension) == (12.0, 3000.0)


def test_change_of_state_by_its_equation():
    """H2³ + H2² [EA w1² L²/(24 H1²) - H1 + EA alpha dT] = EA w2² L²/24 (READ); what is left out changes nothing."""
    h = parabola.change_of_state(4000.0, 10.0, 14.0, 150.0, 2e6, 1.2e-5, 30.0)
    inside = 2e6 * (10 * 150 / 4000) ** 2 / 24 - 4000 + 2e6 * 1.2e-5 * 30
    assert h**3 + h**2 * inside == pytest.approx(2e6 * (14 * 150) ** 2 / 24)
    for left_out in ({}, {"expansion": 1.2e-5}, {"warmer_by": 30.0}):
        assert parabola.change_of_state(4000.0, 10.0, 10.0, 150.0, 2e6, **left_out) == pytest.approx(4000.0)
