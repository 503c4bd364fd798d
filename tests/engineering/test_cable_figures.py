"""The loaded cable's figures by hand: a level span whose numbers come out even, and refusals to the digit.

H, heights and slopes by the moments of a simple beam (eng.libretexts.org, "6.2 Cables", READ), own algebra besides.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from engineering.cable import (
    Loaded,
    Span,
    at_measured_tension,
    loaded,
    loaded_exact,
    loaded_sag_share,
    span_of,
    tension_at,
)
from engineering.elastic_catenary import hanging, unstretched_length
from engineering.line import G_MPS2, Cable, Line
from engineering.refusal import refuse
from engineering.rest_point import rest_point

REFERENCE = Line(300.0, 18.0, Cable(1.05, 10e6), 15e3)
# 200 m, 10 m down, 8 N/m; a tension that is kept.
KEPT = Span(200.0, 10.0, 8.0, math.hypot(1, 0.05), 2e-5, 0.3, 4000.0)
GIVES = replace(KEPT, kept_tension=None)


def test_span_by_hand():
    """500 N at 50 m of 200: moments 500 · 50 · 150 / 200 = 18 750 N m and 8 · 50 · 150 / 2 = 30 000 N m."""
    assert KEPT.height(50.0, 500.0, 4000.0) == pytest.approx(-2.5 - (18_750 + 30_000) / 4000)
    # vertical forces before and after the load: 375 + 800 - 400 and 125 less than 800 - 400 downwards
    before, after = KEPT.slopes(50.0, 500.0, 4000.0)
    assert before == pytest.approx(-0.05 - (375 + 400) / 4000)
    assert after == pytest.approx(-0.05 - (400 - 125) / 4000)
    assert KEPT.driving_slope(50.0, 500.0, 4000.0) == pytest.approx((before + after) / 2, rel=1e-12)
    assert KEPT.driving_slope(100.0, 500.0, 4000.0) == pytest.approx(-0.05)
    assert KEPT.tension(50.0, 500.0) == 4000.0
    assert KEPT.tension(np.array([1.0, 2.0]), 500.0).tolist() == [4000.0, 4000.0]


def test_spread_is_the_integral_of_the_squared_shear():
    """The definition, by numbers: shear 375 + 800 - 8 x before the load, 500 less after it, about its mean (nought)."""
    x = np.linspace(0.0, 200.0, 400_001)
    shear = 375 + 800 - 8 * x - np.where(x > 50, 500, 0)
    assert KEPT.spread(50.0, 500.0) == pytest.approx(np.trapezoid(shear**2, x), rel=1e-5)
    assert KEPT.spread(0.0, 500.0) == pytest.approx(64 * 200**3 / 12)


def test_tension_solves_the_cubic():
    """compliance H³ - shortage H² = I / (2 sec³): stretched length less chord is what the sag adds (own algebra)."""
    h = float(GIVES.tension(50.0, 500.0))
    assert 2e-5 * h**3 - 0.3 * h**2 == pytest.approx(GIVES.spread(50.0, 500.0) / (2 * math.hypot(1, 0.05) ** 3))


def test_potential_is_the_work_of_the_driving_slope():
    """Its derivative by numbers, with a tension that is kept and with one that is not."""
    for span in (KEPT, GIVES):

        def energy(at, span=span):
            return float(span.potential(at, 500.0, span.tension(at, 500.0)))

        for place in (20.0, 90.0, 170.0):
            slope = (energy(place + 0.01) - energy(place - 0.01)) / 0.02
            drive = float(span.driving_slope(place, 500.0, span.tension(place, 500.0)))
            assert slope == pytest.approx(drive, abs=1e-8)


def test_figures_of_a_line():
    """sec² = 1 + (h/L)²; stretch per newton L sec²/EA + sec/k; shortage: that, less sag and warmth (own algebra)."""
    line = Line(200.0, 24.0, Cable(1.2, 8e6, 1e-5), 9000.0, 10.0, anchor_n_per_m=4e5)
    sec = math.hypot(1.0, 0.12)
    span = span_of(line, 30.0)
    weight, compliance = 1.2 * 9.80665 * sec, 200 * sec**2 / 8e6 + sec / 4e5
    assert (span.length, span.drop, span.secant) == (200.0, 24.0, sec)
    assert span.weight == pytest.approx(weight)
    assert span.compliance == pytest.approx(compliance)
    sagging = weight**2 * 200**3 / (24 * sec**3 * 9000**2)
    assert span.shortage == pytest.approx(compliance * 9000 - sagging - 1e-5 * 20 * 200 * sec)
    assert span.kept_tension is None
    assert float(span_of(line, 10.0).tension(0.0, 0.0)) == pytest.approx(9000.0)
    assert float(span_of(line, 10.0, 8000.0).tension(0.0, 0.0)) == pytest.approx(8000.0)
    kept = replace(line, constant_tension=True)
    assert span_of(kept, 10.0).kept_tension == 9000.0
    assert span_of(kept, 10.0, 8000.0).kept_tension == 8000.0
    stiff = span_of(replace(line, anchor_n_per_m=None), 30.0)
    assert stiff.compliance == pytest.approx(200 * sec**2 / 8e6)


def test_figures_under_a_rider():
    """Vertical equilibrium, textbook: the two supports carry rider and cable, each along the cable's end."""
    one = loaded(REFERENCE, 80.0, 100.0)
    h, load = one.tension_n, 80 * G_MPS2
    own = 1.05 * G_MPS2 * math.hypot(1, 0.06) * 300
    assert h == pytest.approx(float(span_of(REFERENCE, 15.0).tension(100.0, load)))
    first = h * 0.06 + own / 2 + load * 2 / 3
    last = own / 2 + load / 3 - h * 0.06
    assert one.launch_tension_n == pytest.approx(math.hypot(h, first))
    assert one.landing_tension_n == pytest.approx(math.hypot(h, last))
    assert (one.slope_after - one.slope_before) * h == pytest.approx(load)
    assert one.driving_slope == pytest.approx((one.slope_before + one.slope_after) / 2)
    assert one.height_m == pytest.approx(-6 - (load * 100 * 200 / 300 + own * 100 * 200 / 600) / h)
    assert all(isinstance(value, float) for value in vars(one).values())
    two = loaded(REFERENCE, 80.0, np.array([100.0, 0.0]))
    assert isinstance(two, Loaded)
    assert [value[0] for value in vars(two).values()] == pytest.approx(list(vars(one).values()))
    # a place may be an end, and the temperature its own
    assert loaded(REFERENCE, 80.0, 0.0).height_m == 0.0
    assert loaded(REFERENCE, 80.0, 300.0).height_m == pytest.approx(-18.0)
    assert loaded(REFERENCE, 80.0, 100.0, 15.0) == one
    assert loaded(REFERENCE, 80.0, 100.0, 0.0).tension_n > h
    share = loaded_sag_share(span_of(REFERENCE, 15.0), load)
    assert float(share) == pytest.approx(-(loaded(REFERENCE, 80.0, 150.0).height_m + 9) / 300)


