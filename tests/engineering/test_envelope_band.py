"""The day's band: from maps whose states are laid by hand, so that each edge is known (definitions, no source)."""

from dataclasses import replace

import numpy as np
import pytest

from engineering.brakes_stop import Stop
from engineering.envelope import Map, Outcome, weight_wind_map
from engineering.envelope_band import EDGES, Band, Posted, day_band, grid
from engineering.envelope_cells import CELL_NAMES, CELLS
from engineering.refusal import Refusal
from engineering.ride import Ride
from tests.engineering.test_envelope_map import PLAN

POSTED = Posted(40.0, 120.0, 4.0, 4.0)
MASSES = np.array([40.0, 60.0, 80.0, 100.0, 120.0])
WINDS = np.array([-4.0, -2.0, 0.0, 2.0, 4.0])
LETTERS = {".": "ok", "l": "slow", "s": "short", "n": "near-bind", "h": "hard", "b": "bind", "?": "unknown"}


def laid(*rows, masses=MASSES, winds=WINDS):
    """A map by its states, a row for each weight."""
    state = np.array([[CELL_NAMES.index(LETTERS[one]) for one in row] for row in rows], np.int8)
    nothing = np.full(state.shape, np.nan)
    no_ride = Ride(state * 0, nothing, nothing, nothing, nothing, nothing)
    no_stop = Stop(state * 0, *[nothing] * 11, nothing.astype(bool), nothing)
    return Map(PLAN, masses, winds, Outcome(state, no_ride, no_stop), 200)


ALL = laid(".....", ".....", ".....", ".....", ".....")
USUAL = laid("...ss", "....s", ".....", "n....", "bn...")


def edges(found):
    assert isinstance(found, Band), found
    return [(one.value, one.set_by) for one in (found.least, found.most, found.tail, found.head)]


def test_all_good_is_what_is_posted_and_no_more():
    assert edges(day_band({"new": ALL}, POSTED, 0.0, 0.0)) == [
        (40.0, "posted"),
        (120.0, "posted"),
        (-4.0, "posted"),
        (4.0, "posted"),
    ]
    narrower = Posted(50.0, 110.0, 3.0, 1.0)
    assert edges(day_band({"new": ALL}, narrower, 0.0, 0.0)) == [
        (60.0, "map"),
        (100.0, "map"),
        (0.0, "map"),
        (2.0, "map"),
    ]


def test_edges_name_what_is_beyond_them():
    found = day_band({"new": USUAL}, POSTED, 0.0, 0.0)
    assert edges(found) == [(40.0, "posted"), (120.0, "posted"), (0.0, "near-bind"), (0.0, "short")]
    assert found.head.of_map == "new"
    assert found.head.sentence == "Beyond it a rider stops short of the brake."
    assert found.least.of_map == ""
    windy = day_band({"new": USUAL}, POSTED, 2.0, 0.0)
    assert edges(windy) == [(60.0, "short"), (120.0, "posted"), (0.0, "near-bind"), (2.0, "short")]
    tail = day_band({"new": USUAL}, POSTED, -2.0, 0.0)
    assert edges(tail) == [(40.0, "posted"), (100.0, "near-bind"), (-2.0, "near-bind"), (0.0, "short")]


def test_wind_between_two_columns_takes_both():
    assert edges(day_band({"new": USUAL}, POSTED, 1.0, 0.0))[0] == (60.0, "short")
    assert edges(day_band({"new": USUAL}, POSTED, 0.0, 0.1))[:2] == [(60.0, "short"), (100.0, "near-bind")]
    assert edges(day_band({"new": USUAL}, POSTED, 0.0, 2.0))[:2] == [(60.0, "short"), (100.0, "near-bind")]


def test_a_single_weight_is_no_band():
    one = laid("sssss", "sssss", ".....", "bbbbb", "bbbbb")
    assert day_band({"new": one}, POSTED, 0.0, 0.0).code == "band-none"
    two = laid("sssss", "sssss", ".....", ".....", "bbbbb")
    assert edges(day_band({"new": two}, POSTED, 0.0, 0.0))[:2] == [(80.0, "short"), (100.0, "bind")]
    assert day_band({"new": USUAL}, POSTED, 0.0, 2.1).code == "band-none"


def test_the_widest_run_of_weights():
    gap = laid(".....", ".....", "hhhhh", ".....", ".....")
    later = laid(".....", ".....", "hhhhh", ".....", ".....", masses=np.array([40.0, 59.0, 80.0, 100.0, 120.0]))
    assert edges(day_band({"new": gap}, POSTED, 0.0, 0.0))[:2] == [(40.0, "posted"), (60.0, "hard")]
    assert edges(day_band({"new": later}, POSTED, 0.0, 0.0))[:2] == [(100.0, "hard"), (120.0, "posted")]


def test_good_only_where_every_map_is():
    worn, alone = laid(".....", ".....", ".....", ".....", "bbbbb"), laid("hhhhh", ".....", ".....", ".....", ".....")
    found = day_band({"new": ALL, "worn": worn, "emergency-alone": alone}, POSTED, 0.0, 0.0)
    assert edges(found)[:2] == [(60.0, "hard"), (100.0, "bind")]
    assert (found.least.of_map, found.most.of_map) == ("emergency-alone", "worn")


