"""The six warnings in words, and that every figure that goes in is listed. Wording: the project's mechanics notes."""

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest

from engineering.brakes import Cord, Eddy, Friction, Spring
from engineering.envelope import weight_wind_map
from engineering.envelope_notes import KINDS, MODEL, NOTES, CalibratedBy, Source, fingerprint, trace, warnings
from engineering.envelope_words import SENTENCES
from engineering.refusal import refuse
from tests.engineering.test_envelope_map import LIMITS, PLAN

SMALL = weight_wind_map(PLAN, [60.0, 100.0], [-1.0, 1.0])


def codes(notes):
    return [one.code for one in notes]


def test_six_warnings_and_one_for_a_missing_rating():
    notes = warnings(PLAN, (60.0, 100.0), "the launch", 0.62, 80.0)
    assert codes(notes) == [
        "planning-aid",
        "not-calibrated",
        "wind-elsewhere",
        "planning-limits",
        "emergency-as-entered",
        "stopwatch",
        "no-rating",
    ]
    rated = replace(PLAN, limits=replace(LIMITS, rated_mps=12.0))
    assert len(warnings(rated, (60.0, 100.0), "the launch", 0.62, 80.0)) == 6
    for one in notes:
        assert one.sentence.endswith(".")
        assert "%(" not in one.sentence
    assert "takes 62 % of the arrival speed of a rider of 80 kg" in notes[2].sentence
    assert "no calibration from 6 or more test rides is in force (rides so far: 0)" in notes[1].sentence
    assert "designer of record" in notes[0].sentence


def test_wind_warning_without_a_figure():
    assert codes(warnings(PLAN, (60.0, 100.0), "the launch", None, 60.0))[2] == "wind-elsewhere-short"
    unknown = warnings(PLAN, (60.0, 100.0), "the launch", refuse("wind-missing"), 60.0)[2]
    assert unknown.code == "wind-elsewhere-unknown"
    assert "the launch" in unknown.sentence


@pytest.mark.parametrize(
    ("rides", "masses", "code"),
    [
        (5, (60.0, 100.0), "not-calibrated"),
        (6, (60.0, 100.0), "calibrated"),
        (6, (50.0, 120.0), "calibrated"),
        (6, (49.9, 100.0), "extrapolated"),
        (6, (60.0, 120.1), "extrapolated"),
    ],
)
def test_calibrated_only_with_six_rides_and_inside_their_weights(rides, masses, code):
    note = warnings(PLAN, masses, "the launch", 0.6, 80.0, CalibratedBy(rides, 50.0, 120.0, 0.314))[1]
    assert note.code == code
    assert ("±0.31 m/s" in note.sentence) == (rides >= 6)
    assert (
        "is in force (rides so far: 5)"
        if rides < 6
        else "with 6 rides"
        if code == "calibrated"
        else "6 rides of 50 to 120 kg"
    ) in (note.sentence)


def test_every_figure_of_a_plan_is_listed():
    parts = [PLAN.parts[0], Cord(180.0, 150.0, 0.3, 3.0), Friction(100.0), Eddy(900.0, 5.0, 2.0)]
    found = trace(weight_wind_map(replace(PLAN, parts=parts), [60.0, 100.0], [-1.0, 1.0]))
    keys = [one.key for one in found.given]
    assert len(set(keys)) == len(keys)

    def expected(path, whole):
        for one in fields(whole):
            value = getattr(whole, one.name)
            if is_dataclass(value):
                yield from expected(f"{path}.{one.name}", value)
            else:
                yield f"{path}.{one.name}"

    wanted = {key for one in ("line", "landing", "rider", "air", "limits") for key in expected(one, getattr(PLAN, one))}
    wanted |= {key for i, part in enumerate(parts, 1) for key in expected(f"part {i}", part)}
    wanted |= {"masses_kg", "winds_mps", "cross_mps", "launch_mps", "cable_c", "drag_by_weight", "interval_mps"}
    assert wanted - set(keys) == {"rider.mass_kg"}
    assert set(keys) - wanted == {"part 1", "part 2", "part 3", "part 4"}