def test_exact_form_at_its_place():
    """The rider where he was asked for, on the cable whose unstretched length gives the tension (one on the other)."""
    weight = 1.05 * G_MPS2
    for place in (0.3, 1.0, 100.0, 299.0, 299.7):
        found = loaded_exact(REFERENCE, 80.0, place)
        assert found.points[0].x == pytest.approx(place, abs=3e-8)
        assert found.vertical_first_n - found.vertical_last_n == pytest.approx(
            80 * G_MPS2 + weight * unstretched_length(300.0, 18.0, 15e3, weight, 10e6)
        )
    climbs = Line(300.0, -15.0, Cable(1.05, 10e6), 36e3)  # its beginning lies flatter than its chord
    assert loaded_exact(climbs, 25.0, 0.3).points[0].x == pytest.approx(0.3, abs=3.1e-8, rel=0.0)
    # a rope of 3 kg/m whose anchors give by a metre per 20 N runs far along with its rider
    heavy = Line(300.0, 18.0, Cable(3.0, 1.05e7), 20e3, anchor_n_per_m=20.0)
    for place in (3.0, 150.0, 299.0):
        assert loaded_exact(heavy, 150.0, place).points[0].x == pytest.approx(place, abs=3.1e-8, rel=0.0)
    warm = loaded_exact(REFERENCE, 80.0, 100.0, 40.0)
    longer = 1 + 1.2e-5 * 25
    length = unstretched_length(300.0, 18.0, 15e3, weight, 10e6) * longer
    bare = hanging(300.0, 18.0, length, weight / longer, 10e6)
    assert tension_at(REFERENCE, 40.0) == pytest.approx(bare.tension_n, rel=1e-3)
    assert warm.vertical_first_n - warm.vertical_last_n == pytest.approx(80 * G_MPS2 + weight / longer * length)
    assert warm.tension_n < loaded_exact(REFERENCE, 80.0, 100.0).tension_n - 300
    assert loaded_exact(REFERENCE, 80.0, 100.0, 15.0) == loaded_exact(REFERENCE, 80.0, 100.0)
    soft = replace(REFERENCE, anchor_n_per_m=1e5)
    as_soft = replace(REFERENCE, cable=Cable(1.05, 1 / (1 / 10e6 + 1 / (1e5 * math.hypot(300, 18)))))
    assert loaded_exact(soft, 80.0, 100.0).tension_n == pytest.approx(loaded_exact(as_soft, 80.0, 100.0).tension_n)


SLACK = Line(300.0, 18.0, Cable(0.5, 4e6), 3.6e3)


def percent(line, mass, temperature=15.0):
    return 100 * float(loaded_sag_share(span_of(line, temperature), mass * G_MPS2))


