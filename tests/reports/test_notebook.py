"""Numbers for a notebook and for ``manage.py line_figures``: those of ``engineering``, refusals in words."""

from __future__ import annotations

import json
import re
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from io import StringIO
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from engineering.envelope import Map, outcome
from engineering.envelope_band import Band, Edge
from engineering.refusal import Refusal
from inspections.demo.mechanics import MECHANICS
from reports.management.commands.line_figures import _winds
from reports.notebook import Line, line
from tests import make


@pytest.fixture
def one(w: SimpleNamespace) -> Line:
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
    return line(w.course.name, 1, at=w.t(20))


def told(w: SimpleNamespace, *args: str) -> str:
    out = StringIO()
    call_command("line_figures", w.course.name, "1", "--air", "12", "--head", "1", *args, stdout=out)
    return out.getvalue()


def test_rides_are_those_of_the_engine(one: Line) -> None:
    plan = one.plan(air_c=12.0)
    assert not isinstance(plan, Refusal)
    rows = one.ride([40.0, 115.0], head_mps=1.0, air_c=12.0)
    assert not isinstance(rows, Refusal)
    for row in rows:
        found = outcome(plan, row.mass_kg, 1.0)
        assert not isinstance(found, Refusal)
        assert row.arrival_mps == pytest.approx(float(found.ride.arrival_mps), abs=1e-9)
        assert row.travel_m == pytest.approx(float(found.stop.stroke_m), abs=1e-6)
        assert row.state == found.names()[0]


def test_map_band_and_draws(one: Line) -> None:
    made = one.map(air_c=12.0)
    assert isinstance(made, Map)
    assert made.state.shape == (15, 21)
    assert one.map(air_c=12.0, masses_kg=[40, 80], winds_mps=[-1, 0, 1]).state.shape == (2, 3)  # type: ignore[union-attr]
    band = one.band(head_mps=1.0, gust_mps=0.5, air_c=12.0)
    assert isinstance(band, Band)
    assert band.least.value >= 35
    drawn = one.draws(80.0, head_mps=1.0, air_c=12.0, seed=7)
    assert drawn == one.draws(80.0, head_mps=1.0, air_c=12.0, seed=7)


def test_a_wind_across_takes_from_a_band_and_adds_nothing(one: Line) -> None:
    """It may fall to nothing: who is too fast without it stays out, however slow it makes him."""
    still, across = (one.band(head_mps=0.0, gust_mps=0.0, air_c=12.0, cross_mps=cross) for cross in (0.0, 6.0))
    assert isinstance(still, Band)
    assert isinstance(across, Band)
    assert across.head.value < still.head.value
    for edge, sign in (("least", -1), ("most", 1), ("head", 1), ("tail", -1)):
        assert sign * getattr(across, edge).value <= sign * getattr(still, edge).value
    # No tail wind is good here, and a wind called across may have a part from behind: none across is good either.
    assert (still.tail.value, still.cross) == (0.0, Edge(0.0, "along"))
    assert across.cross == still.cross


def test_what_is_missing_is_refused_and_raises_nothing(one: Line, w: SimpleNamespace) -> None:
    assert isinstance(one.plan(air_c=None), Refusal)
    assert isinstance(one.ride([80], head_mps=None, air_c=12.0), Refusal)
    other = line(w.course.name, 2, at=w.t(20))
    for found in (other.map(air_c=12.0), other.band(head_mps=0.0, gust_mps=0.0, air_c=12.0)):
        assert isinstance(found, Refusal)
        assert found.code == "mechanics-missing"
    assert isinstance(one.calibration(since="2026-06-01"), Refusal)
    assert one.rides(since=w.on)


@pytest.mark.parametrize(("course", "number"), [("Nowhere", 1), ("", 1)])
def test_course_that_is_not_there_is_said(one: Line, w: SimpleNamespace, course: str, number: int) -> None:
    make.course(make.operator("Other"), "Other lines")
    with pytest.raises(LookupError, match="courses are called"):
        line(course, number, at=w.t(20))


def test_command_tells_rides_and_band(one: Line, w: SimpleNamespace) -> None:
    table = told(w, "--gust", "0.5")
    rows = one.ride([35.0, 115.0], head_mps=1.0, air_c=12.0)
    assert not isinstance(rows, Refusal)
    assert f"{rows[0].arrival_mps:.2f}" in table
    assert "Weights 35.0 kg: As posted." in table
    assert "Not calibrated." in table
    assert "Planning aid." in table


