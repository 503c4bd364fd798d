"""The exact cable by its pieces: statics, Hooke's law, integrals; and how short the search for its state has to be.

The definition that pieces are compared with: dx = (H/T + H/EA) ds and d depth = (V/T + V/EA) ds, V falling by w ds
(Irvine, Cable Structures, 1981, ch. 1, from memory).
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from engineering import elastic_catenary
from engineering.elastic_catenary import Hanging, hanging, unstretched_length
from engineering.refusal import Refusal, refuse

G = 9.80665
LINE = (300.0, 18.0, 300.615, 10.297, 10e6)  # the reference line, unstretched
# Span, drop, length, weight, stiffness, loads, and the most steps that its search may take (counted, no source).
CABLES = {
    "taut": (300.0, 18.0, 300.0, 10.3, 1e7, [], 7),
    "zip line": (*LINE, [], 6),
    "rider": (*LINE, [(150.0, 785.0)], 6),
    "two riders": (*LINE, [(100.0, 785.0), (200.0, 1500.0)], 6),
    "slack": (100.0, 0.0, 150.0, 10.0, 1e6, [], 4),
    "slack and steep": (100.0, 60.0, 200.0, 10.0, 1e6, [], 5),
    "very slack": (100.0, 5.0, 1000.0, 10.0, 1e6, [], 5),
    "straight": (300.0, 18.0, 300.0, 0.0, 1e7, [], 0),
    "straight but for a load": (300.0, 18.0, 300.0, 0.0, 1e7, [(100.0, 800.0)], 6),
    "rubber": (100.0, 5.0, 60.0, 10.0, 1e4, [], 3),
    "as long as the chord": (100.0, 0.0, 100.0, 10.0, 1e6, [], 8),
    "stiff and as long as the chord": (100.0, 0.0, 100.0, 10.0, 1e12, [], 6),
}


def ends(cable, weight, stiffness, length, loads=()):
    """Return where a cable with these end forces ends, by adding up its pieces in closed form."""
    h, v, x, depth, at = cable.tension_n, cable.vertical_first_n, 0.0, 0.0, 0.0
    for place, force in [*sorted(loads), (length, 0.0)]:
        s, end = place - at, v - weight * (place - at)
        x += h * s / stiffness + h / weight * (math.asinh(v / h) - math.asinh(end / h))
        depth += s * (v - weight * s / 2) / stiffness + (math.hypot(h, v) - math.hypot(h, end)) / weight
        v, at = end - force, place
    return x, depth


@pytest.mark.parametrize("name", CABLES)
def test_search_is_short(monkeypatch, name):
    """Newton's method doubles the digits with each step: a handful from a good beginning, and none before it."""
    *figures, loads, most = CABLES[name]
    whole = hanging(*figures, loads)
    monkeypatch.setattr(elastic_catenary, "MOST_STEPS", most)
    found = hanging(*figures, loads)

    assert isinstance(found, Hanging)
    assert found.tension_n == pytest.approx(whole.tension_n, rel=1e-9)
    assert found.vertical_first_n == pytest.approx(whole.vertical_first_n, rel=1e-9)


@pytest.mark.parametrize("name", [name for name, cable in CABLES.items() if cable[3]])
def test_search_cut_short_gives_no_figure_or_the_right_one(monkeypatch, name):
    """By the promise: an end that is not where it was asked for is no state."""
    span, drop, length, weight, stiffness, loads, most = CABLES[name]
    refused = 0
    for steps in range(most + 1):
        monkeypatch.setattr(elastic_catenary, "MOST_STEPS", steps)
        found = hanging(span, drop, length, weight, stiffness, loads)
        if isinstance(found, Refusal):
            assert found == refuse("no-solution")
            refused += 1
        else:
            x, depth = ends(found, weight, stiffness, length, loads)
            assert math.hypot(x - span, depth - drop) <= 2e-10 * span
    assert refused >= 1  # at the beginning, before any step


