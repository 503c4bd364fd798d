"""What a chart of test rides takes from the record: quantities, wind, what was to be expected, what restarts it.

The statistics themselves are checked against published cases in ``tests/engineering``. Which rides are charted is the
course's own rule: one ballast, no hand brake (judgement).
"""

from __future__ import annotations

import math
from copy import deepcopy
from dataclasses import replace
from datetime import UTC, date, datetime
from types import SimpleNamespace
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest

from courses.chart_setting import chart_setting_of
from engineering.control import LOOKED, SERVICE, Alarm, Control, Point
from engineering.control_residual import ARRIVAL_SPEED, STROKE, MorningRide
from engineering.control_words import note
from engineering.refusal import Refusal
from inspections.control import (
    Basis,
    Charted,
    Deed,
    Seen,
    anew,
    ballast_of,
    expectations,
    marks_for,
    morning,
    on_day,
    wind_of,
    with_arrival,
)
from inspections.control_words import look_first_sentence
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS

AT = datetime(2026, 6, 15, 8, tzinfo=UTC)
CALM = MorningRide(AT, 2.0, 115.0, 0.0, 12.0)


def basis(number: int = 2, mechanics: Any = None, **changes: Any) -> Any:
    document = next(one for one in LINES if one.number == number).document | changes
    line = SimpleNamespace(pk=uuid4(), content=document)
    return Basis(line, SimpleNamespace(pk=uuid4(), content=mechanics or MECHANICS.get(number, {})))  # type: ignore[arg-type]


def seen(**changes: Any) -> Seen:
    fields = {"wind_mps": "1.5", "wind_from": "head", "reached": "yes"} | changes.pop("fields", {})
    plain = Seen(uuid4(), 1, AT, "115", fields, {STROKE: "2.4", ARRIVAL_SPEED: ""}, "ok", {})
    return plain._replace(**changes)


@pytest.mark.parametrize(
    ("number", "charted"),
    [
        (1, ()),  # a run-out, no instrument
        (2, (STROKE,)),
        (3, (STROKE, ARRIVAL_SPEED)),
        (4, ()),  # a hand brake: its travel is the hand's
    ],
)
def test_what_is_charted_on_a_line(number: int, charted: tuple[str, ...]) -> None:
    assert basis(number, mechanics={}).quantities == charted


def test_a_hand_brake_with_an_instrument_is_charted_for_its_speed_alone() -> None:
    assert basis(4, speed_instrument="radar").quantities == (ARRIVAL_SPEED,)


@pytest.mark.parametrize(
    ("speed", "side", "wind"),
    [
        ("2.5", "head", (2.5, 0.0)),
        ("2.5", "tail", (-2.5, 0.0)),
        ("2.5", "cross", (0.0, 2.5)),
        ("0.4", "calm", (0.0, 0.0)),
        ("2.5", "calm", (None, None)),  # a wind whose side nobody gave is not known
        ("", "head", (None, None)),
        ("2.5", "", (None, None)),
    ],
)
def test_wind_comes_from_its_mean_and_side(speed: str, side: str, wind: Any) -> None:
    assert wind_of({"wind_mps": speed, "wind_from": side}) == wind


def test_what_was_not_measured_stays_unknown() -> None:
    ride = morning(seen(fields={"wind_mps": ""}, figures={STROKE: ""}, mass=""), STROKE, None)
    assert (ride.measured, ride.mass_kg, ride.head_mps, ride.temperature_c) == (None, None, None, None)
    assert not morning(seen(fields={"reached": "no"}), STROKE, 12.0).arrived
    assert not morning(seen(verdict="watch"), STROKE, 12.0).good


def test_brake_travel_expected_is_that_of_the_energy_brought_to_the_spring() -> None:
    """Closed form of a preloaded linear spring, s = (sqrt((F0 - Fg)^2 + k m v^2) - (F0 - Fg)) / k (textbook).

    Fg is what drives the ballast down the line at the brake: at most an eighth of its weight either way.
    """
    mechanics = deepcopy(MECHANICS[2])
    mechanics["rider"]["rolling"] = "0.003"
    found = expectations(basis(mechanics=mechanics), [CALM, replace(CALM, head_mps=1.0)])[0]
    travel, speed = found.figures[STROKE], found.figures[ARRIVAL_SPEED]
    assert isinstance(travel, float)
    assert isinstance(speed, float)
    preload, rate = 220.0, 500.0

    def closed(pull: float) -> float:
        return (math.sqrt((preload - pull) ** 2 + rate * 115.0 * speed**2) - (preload - pull)) / rate

    weight = 0.125 * 115.0 * 9.81
    assert closed(-weight) < travel < closed(weight)


def test_wind_weight_and_warmth_move_what_is_expected() -> None:
    """More head wind is slower and more weight faster (mechanics, by the signs of drag and weight); warmth matters."""
    rides = [CALM, replace(CALM, head_mps=2.0), replace(CALM, mass_kg=118.0), replace(CALM, temperature_c=25.0)]
    calm, windy, heavy, warm = (one.figures[ARRIVAL_SPEED] for one in expectations(basis(), rides))
    assert windy < calm < heavy  # type: ignore[operator]
    assert warm != pytest.approx(calm, abs=0.05)


def test_one_by_one_or_together_the_same_is_expected() -> None:
    rides = [replace(CALM, head_mps=wind, temperature_c=air, cross_mps=1.0) for wind, air in ((-1.0, 4.0), (2.0, 21.0))]
    together = expectations(basis(3), rides)
    for one, ride in zip(together, rides, strict=True):
        alone = expectations(basis(3), [ride])[0]
        for quantity in (STROKE, ARRIVAL_SPEED):
            assert one.figures[quantity] == pytest.approx(alone.figures[quantity], abs=1e-9)


