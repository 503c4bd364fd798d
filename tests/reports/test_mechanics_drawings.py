"""Drawings of a line's mechanics: where things stand, that shapes differ, that map and words say the same.

Places are worked out by hand from the size of the drawing. The sag of a parabola, w L² / (8 H), is textbook statics
(from memory). That a kept map is never that of other figures is checked with figures changed one by one.
"""

from __future__ import annotations

import doctest
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from types import ModuleType
from typing import Any
from unittest import mock
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from engineering.brakes import Spring
from engineering.envelope import Landing, Map, Plan, weight_wind_map
from engineering.envelope_band import Posted
from engineering.envelope_cells import CELL_NAMES, CELLS, StopLimits
from engineering.line import G_MPS2, Air, Cable, Line, Rider
from engineering.refusal import Refusal
from inspections import kept_maps
from reports import cell_shapes, course_units, side_view, weight_wind
from reports.cell_shapes import SHAPES, shape_d
from reports.charts import BOTTOM, LEFT, RIGHT, TOP, Drawing, svg
from reports.course_units import CourseUnits
from reports.map_drawing import TONES, drawing_of
from reports.side_charts import seen_from_the_side, speeds_along
from reports.side_view import SideView
from reports.side_view import side_view as view_of
from reports.weight_wind import axes, runs

LINE = Line(300.0, 18.0, Cable(1.05, 10e6), 15_000.0)
PLAN = Plan(
    LINE, Landing(294.0, 5.0), [Spring(1200.0, 200.0, 3.0)], Rider(None), Air(15.0), StopLimits(mean_g=3.0, peak_g=6.0)
)
POSTED = Posted(40.0, 120.0, 6.0, 4.0)
METRIC = CourseUnits("metric")


def seen(*masses: float, head: float = 0.0) -> SideView:
    found = view_of(PLAN, masses, head)
    assert isinstance(found, SideView)
    return found


def made(tested: tuple[float, float] | None = None, plan: Plan = PLAN) -> Map:
    grid = axes(POSTED, tested)
    assert not isinstance(grid, Refusal)
    found = weight_wind_map(plan, *grid)
    assert isinstance(found, Map)
    return found


@pytest.mark.parametrize("module", [cell_shapes, course_units, side_view, weight_wind])
def test_examples_hold(module: ModuleType) -> None:
    assert doctest.testmod(module).attempted > 0
    assert doctest.testmod(module).failed == 0


# --- from the side


def test_cable_alone_hangs_as_a_parabola() -> None:
    view = seen(100.0, 50.0)
    weight = 1.05 * G_MPS2 * np.hypot(1.0, 18.0 / 300.0)
    sag = weight * 300.0**2 / (8 * 15_000.0)
    assert view.bare_m[50] == pytest.approx(-9.0 - sag, abs=1e-6)
    assert (view.bare_m[0], view.bare_m[-1]) == pytest.approx((0.0, -18.0))


def test_heavier_rider_hangs_lower_and_is_named_first() -> None:
    view = seen(50.0, 100.0)
    heavy, light = view.riders
    assert (heavy.mass_kg, light.mass_kg) == (100.0, 50.0)
    inside = slice(1, -1)
    assert np.all(heavy.height_m[inside] < light.height_m[inside])
    assert np.all(light.height_m[inside] < view.bare_m[inside])


def test_speeds_end_where_the_ride_ends() -> None:
    heavy, light = seen(100.0, 40.0).riders
    assert heavy.arrival_mps is not None
    assert heavy.short_m is None
    assert heavy.stops_m is not None
    assert heavy.end_m == heavy.stops_m
    assert 294.0 < heavy.stops_m < 299.0
    assert light.arrival_mps is None
    assert light.short_m is not None
    assert light.short_m == light.end_m
    assert np.isnan(light.speed_mps[seen(100.0).x_m > light.short_m]).all()
    assert not np.isnan(heavy.speed_mps[seen(100.0).x_m <= 294.0]).any()


@pytest.mark.parametrize(("head", "code"), [(None, "wind-missing"), (20.0, "wind-range")])
def test_missing_or_impossible_wind_refuses(head: float | None, code: str) -> None:
    found = view_of(PLAN, [80.0], head)
    assert isinstance(found, Refusal)
    assert found.code == code
    assert view_of(replace(PLAN, air=Air(None)), [80.0], 0.0).code == "temperature-missing"  # type: ignore[union-attr]


