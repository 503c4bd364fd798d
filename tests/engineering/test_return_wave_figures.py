"""The stopwatch's forms by hand, one figure spoilt at a time. f = g (t/N)² / 32: USDA RUS Bulletin 1726C-115, READ."""

import math
from dataclasses import replace

import pytest

from engineering.line import Cable, Line
from engineering.refusal import refuse
from engineering.return_wave import (
    StopwatchSag,
    StopwatchTension,
    sag_of_return,
    stopwatch_sag,
    stopwatch_tension,
    tension_of_return,
    time_of_returns,
)

LINE = Line(200.0, 150.0 * 0.2, Cable(1.0, 10e6), None)
SEC = math.hypot(1.0, 0.15)
HEIGHT = {"drop_m": (0.0, False), "returns": None}
FORMS = [
    (sag_of_return, {"time_s": 12.0, "returns": 3, "gravity": 9.8}, {"time_s": "time", "gravity": "gravity"}, {}),
    (
        tension_of_return,
        {"time_s": 12.0, "returns": 3, "mass_kg_per_m": 1.1, "span_m": 200.0, "drop_m": 30.0},
        {"time_s": "time", "mass_kg_per_m": "mass", "span_m": "span"},
        {"drop_m": "drop"},
    ),
    (
        time_of_returns,
        {"tension_n": 9e3, "returns": 3, "mass_kg_per_m": 1.1, "span_m": 200.0, "drop_m": 30.0},
        {"tension_n": "tension", "mass_kg_per_m": "mass", "span_m": "span"},
        {"drop_m": "drop"},
    ),
]


@pytest.mark.parametrize(("form", "good", "above", "finite"), FORMS)
def test_a_spoilt_figure_is_refused_by_its_name(form, good, above, finite):
    assert isinstance(form(**good), float)
    for figure, name in {**above, **finite}.items():
        for missing in (None, math.nan):
            assert form(**{**good, figure: missing}) == refuse("figure-missing")
        for value in (0.0, -1.0, math.inf) if figure in above else (math.inf, -math.inf):
            assert form(**{**good, figure: value}) == refuse("figure-impossible", name=name, value=value)
    for few in (0, -1, 2.5):
        assert form(**{**good, "returns": few}) == refuse("returns-few")
    assert isinstance(form(**{**good, "returns": 1}), float)
    assert isinstance(form(**{**good, "returns": 50}), float)
    assert form(**{**good, "returns": 51}) == refuse("figure-impossible", name="count of returns", value=51)


def test_forms_by_hand():
    """12 s for 3 returns of a wave over 200 m (inclined: sec times as far): there and back, sqrt(T / m) (textbook)."""
    assert sag_of_return(12.0, 3, 9.8) == pytest.approx(9.8 * 16 / 32)
    assert sag_of_return(4.0) == pytest.approx(9.80665 * 16 / 32)
    tension = 1.1 * (2 * 200 * SEC / 4) ** 2 / SEC  # H = T / sec, T the mean along the cable
    assert tension_of_return(12.0, 3, 1.1, 200.0, 30.0) == pytest.approx(tension)
    assert time_of_returns(tension, 3, 1.1, 200.0, 30.0) == pytest.approx(12.0)
    assert time_of_returns(tension, 3, 1.1, 200.0) == time_of_returns(tension, 3, 1.1, 200.0, 0.0)
    assert tension_of_return(12.0, 3, 1.1, 200.0) == pytest.approx(1.1 * 100**2)


TIME = 6 * math.sqrt(32 * 0.03 * 200 / 9.80665)  # six returns at a sag of 3 %: 26.6 s
HAND = 0.15