def test_straight_wire_stretches_by_hookes_law():
    """Textbook: T = EA (chord - L0) / L0 along the chord, without a weight; begun with, not searched for."""
    chord = math.hypot(300, 18)
    found = hanging(300.0, 18.0, 300.0, 0.0, 1e7)
    force = 1e7 * (chord - 300) / 300
    assert found.tension_n == pytest.approx(force * 300 / chord, rel=1e-12)
    assert found.vertical_first_n == found.vertical_last_n == pytest.approx(force * 18 / chord, rel=1e-12)
    assert found.greatest_tension_n == pytest.approx(force, rel=1e-12)
    # all but weightless, the same
    light = hanging(300.0, 18.0, 300.0, 1e-9, 1e7)
    assert light.tension_n == pytest.approx(found.tension_n, rel=1e-11)
    assert light.vertical_first_n == pytest.approx(found.vertical_first_n + 150e-9, rel=1e-12)


def test_greatest_tension_is_at_the_steeper_end():
    assert Hanging(3.0, 1.0, -4.0, ()).greatest_tension_n == 5.0
    assert Hanging(3.0, 4.0, 1.0, ()).greatest_tension_n == 5.0
    assert Hanging(3.0, -4.0, -1.0, ()).greatest_tension_n == 5.0


@given(st.floats(10, 1e5), st.floats(-1e5, 1e5), st.floats(0.1, 500), st.floats(1e-6, 1e3), st.floats(1e4, 1e9))
def test_piece_by_integration(h, v, s, weight, stiffness):
    x, depth, *_ = elastic_catenary._piece(h, v, s, weight, stiffness)

    def force(at):
        return v - weight * at

    level = [v / weight] if 0 < v / weight < s else None
    by_sum, _ = quad(
        lambda at: h / math.hypot(h, force(at)) + h / stiffness, 0, s, points=level, epsrel=1e-12, limit=400
    )
    down, _ = quad(
        lambda at: force(at) / math.hypot(h, force(at)) + force(at) / stiffness,
        0,
        s,
        points=level,
        epsabs=1e-9,
        epsrel=1e-12,
        limit=400,
    )
    assert x == pytest.approx(by_sum, rel=1e-8)
    assert depth == pytest.approx(down, rel=1e-8, abs=1e-8 * s)


@pytest.mark.parametrize("weight", [0.0, 1e-9, 1e-3, 9.9e-2, 0.101, 3.0, 40.0])
@pytest.mark.parametrize("v", [-700.0, 0.0, 50.0, 4000.0])
def test_piece_and_its_derivatives(weight, v):
    """Numbers: central differences of where the piece ends. Light pieces (to 0.1 N/m here) take another way."""
    h, s, stiffness = 900.0, 9.0, 2e5

    def piece(h, v):
        return elastic_catenary._piece(h, v, s, weight, stiffness)

    _, _, xh, xv, yv = piece(h, v)
    d = 1e-2
    by_h = [(after - before) / (2 * d) for after, before in zip(piece(h + d, v), piece(h - d, v), strict=True)]
    by_v = [(after - before) / (2 * d) for after, before in zip(piece(h, v + d), piece(h, v - d), strict=True)]
    assert xh == pytest.approx(by_h[0], rel=1e-5, abs=1e-9)
    assert xv == pytest.approx(by_v[0], rel=1e-5, abs=1e-9)
    assert xv == pytest.approx(by_h[1], rel=1e-5, abs=1e-9)
    assert yv == pytest.approx(by_v[1], rel=1e-5, abs=1e-9)


def test_light_piece_and_heavy_piece_meet():
    """Where the one way of reckoning takes over from the other (w s a thousandth of T) both give the same."""
    h, v, s, stiffness = 900.0, 400.0, 9.0, 2e5
    border = 1e-3 * math.hypot(h, v) / s
    light, heavy = (elastic_catenary._piece(h, v, s, border * share, stiffness) for share in (1 - 1e-9, 1 + 1e-9))
    assert light == pytest.approx(heavy, rel=1e-9)


def start(span, drop, length, weight, stiffness, loads=()):
    return elastic_catenary._start(elastic_catenary._Cable(weight, stiffness, length, tuple(loads)), span, drop)