def path(drawing: Drawing, role: str) -> tuple[tuple[float, float], ...]:
    (found,) = [one for one in drawing.paths if one.role == role]
    return found.places


def test_both_drawings_have_the_same_places_from_left_to_right() -> None:
    view = seen(100.0, 40.0)
    heights, speeds = seen_from_the_side(view, METRIC), speeds_along(view, METRIC)
    assert (path(heights, "heavy")[0][0], path(heights, "heavy")[-1][0]) == (LEFT, RIGHT)
    zone = [round(LEFT + (RIGHT - LEFT) * at / 300.0, 1) for at in (294.0, 299.0)]
    for one in (heights, speeds):
        corners = path(one, "zone")
        assert sorted({x for x, _y in corners}) == zone
        assert {y for _x, y in corners} == {TOP, BOTTOM}
    assert path(speeds, "heavy")[-1][0] == zone[0]
    ends = {one.role: one.x for one in speeds.dots}
    assert ends["heavy-stop"] > zone[0] > ends["light-short"]
    assert ends == {one.role: one.x for one in heights.dots}


def test_faster_and_higher_are_drawn_higher() -> None:
    view = seen(100.0, 60.0)
    speeds = path(speeds_along(view, METRIC), "heavy")
    assert speeds[0][1] == BOTTOM  # at rest at the launch
    assert min(y for _x, y in speeds) == speeds[int(np.nanargmax(view.riders[0].speed_mps))][1]
    heights = seen_from_the_side(view, METRIC)
    assert path(heights, "bare")[50][1] < path(heights, "light")[50][1] < path(heights, "heavy")[50][1]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_drawings_are_well_formed_and_say_what_they_show(units: str) -> None:
    view, own, about = seen(100.0, 40.0), CourseUnits(units), ""
    for drawing in (seen_from_the_side(view, own), speeds_along(view, own)):
        root = ET.fromstring(str(svg(drawing, "one")))  # noqa: S314 - our own drawing
        about = root.findtext("desc") or ""
        assert root.findtext("title")
        assert about
        assert ("ft" in about or "mph" in about) is (units == "us")
    assert "stops short" in about


# --- the map


def test_every_state_has_a_shape_of_its_own() -> None:
    assert set(SHAPES) == set(CELLS) == set(TONES)
    assert len({shape_d(name, 0.0, 0.0, 100.0) for name in SHAPES}) == len(CELLS)
    for rings in SHAPES.values():
        assert all(abs(x) <= 1.0 and abs(y) <= 1.0 for ring in rings for x, y in ring)
    assert TONES["ok"] == ""  # what is computed never wears the tone of what was checked


@pytest.mark.parametrize("tested", [None, (45.0, 120.0), (30.0, 140.0)])
def test_grid_holds_the_ends_of_what_is_posted_and_tested(tested: tuple[float, float] | None) -> None:
    grid = axes(POSTED, tested)
    assert not isinstance(grid, Refusal)
    masses, winds = grid
    assert {40.0, 120.0} <= set(masses.tolist())
    assert {-4.0, 6.0} <= set(winds.round(12).tolist())
    assert masses[0] < 40.0
    assert masses[-1] > 120.0
    assert masses.size == 15 + (tested == (45.0, 120.0))
    assert winds.size == 21


def test_grid_stays_within_the_range_of_the_method() -> None:
    grid = axes(Posted(26.0, 149.0, 15.0, 15.0), None)
    assert not isinstance(grid, Refusal)
    assert (grid[0][0], grid[0][-1], grid[1][0], grid[1][-1]) == (25.0, 150.0, -15.0, 15.0)


def test_nothing_posted_has_no_map() -> None:
    found = axes(Posted(40.0, None, 6.0, 4.0), None)
    assert isinstance(found, Refusal)
    assert found.code == "posted-missing"