def test_tension_and_sag_from_one_time():
    """Every figure that is told: df/f = 2 dt/t, (dH/H)² = (2 dt/t)² + (dm/m)² + (2 dL/L)²."""
    found = stopwatch_tension(LINE, [TIME], 6, mass_share=0.02, span_half_m=1.0)
    assert isinstance(found, StopwatchTension)
    tension = 1.0 * 9.80665 * SEC * 200 / 8 / 0.03
    assert found.tension_n == pytest.approx(tension)
    assert found.mean_tension_n == pytest.approx(tension * SEC)
    share = math.sqrt((2 * HAND / TIME) ** 2 + 0.02**2 + (2 * 1.0 / 200) ** 2)
    assert found.tension_half_n == pytest.approx(share * tension)
    assert (found.sag_m, found.time_s, found.time_half_s) == (pytest.approx(6.0), pytest.approx(TIME), HAND)
    assert found.sag_half_m == pytest.approx(6.0 * 2 * HAND / TIME)
    assert found.suspect_returns == 0
    plain = stopwatch_tension(LINE, [TIME], 6)
    assert plain.tension_half_n == pytest.approx(2 * HAND / TIME * tension)
    alone = stopwatch_sag([TIME], 6)
    assert isinstance(alone, StopwatchSag)
    assert (alone.sag_m, alone.time_s) == (pytest.approx(6.0), pytest.approx(TIME))
    assert (alone.sag_half_m, alone.time_half_s) == (pytest.approx(6.0 * 2 * HAND / TIME), HAND)
    assert stopwatch_sag([TIME], 6, span_m=200.0) == alone
    assert stopwatch_sag([TIME], 6, hand_s=0.3).time_half_s == 0.3


def test_scatter_of_several_times():
    """s = 0.1 s for two, three and eleven times: with t95 = 12.706, 4.303 and 2.262 for nine and more (table)."""
    for times, factor in (([20.0, 20.1 + 0.1 * (math.sqrt(2) - 1)], 12.706), ([20.0, 20.1, 20.2], 4.303)):
        wide = factor * 0.1 / math.sqrt(len(times))
        found = stopwatch_sag(times, 6, hand_s=0.1)
        assert found.time_half_s == pytest.approx(math.hypot(0.1, wide), rel=1e-9)
        assert found.time_s == pytest.approx(sum(times) / len(times))
    eleven = [20.0 + 0.1 * (i % 2) for i in range(11)]
    mean = sum(eleven) / 11
    s = math.sqrt(sum((one - mean) ** 2 for one in eleven) / 10)
    assert stopwatch_sag(eleven, 6, hand_s=0.0).time_half_s == pytest.approx(2.262 * s / math.sqrt(11), rel=1e-9)
    assert stopwatch_sag([20.0], 6, hand_s=0.0).time_half_s == 0.0


def test_times_half_a_return_apart():
    """Two returns of 5 s: times 2.4 s apart may be two hands, 2.6 s are a return missed."""
    assert stopwatch_sag([9.0, 11.4], 2, hand_s=0.0) == refuse("times-scatter", value=2.4)
    assert stopwatch_sag([9.0, 11.6], 2, hand_s=0.0) == refuse("times-differ", value=2.6)
    assert stopwatch_tension(LINE, [9.0, 11.6], 2) == refuse("times-differ", value=2.6)


def test_too_short_for_a_hand():
    """2 dt/t of a tenth at most: at 5 s a return 0.15 s needs 3 s, one return; 0.26 s need 5.2 s, two."""
    assert not hasattr(stopwatch_sag([5.0], 1, hand_s=0.2499), "code")
    assert stopwatch_sag([5.0], 1, hand_s=0.26) == refuse("time-short", returns=2)
    assert stopwatch_sag([5.0], 1, hand_s=0.51) == refuse("time-short", returns=3)
    assert stopwatch_sag([10.0], 2, hand_s=0.51) == refuse("time-short", returns=3)
    assert stopwatch_tension(LINE, [10.0], 2, hand_s=0.76) == refuse("time-short", returns=4)