def test_search_begins_at_the_stretched_chord_or_the_parabola():
    """Textbook: sag f by S = L + 8 f² / (3 L), H = w L² / (8 f); supports carry half each, and the chord's slope."""
    sag = 5.0
    h, v = start(300.0, 0.0, 300 + 8 * sag**2 / 900, 10.0, 1e12)
    assert h == pytest.approx(10 * 300**2 / (8 * sag), rel=2e-3)
    assert v == pytest.approx(1500.0, rel=2e-3)
    h, v = start(300.0, 30.0, math.hypot(300, 30) * 300.2 / 300, 10.0, 1e12)
    assert h == pytest.approx(10 * 300 * math.sqrt(300 / (24 * 0.2)), rel=0.02)
    assert v == pytest.approx(h * 0.1 + 1500, rel=0.02)
    # a rider weighs as much as so much cable, halved between the supports
    assert start(300.0, 0.0, 300.2, 0.0, 1e12, [(100.0, 3002.0)])[1] == pytest.approx(1501.0)
    # taut: Hooke's law; between chord and stretch no more than the stiffness; and never nothing
    assert start(300.0, 0.0, 299.0, 0.0, 1e6)[0] == pytest.approx(1e6 / 299)
    assert start(300.0, 0.0, 300.0, 10.0, 1e4)[0] == pytest.approx(1e4)
    assert start(300.0, 0.0, 300.0, 10.0, 1e12)[0] == pytest.approx(3000 * math.sqrt(300 / (24 * 3e-7)))
    assert start(300.0, 0.0, 301.0, 0.0, 1e9)[0] == pytest.approx(1.0)
    chord = math.hypot(30.0, 40.0)
    assert start(30.0, 40.0, 49.0, 0.0, 1e6) == pytest.approx((1e6 / 49 * 30 / chord, 1e6 / 49 * 40 / chord))


def test_load_that_only_one_support_carries_is_no_state():
    """Geometry: 40 m from a support it hangs straight down if the other piece is longer than sqrt(100² + 35²)."""
    reach = math.hypot(100, 35)
    hung = hanging(100.0, 5.0, 40 + reach - 0.1, 0.0, 1e9, [(40.0, 800.0)])
    assert hung.points[0].depth == pytest.approx(40, abs=0.05)
    assert hanging(100.0, 5.0, 40 + reach + 0.1, 0.0, 1e9, [(40.0, 800.0)]).code == "no-solution"


def test_loads_over_the_supports_pull_nothing():
    """Statics: the support carries them; their places are on the cable."""
    bare = hanging(*LINE)
    found = hanging(*LINE, [(0.0, 800.0), (300.615, 500.0)])
    assert found.tension_n == pytest.approx(bare.tension_n, rel=1e-9)
    assert found.vertical_first_n == pytest.approx(bare.vertical_first_n + 800, rel=1e-9)
    assert found.vertical_last_n == pytest.approx(bare.vertical_last_n - 500, rel=1e-9)
    assert [(one.x, one.depth) for one in found.points] == [(0.0, 0.0), pytest.approx((300.0, 18.0))]


def test_weightless_cable_needs_a_stretch_or_a_load():
    assert isinstance(hanging(100.0, 0.0, 99.99, 0.0, 1e6), Hanging)
    assert isinstance(hanging(100.0, 0.0, 101.0, 0.0, 1e6, [(50.0, 10.0)]), Hanging)
    for length in (100.0, 101.0):
        assert hanging(100.0, 0.0, length, 0.0, 1e6) == refuse("figure-impossible", name="weight", value=0.0)
    assert hanging(30.0, 40.0, 50.0, 0.0, 1e6).code == "figure-impossible"
    assert isinstance(hanging(30.0, 40.0, 49.9, 0.0, 1e6), Hanging)