def test_never_wider_than_the_ballast_of_the_last_days():
    found = day_band({"new": ALL}, POSTED, 0.0, 0.0, tested=(60.0, 100.0))
    assert edges(found)[:2] == [(60.0, "tested"), (100.0, "tested")]
    wider = day_band({"new": ALL}, POSTED, 0.0, 0.0, tested=(30.0, 140.0))
    assert edges(wider)[:2] == [(40.0, "posted"), (120.0, "posted")]
    between = day_band({"new": ALL}, POSTED, 0.0, 0.0, tested=(59.0, 101.0))
    assert edges(between)[:2] == [(60.0, "map"), (100.0, "map")]
    assert day_band({"new": ALL}, POSTED, 0.0, 0.0, tested=(100.0, 60.0)).code == "posted-order"


@pytest.mark.parametrize(
    ("found", "code"),
    [
        (day_band({"new": ALL}, POSTED, None, 0.0), "wind-missing"),
        (day_band({"new": ALL}, POSTED, float("nan"), 0.0), "wind-missing"),
        (day_band({"new": ALL}, POSTED, 15.1, 0.0), "wind-range"),
        (day_band({"new": ALL}, POSTED, 0.0, None), "gust-missing"),
        (day_band({"new": ALL}, POSTED, 0.0, -0.1), "gust-range"),
        (day_band({"new": ALL}, POSTED, 3.5, 0.6), "wind-over"),
        (day_band({"new": ALL}, POSTED, -3.5, 0.6), "wind-over"),
        (day_band({"new": ALL}, replace(POSTED, head_mps=6.0), 5.0, 0.0), "map-narrow"),
        (day_band({"new": ALL}, replace(POSTED, tail_mps=6.0), -5.0, 0.0), "map-narrow"),
        (day_band({"new": ALL}, replace(POSTED, least_kg=None), 0.0, 0.0), "posted-missing"),
        (day_band({"new": ALL}, replace(POSTED, most_kg=200.0), 0.0, 0.0), "posted-range"),
        (day_band({"new": ALL}, replace(POSTED, head_mps=None), 0.0, 0.0), "posted-missing"),
        (day_band({"new": ALL}, replace(POSTED, tail_mps=-1.0), 0.0, 0.0), "posted-wind-range"),
        (day_band({"new": ALL}, replace(POSTED, least_kg=120.0), 0.0, 0.0), "posted-order"),
        (day_band({"new": laid("?????", "?????", "?????", "?????", "?????")}, POSTED, 0.0, 0.0), "band-none"),
        (day_band({"new": ALL}, replace(POSTED, head_mps=15.1), 0.0, 0.0), "posted-wind-range"),
        (day_band({"new": ALL}, POSTED, 0.0, 15.1), "gust-range"),
        (grid(replace(POSTED, most_kg=None)), "posted-missing"),
        (grid(Posted(40.0, 120.0, 0.0, 0.0)), "posted-wind-range"),
    ],
)
def test_no_band_and_why(found, code):
    assert isinstance(found, Refusal)
    assert found.code == code
    assert found.sentence.endswith(".")


def test_at_the_posted_wind_there_is_a_band():
    assert edges(day_band({"new": ALL}, POSTED, 3.5, 0.5))[3] == (4.0, "posted")
    assert edges(day_band({"new": ALL}, POSTED, -3.5, 0.5))[2] == (-4.0, "posted")


def test_grid_has_the_posted_and_the_tested_ends():
    masses, winds = grid(POSTED, (61.3, 118.7))
    assert {40.0, 61.3, 118.7, 120.0} <= set(masses.tolist())
    assert masses.size == 17
    assert (winds[0], winds[-1], winds.size) == (-4.0, 4.0, 21)
    assert grid(POSTED, (40.0, 130.0))[0].size == 15
    assert grid(Posted(40.0, 120.0, 0.05, 0.0))[1][-1] == 0.05
    assert grid(Posted(40.0, 120.0, 15.0, 15.0))[1][0] == -15.0


def test_band_of_a_real_map():
    masses, winds = grid(Posted(60.0, 110.0, 2.0, 4.0), (62.0, 108.0))
    maps = {"new": weight_wind_map(PLAN, masses, winds)}
    found = day_band(maps, Posted(60.0, 110.0, 2.0, 4.0), -1.0, 0.5, (62.0, 108.0))
    assert edges(found)[:2] == [(62.0, "tested"), (108.0, "tested")]
    assert (found.head.set_by, found.tail.set_by) == ("short", "near-bind")
    assert found.tail.value <= -1.5
    assert found.head.value >= -0.5


def test_every_state_can_set_an_edge():
    assert set(EDGES) == {*CELLS, "posted", "tested", "map", "along"} - {"ok"}
    assert all(one.endswith(".") for one in EDGES.values())


def test_maps_of_different_grids_are_the_programmers_error():
    other = laid(".....", ".....", ".....", ".....", ".....", winds=WINDS + 0.1)
    with pytest.raises(ValueError, match="one grid"):
        day_band({"new": ALL, "worn": other}, POSTED, 0.0, 0.0)
    with pytest.raises(ValueError, match="at least one"):
        day_band({}, POSTED, 0.0, 0.0)