@pytest.mark.parametrize(
    ("found", "refusal"),
    [
        (loaded(REFERENCE, 24.0, 10.0), refuse("mass-range", value=24.0, low=25, high=150)),
        (loaded(REFERENCE, 80.0, -1.0), refuse("position-range", value=-1.0)),
        (loaded(REFERENCE, 80.0, np.array([1.0, 301.0, -2.0])), refuse("position-range", value=301.0)),
        (loaded(REFERENCE, 80.0, [1.0, None]), refuse("position-range", value=math.nan)),
        (loaded(REFERENCE, 80.0, 10.0, 61.0), refuse("temperature-range", value=61.0, low=-50, high=60)),
        (loaded(SLACK, 150.0, 10.0), refuse("sag-high", value=percent(SLACK, 150.0), limit=6)),
        (loaded_exact(REFERENCE, 24.0, 10.0), refuse("mass-range", value=24.0, low=25, high=150)),
        (loaded_exact(REFERENCE, 80.0, 0.0), refuse("position-range", value=0.0)),
        (loaded_exact(REFERENCE, 80.0, 300.0), refuse("position-range", value=300.0)),
        (loaded_exact(REFERENCE, 80.0, 10.0, 61.0), refuse("temperature-range", value=61.0, low=-50, high=60)),
        (loaded_exact(replace(REFERENCE, constant_tension=True), 80.0, 10.0), refuse("no-solution")),
        (loaded_exact(replace(REFERENCE, tension_n=None), 80.0, 10.0), refuse("tension-missing")),
        (loaded_exact(replace(REFERENCE, reference_c=None), 80.0, 10.0), refuse("temperature-missing")),
        (loaded_exact(replace(REFERENCE, reference_c=None), 80.0, 10.0, 15.0), refuse("temperature-missing")),
        (tension_at(REFERENCE, None), refuse("temperature-missing")),
        (tension_at(replace(REFERENCE, span_m=None), 15.0), refuse("span-missing")),
        (span_of(replace(REFERENCE, reference_c=None), 15.0), refuse("temperature-missing")),
        (span_of(replace(REFERENCE, cable=Cable(None, 10e6)), 15.0), refuse("cable-mass-missing")),
        (rest_point(REFERENCE, 24.0), refuse("mass-range", value=24.0, low=25, high=150)),
        (rest_point(REFERENCE, 80.0, 0.06), refuse("rolling-range", value=0.06, low=0, high=0.05)),
        (rest_point(REFERENCE, 80.0, 0.01, 61.0), refuse("temperature-range", value=61.0, low=-50, high=60)),
        (rest_point(replace(REFERENCE, span_m=None), 80.0), refuse("span-missing")),
        (rest_point(SLACK, 150.0), refuse("sag-high", value=percent(SLACK, 150.0), limit=6)),
        (rest_point(Line(300.0, 43.0, Cable(1.05, 10e6), 25e3), 40.0), refuse("rest-none")),
    ],
)
def test_refusals_name_their_figures(found, refusal):
    assert found == refusal


def test_unloaded_sag_of_a_warm_day_is_named():
    warm = Line(300.0, 18.0, Cable(1.05, 10e6), 6.5e3, -50.0)
    tension = float(span_of(warm, 60.0).tension(0.0, 0.0))
    sag = 100 * 1.05 * G_MPS2 * math.hypot(1, 0.06) * 300 / 8 / tension
    assert tension_at(warm, 60.0) == refuse("sag-high", value=sag, limit=6)
    assert tension_at(warm, -50.0) == pytest.approx(6.5e3)


def test_rest_by_hand():
    """With a tension kept the driving slope is straight: -h/L - (L - 2a)(W + P)/(2 L H) is nought in one place."""
    kept = replace(REFERENCE, constant_tension=True)
    both = 1.05 * G_MPS2 * math.hypot(1, 0.06) * 300 + 80 * G_MPS2

    def place(slope):
        return 150 + (slope + 0.06) * 300 * 15e3 / both

    found = rest_point(kept, 80.0, 0.02)
    assert found.middle_m == pytest.approx(place(0.0), abs=1e-9)
    assert found.first_m == pytest.approx(place(-0.02), abs=1e-9)
    assert found.last_m == pytest.approx(place(0.02), abs=1e-9)
    assert rest_point(kept, 80.0) == rest_point(kept, 80.0, 0.01, 15.0)
    assert rest_point(REFERENCE, 80.0, 0.01, 35.0).middle_m < rest_point(REFERENCE, 80.0).middle_m
    # a line that climbs and is taut holds from the launch on; where rolling holds to the very end
    climbs = Line(300.0, -15.0, Cable(1.05, 10e6), 36e3, constant_tension=True)
    assert rest_point(climbs, 25.0, 0.05).first_m == pytest.approx(0.0, abs=1e-9)
    assert rest_point(kept, 80.0, 0.05).last_m == pytest.approx(min(place(0.05), 300.0), abs=1e-9)
    assert rest_point(replace(kept, tension_n=18e3), 45.0, 0.05).last_m == pytest.approx(300.0, abs=1e-9)


def test_measured_tension():
    today = at_measured_tension(replace(REFERENCE, anchor_n_per_m=1e5), 14_000.0, 35.0)
    assert today == replace(REFERENCE, anchor_n_per_m=1e5, tension_n=14_000.0, reference_c=35.0)