@pytest.mark.parametrize(("share", "code", "limit"), [(0.0625, "wave-slow", 6), (0.0075, "wave-fast", 1)])
def test_sag_beyond_the_range(share, code, limit):
    time = 6 * math.sqrt(32 * share * 200 / 9.80665)
    assert stopwatch_tension(LINE, [time], 6) == refuse(code, value=100 * share, limit=limit)
    assert stopwatch_sag([time], 6, span_m=200.0) == refuse(code, value=100 * share, limit=limit)
    assert stopwatch_sag([time], 6).sag_m == pytest.approx(share * 200)


def test_tension_at_the_breaking_force():
    tension = 9.80665 * SEC * 200 / 8 / 0.03
    weak = replace(LINE, cable=replace(LINE.cable, breaking_force_n=tension * 0.999))
    assert stopwatch_tension(weak, [TIME], 6) == refuse("tension-impossible", value=tension)
    strong = replace(LINE, cable=replace(LINE.cable, breaking_force_n=tension * 1.001))
    assert stopwatch_tension(strong, [TIME], 6).tension_n == pytest.approx(tension)


def test_miscount():
    """A count that fits what was expected within twice the uncertainty, where the one made does not."""
    tension = 9.80665 * SEC * 200 / 8 / 0.03

    def suspected(expected, counted=6):
        return stopwatch_tension(replace(LINE, tension_n=expected), [TIME], counted).suspect_returns

    assert suspected(tension) == 0
    assert suspected(tension * (5 / 6) ** 2) == 5
    assert suspected(tension * (7 / 6) ** 2) == 7
    assert suspected(tension * (5.5 / 6) ** 2 * 0.99) == 0
    assert suspected(tension / 1000) == 0  # no whole return would be left
    for expected in (None, math.nan, 0.0, -tension, math.inf):
        assert suspected(expected) == 0


@pytest.mark.parametrize(
    ("found", "refusal"),
    [
        (stopwatch_tension(LINE, [], 6), refuse("time-missing")),
        (stopwatch_tension(LINE, [TIME, None], 6), refuse("time-missing")),
        (stopwatch_tension(LINE, [math.nan, TIME], 6), refuse("time-missing")),
        (stopwatch_tension(LINE, [TIME, -1.0], 6), refuse("time-impossible", value=-1.0)),
        (stopwatch_tension(LINE, [0.0], 6), refuse("time-impossible", value=0.0)),
        (stopwatch_tension(LINE, [TIME], 0), refuse("returns-few")),
        (stopwatch_tension(LINE, [TIME], 6, hand_s=-0.1), refuse("figure-impossible", name="hand", value=-0.1)),
        (stopwatch_tension(LINE, [TIME], 6, hand_s=math.inf), refuse("figure-impossible", name="hand", value=math.inf)),
        (
            stopwatch_tension(LINE, [TIME], 6, mass_share=-0.1),
            refuse("figure-impossible", name="mass share", value=-0.1),
        ),
        (
            stopwatch_tension(LINE, [TIME], 6, span_half_m=-0.1),
            refuse("figure-impossible", name="span half", value=-0.1),
        ),
        (stopwatch_tension(replace(LINE, span_m=None), [], 0), refuse("span-missing")),
        (stopwatch_tension(LINE, [], 0), refuse("returns-few")),
        (stopwatch_sag([], 6), refuse("time-missing")),
        (stopwatch_sag([], 0), refuse("returns-few")),
        (stopwatch_sag([TIME], 6, hand_s=-0.1), refuse("figure-impossible", name="hand", value=-0.1)),
        (stopwatch_sag([TIME], 6, span_m=0.0), refuse("figure-impossible", name="span", value=0.0)),
        (stopwatch_sag([TIME], 6, span_m=math.nan), refuse("figure-missing")),
        (stopwatch_sag([0.0], 6, span_m=0.0), refuse("time-impossible", value=0.0)),
    ],
)
def test_refusals_name_their_figures(found, refusal):
    assert found == refusal