@pytest.mark.parametrize(
    ("figures", "loads", "code", "params"),
    [
        ((None, 0.0, 101.0, 1.0, 1e6), [], "figure-missing", {}),
        ((0.0, 0.0, 101.0, 1.0, 1e6), [], "figure-impossible", {"name": "span", "value": "0"}),
        ((100.0, 0.0, -1.0, 1.0, 1e6), [], "figure-impossible", {"name": "length", "value": "-1"}),
        ((100.0, 0.0, 101.0, 1.0, 0.0), [], "figure-impossible", {"name": "stiffness", "value": "0"}),
        ((100.0, math.inf, 101.0, 1.0, 1e6), [], "figure-impossible", {"name": "drop", "value": "inf"}),
        ((100.0, math.nan, 101.0, 1.0, 1e6), [], "figure-missing", {}),
        ((100.0, 0.0, 101.0, None, 1e6), [], "figure-missing", {}),
        ((100.0, 0.0, 101.0, -1.0, 1e6), [], "figure-impossible", {"name": "weight", "value": "-1"}),
        ((100.0, 0.0, 99.0, -1.0, 1e6), [(5.0, 1.0)], "figure-impossible", {"name": "weight", "value": "-1"}),
        ((100.0, 0.0, 101.0, 1.0, 1e6), [(50.0, 0.0)], "figure-impossible", {"name": "load", "value": "0"}),
        ((100.0, 0.0, 101.0, 1.0, 1e6), [(math.inf, 5.0)], "figure-impossible", {"name": "place", "value": "inf"}),
        ((100.0, 0.0, 101.0, 1.0, 1e6), [(102.0, 5.0), (50.0, -5.0)], "position-range", {"value": "102"}),
        ((100.0, 0.0, 101.0, 1.0, 1e6), [(-0.5, 5.0), (50.0, 5.0)], "position-range", {"value": "-0.5"}),
        ((100.0, 0.0, 101.0, -1.0, 1e6), [(102.0, 5.0)], "figure-impossible", {"name": "weight", "value": "-1"}),
    ],
)
def test_spoilt_figures_are_refused_by_name(figures, loads, code, params):
    found = hanging(*figures, loads)
    assert isinstance(found, Refusal)
    assert (found.code, dict(found.params)) == (code, params)


@given(st.floats(20, 1000), st.floats(-0.3, 0.5), st.floats(0.005, 1.5), st.floats(0.1, 40), st.floats(1e-4, 0.5))
def test_length_and_tension_belong_together(span, slope, flatness, weight, stretch):
    """The one form undoes the other, from ropes that hardly stretch to rubber; no outside source."""
    tension = weight * span / flatness
    stiffness = tension / stretch
    length = unstretched_length(span, slope * span, tension, weight, stiffness)
    assert hanging(span, slope * span, length, weight, stiffness).tension_n == pytest.approx(tension, rel=1e-7)


def test_unstretched_length_of_a_straight_wire():
    """Hooke's law: L0 = chord / (1 + T / EA), also for a wire twice as long under its tension, or ten times."""
    chord, force = math.hypot(300, 18), 1e5 * math.hypot(300, 18) / 300
    for stiffness in (1e7, 1e5, 1e4):
        found = unstretched_length(300.0, 18.0, 1e5, 1e-3, stiffness)
        assert found == pytest.approx(chord / (1 + force / stiffness), rel=1e-7)
    assert unstretched_length(300.0, 18.0, 1e5, 1e-3, 1e15) == pytest.approx(chord, rel=1e-9)
    assert unstretched_length(0.5, 0.0, 100.0, 1e-6, 1e6) == pytest.approx(0.5 / (1 + 1e-4), rel=1e-9)


@pytest.mark.parametrize("stiffness", [1e5, 1e7, 1e9])
def test_unstretched_length_is_found_in_a_few_steps(monkeypatch, stiffness):
    """Newton's method from the catenary that does not stretch; the count is our own."""
    whole = unstretched_length(300.0, 18.0, 15e3, 10.297, stiffness)
    monkeypatch.setattr(elastic_catenary, "MOST_STEPS", 4)
    assert unstretched_length(300.0, 18.0, 15e3, 10.297, stiffness) == pytest.approx(whole, rel=1e-12)


def test_unstretched_length_begins_with_the_catenary(monkeypatch):
    """Without a step it is the length of the catenary: H = 500 m · w, 300 m: 2 c sinh(L / 2c) (textbook)."""
    monkeypatch.setattr(elastic_catenary, "MOST_STEPS", 0)
    assert unstretched_length(300.0, 0.0, 5000.0, 10.0, 1e9) == pytest.approx(1000 * math.sinh(0.3))


@pytest.mark.parametrize(
    ("figures", "name"),
    [
        ((0.0, 0.0, 1e4, 10.0, 1e6), "span"),
        ((100.0, 0.0, 0.0, 10.0, 1e6), "tension"),
        ((100.0, 0.0, 1e4, 0.0, 1e6), "weight"),
        ((100.0, 0.0, 1e4, 10.0, -1.0), "stiffness"),
    ],
)
def test_lengths_refuse_by_name(figures, name):
    found = unstretched_length(*figures)
    assert (found.code, dict(found.params)["name"]) == ("figure-impossible", name)
