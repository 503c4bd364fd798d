"""Draws and sensitivities on the reference line, against the study made before this code (COMPUTED)."""

import math
from dataclasses import replace

import numpy as np
import pytest

from engineering.envelope import Landing, outcome
from engineering.envelope_draws import Drawn, Spread, draw, normals
from engineering.envelope_sensitivity import NAMES, STATUS, sensitivities, share_lost_per_head_wind
from engineering.line import Air
from engineering.refusal import Refusal
from tests.engineering.test_envelope_map import PLAN

# To the landing support, in air of 1.2 kg/m³ as in the study.
STUDY = replace(PLAN, landing=Landing(300.0, 5.0), air=Air(15.0, 101_325.0 * 1.2 / 1.225))


@pytest.mark.parametrize(("mass", "share"), [(60.0, 0.49), (80.0, 0.22), (100.0, 0.09), (120.0, 0.03)])
def test_how_many_stop_short(mass, share):
    """49 / 22 / 9 / 3 % at 60 / 80 / 100 / 120 kg, to the printed per cent and two standard errors."""
    found = draw(STUDY, mass, 0.0, seed=11, count=4000)
    assert isinstance(found, Drawn)
    error = 2 * found.error * 2 * math.sqrt(share * (1 - share))
    assert found.shares["short"] == pytest.approx(share, abs=0.005 + error)
    assert sum(found.shares.values()) == pytest.approx(1.0)
    assert found.arrival_mps[0] < found.arrival_mps[1] < found.arrival_mps[2]


def test_same_seed_same_figures():
    first, again, other = (draw(PLAN, 80.0, 0.0, seed=seed, count=500) for seed in (7, 7, 8))
    assert first == again
    assert first != other
    assert (first.seed, first.count, first.error) == (7, 500, 0.5 / math.sqrt(500))


def test_the_stream_is_the_frozen_one():
    """First normals of seed 42 of numpy's frozen generator: MEMORY, printed in countless places."""
    assert normals(42, 1, 3)[0] == pytest.approx([0.49671415, -0.1382643, 0.64768854], abs=1e-8)