def test_frames_lie_around_the_cells_that_they_frame() -> None:
    one = made((45.0, 120.0))
    found = drawing_of(one, POSTED, (45.0, 120.0), (120.0, 6.0))
    row, column = (int(np.argmin(np.abs(axis - end))) for axis, end in ((one.masses_kg, 120.0), (one.winds_mps, -4.0)))
    assert found.posted.x == pytest.approx(found.left + column * found.side)
    assert found.posted.y == pytest.approx(found.bottom - (row + 1) * found.side)
    assert found.tested is not None
    # The lightest tested weight is one row above the lightest posted one.
    assert found.posted.y + found.posted.height - (found.tested.y + found.tested.height) == pytest.approx(
        found.side + 4.0
    )
    assert found.asked is not None
    assert found.asked[0] == pytest.approx(found.posted.x + found.posted.width - found.side / 2)
    assert found.asked[1] == pytest.approx(found.posted.y + found.side / 2)
    assert drawing_of(one, POSTED, None, (24.0, 0.0)).asked is None
    assert drawing_of(one, POSTED, (10.0, 20.0)).tested is None


def test_each_cell_is_drawn_once() -> None:
    one = made()
    drawn = {name: d for name, _tone, d in drawing_of(one, POSTED, None).cells}
    for name in CELL_NAMES:
        count = int((one.state == CELL_NAMES.index(name)).sum())
        assert drawn.get(name, "").count("M") == count * len(SHAPES[name])
    assert set(drawn) >= {"ok", "short"}


def test_words_say_every_cell() -> None:
    one = made()
    for row in range(one.masses_kg.size):
        told = runs(one, row)
        winds = one.winds_mps
        spread = [run.state for run in told for wind in winds if run.from_mps <= wind <= run.to_mps]
        assert spread == [CELL_NAMES[state] for state in one.state[row]]
        assert all(before.state != after.state for before, after in pairwise(told))


# --- kept maps


@pytest.fixture
def counted() -> Iterator[Any]:
    kept_maps.forget()
    with mock.patch.object(kept_maps, "weight_wind_map", wraps=kept_maps.weight_wind_map) as computing:
        yield computing
    kept_maps.forget()


GRID = (np.array([60.0, 100.0]), np.array([-2.0, 2.0]))
CHANGES: dict[str, Any] = {
    "tension": {"line": replace(LINE, tension_n=15_001.0)},
    "cable": {"line": replace(LINE, cable=Cable(1.05, 10e6, expansion_per_k=1.21e-5))},
    "air": {"air": Air(15.1)},
    "pressure": {"air": Air(15.0, 101_326.0)},
    "brake": {"parts": [Spring(1200.1, 200.0, 3.0)]},
    "zone": {"landing": Landing(294.0, 5.1)},
    "rider": {"rider": Rider(None, 0.51)},
    "limit": {"limits": StopLimits(mean_g=3.0, peak_g=6.1)},
    "launch": {"launch_mps": 0.1},
    "across": {"cross_mps": 0.1},
    "interval": {"interval_mps": 0.1},
    "by weight": {"drag_by_weight": True},
    "cable's temperature": {"cable_c": 15.2},
}


def test_same_figures_are_computed_once(counted: Any) -> None:
    first = kept_maps.map_of(PLAN, *GRID)
    assert kept_maps.map_of(replace(PLAN, parts=list(PLAN.parts)), GRID[0].copy(), GRID[1].copy()) is first
    assert counted.call_count == 1


@pytest.mark.parametrize("what", CHANGES)
def test_any_other_figure_is_computed_anew(counted: Any, what: str) -> None:
    kept_maps.map_of(PLAN, *GRID)
    changed = replace(PLAN, **CHANGES[what])
    found = kept_maps.map_of(changed, *GRID)
    assert counted.call_count == 2
    assert isinstance(found, Map)
    assert found.plan == changed


def test_another_grid_is_computed_anew(counted: Any) -> None:
    kept_maps.map_of(PLAN, *GRID)
    kept_maps.map_of(PLAN, np.array([60.0, 100.5]), GRID[1])
    kept_maps.map_of(PLAN, GRID[0], np.array([-2.0, 2.5]))
    assert counted.call_count == 3


def test_only_so_many_are_kept_and_the_least_used_goes(counted: Any) -> None:
    with mock.patch.object(kept_maps, "MOST", 2):
        plans = [replace(PLAN, launch_mps=speed) for speed in (0.1, 0.2, 0.3)]
        for one in (plans[0], plans[1], plans[0], plans[2]):
            kept_maps.map_of(one, *GRID)
        assert counted.call_count == 3
        kept_maps.map_of(plans[0], *GRID)
        assert counted.call_count == 3
        kept_maps.map_of(plans[1], *GRID)
        assert counted.call_count == 4