def test_command_says_every_wind_by_its_side(one: Line, w: SimpleNamespace) -> None:
    band = one.band(head_mps=1.0, gust_mps=0.5, air_c=12.0)
    assert isinstance(band, Band)
    table = told(w, "--gust", "0.5")
    found = {name: float(value) for name, value in re.findall(r"^(.* wind) up to (.*?) m/s", table, re.M)}
    assert set(found) == {"Head wind", "Tail wind", "Cross wind"}
    assert (found["Head wind"], found["Tail wind"]) == (round(band.head.value, 1), abs(round(band.tail.value, 1)))
    assert found["Cross wind"] < float(one.document["wind"]["cross_mps"])
    # In a head wind that does not fall to nothing the winds may end above it: then it says so.
    ends = Band(Edge(40.0, "short"), Edge(90.0, "hard"), Edge(3.0, "short"), Edge(0.5, "hard"))
    assert list(_winds(ends)) == [
        "Head wind up to 3.0 m/s: Beyond it a rider stops short of the brake.",
        "Only in a head wind of 0.5 m/s or more: Beyond it a rider is stopped harder than allowed.",
        "No cross wind limit is posted.",
    ]
    behind = replace(ends, head=Edge(-0.5, "short"), tail=Edge(-2.0, "hard"), cross=Edge(0.0, "along"))
    assert [one.partition(":")[0] for one in _winds(behind)] == [
        "Only in a tail wind of 0.5 m/s or more",
        "Tail wind up to 2.0 m/s",
        "Cross wind up to 0.0 m/s, up to 0.7 of it along the line",
    ]


def test_command_writes_map_and_json(one: Line, w: SimpleNamespace) -> None:
    lines = told(w, "--map").splitlines()
    assert len(lines) == 16
    assert lines[0].startswith("kg \\ m/s,-6.00")
    found: dict[str, Any] = json.loads(told(w, "--json", "--gust", "20"))
    assert {one["key"] for one in found["computed_from"]} >= {"line.span_m", "line.tension_n", "rider.drag_area_m2"}
    assert "refused" in found["band"]
    with_band = json.loads(told(w, "--json", "--gust", "0.5"))
    assert 0.0 <= with_band["band"]["cross"]["value"] <= float(one.document["wind"]["cross_mps"])


@pytest.mark.parametrize("brakes", ["new", "worn", "emergency-alone"])
def test_json_traces_every_figure_to_the_version_since_which_it_stands(
    one: Line, w: SimpleNamespace, brakes: str
) -> None:
    """As an engineer found it: after a new tension and a calibration the papers of all else have to be named still."""
    changed = {**deepcopy(MECHANICS[2]), "tension_kn": "9.1", "tension_date": "2026-05-03", "tension_how": "gauge"}
    make.settle(w, "mechanics", changed, place=w.line, at=make.FOUNDED + timedelta(days=1))
    given = {one["key"]: one for one in json.loads(told(w, "--json", "--brakes", brakes))["computed_from"]}
    unsaid = [one for one in given.values() if one["source"]["kind"] == "unsaid"]
    assert {one["value"] for one in unsaid} <= {"not entered"}
    where = {key: one["source"]["where"] for key, one in given.items()}
    assert where["line.tension_n"] == "version 2, Designer's folder, sheet 4"
    assert given["line.tension_n"]["source"] == {
        "kind": "measured", "where": where["line.tension_n"], "on": "2026-05-03",
    }  # fmt: skip
    for key in ("line.span_m", "landing.start_m", "air.pressure_pa", "launch_mps", "part 1.rate_n_per_m"):
        assert where[key] == "version 1, Designer's folder, sheet 4", key
        assert given[key]["source"]["on"] == make.FOUNDED.date().isoformat()
    assert given["air.temperature_c"]["source"]["kind"] == "asked"
    assert given["part 1.rate_n_per_m"]["source"]["kind"] == "maker"


def test_command_refuses_in_words(one: Line, w: SimpleNamespace) -> None:
    with pytest.raises(CommandError, match="has no line 9"):
        call_command("line_figures", w.course.name, "9", "--air", "12", "--head", "0")
    with pytest.raises(CommandError, match="Not computed: A temperature of 120"):
        call_command("line_figures", w.course.name, "1", "--air", "120", "--head", "0")