def test_nothing_uncertain_is_the_cell_itself():
    exact = Spread(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    found = draw(PLAN, 100.0, -1.0, exact, seed=1, count=100, steps=200)
    cell = outcome(PLAN, 100.0, -1.0)
    assert found.shares["ok"] == 1.0
    assert found.arrival_mps == pytest.approx([float(cell.ride.arrival_mps)] * 3)
    assert found.stroke_m == pytest.approx([float(cell.stop.stroke_m)] * 3)
    assert found.peak_g == pytest.approx([float(cell.stop.peak_g)] * 3)


@pytest.mark.parametrize(
    ("name", "sd", "figure"),
    [
        ("head_mps", 0.4, "wind"),
        ("drag_area_m2", 0.02, "drag"),
        ("tension_share", 0.02, "tension"),
        ("rolling", 0.001, "rolling"),
        ("mass_kg", 3.0, "mass"),
        ("temperature_k", 8.0, "temperature"),
    ],
)
def test_one_uncertain_figure_spreads_as_its_sensitivity_says(name, sd, figure):
    """For a small spread: quantiles of a normal distribution, 1.6449 standard deviations either side (textbook)."""
    alone = replace(Spread(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0), **{name: sd})
    found = draw(PLAN, 100.0, -1.0, alone, seed=3, count=4000)
    one = next(row for row in sensitivities(PLAN, 100.0, -1.0, alone) if row.name == figure)
    assert one.share == pytest.approx(1.0)
    low, _, high = found.arrival_mps
    assert (high - low) / 2 == pytest.approx(1.6449 * abs(one.change_mps), rel=0.08)


def test_correlated_rolling_and_drag_all_but_cancel():
    spread = Spread(0.0, 0.004, 0.037, 0.0, 0.0, 0.0, 0.0)
    widths = []
    for correlation in (-0.99, 0.0, 0.99):
        low, _, high = draw(PLAN, 100.0, -1.0, replace(spread, correlation=correlation), seed=3, count=2000).arrival_mps
        widths.append(high - low)
    assert widths[0] < 0.3 * widths[1] < widths[1] < widths[2]


def test_draws_beyond_the_method_are_counted():
    found = draw(PLAN, 149.0, 0.0, Spread(0.0, 0.0, 0.0, 0.0, 0.0, 2.0, 0.0), seed=5, count=2000)
    assert found.shares["outside"] == pytest.approx(0.3085, abs=0.03)  # normal beyond half a deviation: textbook
    crossed = draw(PLAN, 100.0, 0.0, replace(Spread(), cross_mps=3.0), seed=5, count=1000)
    calm = draw(PLAN, 100.0, 0.0, Spread(), seed=5, count=1000)
    assert crossed.arrival_mps[1] < calm.arrival_mps[1]


def test_nobody_arrives():
    found = draw(PLAN, 40.0, 6.0, seed=5, count=200)
    assert found.shares["short"] == 1.0
    assert np.isnan([*found.arrival_mps, *found.stroke_m, *found.peak_g]).all()


def test_wind_rules_the_uncertainty():
    """100 kg: wind 70 %, drag 26 %, rolling 2 %, tension 1 % of the variance (COMPUTED, printed to the per cent)."""
    rows = {one.name: one for one in sensitivities(STUDY, 100.0, 0.0)}
    assert list(rows) == list(NAMES)
    shares = {name: one.share for name, one in rows.items()}
    for name, share in (("wind", 0.70), ("drag", 0.26), ("rolling", 0.02), ("tension", 0.01)):
        assert shares[name] == pytest.approx(share, abs=0.015), name
    assert sum(shares.values()) == pytest.approx(1.0)
    assert rows["tension"].change_mps > 0 > rows["drag"].change_mps
    assert rows["wind"].change_mps < 0
    assert all(one.status == "told" for one in rows.values())
    assert rows["tension"].sd == 750.0


def test_near_a_stall_no_shares_are_told():
    rows = {one.name: one for one in sensitivities(STUDY, 70.0, 0.0)}
    assert rows["wind"].status == "stalls"
    assert rows["wind"].change_mps is None
    assert all(one.share is None for one in rows.values())
    assert rows["tension"].status == "told"
    beyond = {one.name: one for one in sensitivities(STUDY, 149.0, 0.0)}
    assert beyond["mass"].status == "beyond"
    assert all(one.endswith(".") for one in STATUS.values())


def test_a_metre_per_second_more_head_wind():
    """80 kg: +1 m/s takes 62 % of the arrival speed (COMPUTED); 60 kg stops short as it is."""
    plan = replace(PLAN, landing=Landing(300.0, 5.0))
    assert share_lost_per_head_wind(plan, 80.0, 0.0) == pytest.approx(0.62, abs=0.01)
    assert share_lost_per_head_wind(plan, 80.0, 0.5) is None
    assert share_lost_per_head_wind(plan, 60.0, 0.0).code == "no-solution"
    assert share_lost_per_head_wind(plan, None, 0.0).code == "mass-missing"
    assert share_lost_per_head_wind(plan, 80.0, None).code == "wind-missing"
    assert share_lost_per_head_wind(plan, 151.0, 0.0).code == "mass-range"


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (draw(PLAN, None, 0.0, seed=1), "mass-missing"),
        (draw(PLAN, 80.0, None, seed=1), "wind-missing"),
        (draw(PLAN, 80.0, 0.0, Spread(rolling=None), seed=1), "spread-missing"),
        (draw(PLAN, 80.0, 0.0, Spread(head_mps=-1.0), seed=1), "spread-range"),
        (draw(PLAN, 80.0, 0.0, Spread(correlation=-1.1), seed=1), "spread-range"),
        (draw(replace(PLAN, air=Air(None)), 80.0, 0.0, seed=1), "temperature-missing"),
        (sensitivities(PLAN, None, 0.0), "mass-missing"),
        (sensitivities(PLAN, 80.0, None), "wind-missing"),
        (sensitivities(PLAN, 20.0, 0.0), "mass-range"),
        (sensitivities(PLAN, 80.0, 0.0, Spread(tension_share=0.31)), "spread-range"),
        (sensitivities(replace(PLAN, interval_mps=None), 80.0, 0.0), "interval-missing"),
    ],
)
def test_bad_figures_are_refused_by_name(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code


def test_too_few_draws_are_the_programmers_error():
    with pytest.raises(ValueError, match="hundred"):
        draw(PLAN, 80.0, 0.0, seed=1, count=99)