def test_a_ballast_that_would_not_arrive_has_no_figure() -> None:
    light = expectations(basis(), [replace(CALM, mass_kg=30.0, head_mps=12.0)])[0]
    assert math.isnan(light.figures[STROKE])  # type: ignore[arg-type]


def test_mechanics_that_cannot_be_refuse_with_their_reason() -> None:
    found = expectations(basis(mechanics=deepcopy(MECHANICS[2]) | {"tension_kn": ""}), [CALM])[0]
    assert isinstance(found.of(STROKE), Refusal)
    assert found.of(STROKE).code in {"tension-missing", "figure-missing"}  # type: ignore[union-attr]


def test_work_on_brake_or_cable_is_a_service_and_a_release_of_its_own_watch_a_look() -> None:
    deeds = [
        Deed(AT, "work", "primary-1", "", "New spring"),
        Deed(AT, "work", "end-launch", "", "New clips"),
        Deed(AT, "work", "emergency-1", "", "Cord"),  # the primary brake is as it was
        Deed(AT, "work", "sign", "", "Paint"),
        Deed(AT, "release", "primary-1", "chart@stroke", "Longer"),
        Deed(AT, "release", "primary-1", "BS-1@primary-1", "Cracked"),
        Deed(AT, "release", "cable", "chart@arrival-speed", "Faster"),
    ]
    found = marks_for(STROKE, deeds, [("BP-02", AT)])
    assert [(one.kind, one.reason) for one in found] == [
        (SERVICE, "BP-02"), (SERVICE, "New spring"), (SERVICE, "New clips"), (LOOKED, "Longer"),
    ]  # fmt: skip


def test_past_midnight_is_still_the_end_of_the_course_s_day() -> None:
    zone = ZoneInfo("America/New_York")
    late = datetime(2026, 6, 16, 5, 30, tzinfo=UTC)  # 01:30 at the course
    assert on_day(date(2026, 6, 15), late, zone).date() == date(2026, 6, 15)
    assert on_day(date(2026, 6, 16), late, zone) == late


def test_a_longer_travel_with_a_faster_ballast_sends_one_to_trolley_and_cable() -> None:
    alarm = Alarm(AT, "beyond-high", note("gap", days=1), note("first-longer-jump"), AT.date())
    stroke = Charted(STROKE, Control(note("alarm"), standing=(alarm,)))

    def first(sigmas: float) -> str:
        arrival = Charted(ARRIVAL_SPEED, Control(note("in-control"), points=(Point(AT, 0, sigmas, 0, 0, 0, ()),)))
        both = with_arrival({STROKE: stroke, ARRIVAL_SPEED: arrival})
        return both[STROKE].control.standing[0].look_first.code

    assert first(3.0) == "first-arrival"
    assert first(0.5) == "first-longer-jump"


@pytest.mark.parametrize(
    ("kinds", "said", "unsaid"),
    [
        (["spring"], ["springs", "guides"], ["magnets", "cords"]),
        (["cord"], ["cords"], ["springs", "magnets", "guides"]),
        (["magnetic"], ["magnets"], ["springs", "cords", "ropes"]),
        (["magnetic", "runout"], ["magnets"], ["springs"]),
        (["spring", "magnetic"], ["wear of the brake"], ["springs", "magnets", "cords"]),
    ],
)
def test_where_to_look_first_names_what_wears_on_the_brake_of_the_line(
    kinds: list[str], said: list[str], unsaid: list[str]
) -> None:
    """What each kind consists of: the brake kinds of a line's data; common practice, no source."""
    brakes = [{"slot": f"primary-{n}", "role": "primary", "kind": kind} for n, kind in enumerate(kinds, 1)]
    brakes.append({"slot": "emergency-1", "role": "emergency", "kind": "cord"})
    alarm = Alarm(AT, "creep-high", note("gap", days=1), note("first-longer-creep"), AT.date())

    sentence = look_first_sentence(alarm, basis(brakes=brakes).brake)

    assert all(word in sentence for word in said)
    assert not any(word in sentence for word in unsaid)


def test_the_engineers_ballast_is_that_of_the_chart() -> None:
    mechanics = deepcopy(MECHANICS[2])
    posted = float(basis().line.content["mass_max_kg"])
    assert ballast_of(basis()) == (posted, pytest.approx(posted * 1.05))  # judgement: up to a twentieth more
    own = mechanics | {"chart": {"least_kg": "95", "most_kg": "97.5"}}
    assert ballast_of(basis(mechanics=own)) == (95.0, 97.5)
    assert ballast_of(basis(mechanics=own, mass_max_kg="")) == (95.0, 97.5)
    assert ballast_of(basis(mass_max_kg="")) is None


def test_settling_anew_begins_with_the_day_and_its_reason() -> None:
    setting = chart_setting_of({"chart": {"anew_on": "2026-06-20", "anew_why": "New ballast trolley."}})
    ((why, since),) = anew(setting, ZoneInfo("Europe/Vienna"))
    assert (why, since.isoformat()) == ("New ballast trolley.", "2026-06-20T00:00:00+02:00")
    assert anew(chart_setting_of({}), ZoneInfo("Europe/Vienna")) == []


def test_a_struck_morning_carries_its_reason_and_no_other_does() -> None:
    struck = {date(2026, 6, 15): "Mark misread."}
    assert morning(seen(), STROKE, 12.0, struck).struck == "Mark misread."
    assert morning(seen(at=datetime(2026, 6, 16, 8, tzinfo=UTC)), STROKE, 12.0, struck).struck == ""