def test_figures_carry_unit_and_source():
    sources = {"line.span_m": Source("measured", "survey", "2026-03-02"), "part 1.rate_n_per_m": Source("maker")}
    given = {one.key: one for one in trace(SMALL, sources).given}
    assert (given["line.span_m"].value, given["line.span_m"].unit) == ("300", "m")
    assert given["line.span_m"].source.on == "2026-03-02"
    assert given["part 1.rate_n_per_m"].source.kind == "maker"
    assert given["line.drop_m"].source.kind == "unsaid"
    units = {
        "line.cable.mass_kg_per_m": "kg/m",
        "part 1.rate_n_per_m": "N/m",
        "rider.drag_area_m2": "m²",
        "air.pressure_pa": "Pa",
        "line.tension_n": "N",
        "air.temperature_c": "°C",
        "limits.peak_g": "g",
        "limits.peak_s": "s",
        "limits.least_mps": "m/s",
        "line.cable.expansion_per_k": "1/K",
        "rider.rolling": "",
    }
    assert {key: given[key].unit for key in units} == units
    assert given["limits.rated_mps"].value == "not entered"
    assert given["part 1.caught"].value == "no"
    assert given["part 1"].value == "Spring"
    assert given["masses_kg"].value == "60 to 100, 2 figures"
    assert given["cross_mps"].value == "0"


def test_a_source_for_no_figure_or_of_no_kind_is_the_programmers_error():
    with pytest.raises(KeyError, match=r"no such figure: line\.length, line\.width'$"):
        trace(SMALL, {"line.width": Source("measured"), "line.length": Source("measured")})
    with pytest.raises(KeyError):
        trace(SMALL, {"line.span_m": Source("guess")})
    assert all(one.endswith(".") for one in KINDS.values())


def test_fingerprint_changes_with_every_figure_and_with_nothing_else():
    first = trace(SMALL).fingerprint
    assert (
        trace(weight_wind_map(PLAN, [60.0, 100.0], [-1.0, 1.0]), {"line.span_m": Source("measured")}).fingerprint
        == first
    )
    others = [
        weight_wind_map(
            replace(PLAN, line=replace(PLAN.line, span_m=np.nextafter(300.0, 301.0))), [60.0, 100.0], [-1.0, 1.0]
        ),
        weight_wind_map(replace(PLAN, parts=[Spring(1200.0, 200.0, 3.0, caught=True)]), [60.0, 100.0], [-1.0, 1.0]),
        weight_wind_map(replace(PLAN, interval_mps=0.1), [60.0, 100.0], [-1.0, 1.0]),
        weight_wind_map(PLAN, [60.0, 100.0], [-1.0, 1.1]),
        weight_wind_map(PLAN, [60.0, 101.0], [-1.0, 1.0]),
        weight_wind_map(PLAN, [60.0, 100.0], [-1.0, 1.0], steps=100),
    ]
    prints = {first, *(trace(one).fingerprint for one in others)}
    prints |= {trace(SMALL, seed=1).fingerprint, trace(SMALL, seed=1, draws=100).fingerprint}
    assert len(prints) == 9


def test_fingerprint_is_of_every_cell_of_a_large_map():
    """Two thousand cells of which one in the middle differs in the last place."""
    intervals = np.full((40, 50), 0.25)
    other = intervals.copy()
    other[20, 25] = np.nextafter(0.25, 1.0)
    masses, winds = np.linspace(40.0, 120.0, 40), np.linspace(-5.0, 5.0, 50)
    one, two, again = (
        fingerprint(replace(PLAN, interval_mps=cells), masses, winds, steps=200)
        for cells in (intervals, other, intervals.copy())
    )
    assert one == again != two


def test_a_trace_names_its_method_and_both_axes():
    found = trace(SMALL, seed=3, draws=200)
    given = {one.key: one.value for one in found.given}
    assert (given["masses_kg"], given["winds_mps"]) == ("60 to 100, 2 figures", "-1 to 1, 2 figures")
    assert found.model == MODEL
    assert found.fingerprint == fingerprint(PLAN, SMALL.masses_kg, SMALL.winds_mps, steps=200, seed=3, draws=200)


def test_every_sentence_is_whole():
    for sentence in (*SENTENCES.values(), *NOTES.values()):
        assert sentence.endswith((".", ")."))
        assert sentence[0].isupper()
        assert "safe" not in sentence.lower()
