"""The page of a line's mechanics: what it begins with, what it asks for, and that it changes nothing.

The mechanics themselves are checked against published cases in ``tests/engineering``; here is what the page makes of
them. Exact factors between units are those of the yard and pound agreement of 1959 and of the definition of °F.
"""

from __future__ import annotations

import html
import math
import re
from copy import deepcopy
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from courses.mechanics import plan_of
from courses.models import Course, Version
from engineering.envelope import Plan, outcome
from engineering.refusal import Refusal
from inspections import actions
from inspections.band import today_of
from inspections.demo.course import LINES
from inspections.demo.mechanics import MECHANICS
from inspections.facts import line_statuses
from inspections.models import Ride
from ledger.models import Entry
from reports.course_units import CourseUnits
from reports.what_if import KINDS, Start, asked_of, start_of
from tests import make

FIGURES: dict[str, Any] = MECHANICS[2]  # the ready course's lines are that line
ASKED = {"weight": "90", "wind": "-1.5", "air": "18", "launch": "1", "brakes": "new"}


@pytest.fixture
def settled(w: SimpleNamespace) -> SimpleNamespace:
    make.settle(w, "mechanics", deepcopy(FIGURES), place=w.line)
    return w


def enter(w: SimpleNamespace, **changes: Any) -> None:
    make.settle(w, "mechanics", deepcopy(FIGURES) | changes, place=w.line)


def address(w: SimpleNamespace) -> str:
    return reverse("reports:mechanics", args=[w.course.pk, w.line.pk])


def ask(w: SimpleNamespace, as_one: Any, *, part: str = "", **asked: str) -> str:
    """Return the text of the page, or a part of it, for what is typed; ``as_one`` is of the fixtures."""
    client: Client = as_one("engineer")
    answer = client.get(address(w), asked | ({"part": part} if part else {}))
    assert answer.status_code == 200
    return answer.content.decode()


def words(page: str) -> str:
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page)))


def figure(page: str, label: str) -> str:
    """Return a large figure as it is read, with its unit."""
    found = re.search(rf'figure__label">{label}</span><span class="figure__value">([^<]+)<[^>]+>([^<]+)<', page)
    assert found, f"no figure called {label}"
    return f"{found[1]} {found[2]}"


def computed(**asked: str) -> tuple[Plan, Any]:
    """Return plan and outcome by the engineering modules alone, from what is typed in metric units."""
    plan = plan_of(
        LINES[1].document, FIGURES | {"launch_mps": asked["launch"]}, air_c=float(asked["air"]), cross_mps=0.0,
        arrangement_of=asked["brakes"],
    )  # fmt: skip
    assert isinstance(plan, Plan)
    return plan, outcome(plan, float(asked["weight"]), float(asked["wind"]))


def test_without_mechanics_there_is_the_sentence_and_nothing_else(w: SimpleNamespace, as_one: Any) -> None:
    page = ask(w, as_one)
    assert "What the mechanics of this line are computed from is not entered." in page
    assert "<form" not in page.partition("<main")[2].partition("</main>")[0]
    assert "chart__svg" not in page


def test_ride_is_that_of_the_engineering_modules(settled: SimpleNamespace, as_one: Any) -> None:
    page = ask(settled, as_one, **ASKED)
    _plan, found = computed(**ASKED)
    assert figure(page, "Arrival speed") == f"{float(found.ride.arrival_mps):.1f} m/s"
    assert figure(page, "Brake travel") == f"{float(found.stop.stroke_m):.2f} m"
    assert figure(page, "Travel of spring or cord") == f"{100 * float(found.stop.used):.0f} %"
    assert figure(page, "Peak deceleration") == f"{float(found.stop.peak_g):.2f} g"
    assert f"Rated for {float(FIGURES['stop']['rated_mps']):.1f} m/s." in page


@pytest.mark.parametrize("brakes", ["worn", "emergency-alone"])
def test_other_brakes_can_be_chosen(settled: SimpleNamespace, as_one: Any, brakes: str) -> None:
    page = ask(settled, as_one, **ASKED | {"brakes": brakes})
    _plan, found = computed(**ASKED | {"brakes": brakes})
    assert re.search(rf'value="{brakes}" checked', page)
    assert figure(page, "Brake travel") == f"{float(found.stop.stroke_m):.2f} m"
    assert figure(page, "Brake travel") != figure(ask(settled, as_one, **ASKED), "Brake travel")


def test_rider_who_stops_short_has_no_arrival(settled: SimpleNamespace, as_one: Any) -> None:
    page = ask(settled, as_one, **ASKED | {"weight": "30", "wind": "14"})
    assert "Stops short of the brake." in page
    assert "Arrival speed" not in page
    assert 0 < float(figure(page, "Stops short at").split()[0]) < float(FIGURES["zone"]["start_m"])


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"wind": ""}, "The wind is not measured."),
        ({"cross": ""}, "The wind is not measured."),
        ({"cross": "16"}, "Cross wind: From 0 to 15 m/s."),
        ({"air": ""}, "The temperature is not known."),
        ({"weight": ""}, "The weight of the rider is not known."),
        ({"launch": ""}, "The speed at the launch is not known."),
        ({"weight": "500"}, "Rider weight: From 25 to 150 kg."),
        ({"wind": "heavy"}, "Head wind: “heavy” is not a figure."),
        ({"weight": "1,150"}, "Does “1,150” mean a decimal or thousands?"),
    ],
)
def test_missing_or_impossible_has_its_sentence_and_nothing_else(
    settled: SimpleNamespace, as_one: Any, asked: dict[str, str], sentence: str
) -> None:
    page = ask(settled, as_one, **ASKED | asked)
    assert sentence in words(page)
    for shown in ("figure__value", "chart__svg", "map__svg", 'id="band"'):
        assert shown not in page


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"tension_kn": "2"}, "A sag of"),
        ({"span_m": ""}, "The span of the line is not entered."),
        ({"parts": []}, "The figures of a brake of the line are not entered."),
    ],
)
def test_bad_figures_of_the_line_are_named_and_nothing_is_computed(
    w: SimpleNamespace, as_one: Any, changes: dict[str, Any], sentence: str
) -> None:
    enter(w, **changes)
    page = ask(w, as_one, **ASKED)
    assert sentence in words(page)
    assert "figure__value" not in page
    assert "map__svg" not in page


def test_worn_brake_without_its_limit_is_named(w: SimpleNamespace, as_one: Any) -> None:
    parts = deepcopy(FIGURES["parts"])
    for name in ("worn_length_m", "worn_share"):
        parts[0].pop(name)
    enter(w, parts=parts)
    page = ask(w, as_one, **ASKED | {"brakes": "worn"})
    assert "The worn limit of the primary brake is not entered." in page
    assert "figure__value" not in page
    assert "Not looked at: primary brake at its worn limit." in words(ask(w, as_one, **ASKED))


def test_page_begins_with_posted_weight_and_newest_ride(settled: SimpleNamespace, as_one: Any) -> None:
    newest = Ride.objects.filter(place=settled.line).order_by("-rode_at")
    for one in newest:
        Ride.objects.filter(pk=one.pk).update(
            fields=one.fields | {"wind_mps": "2.4", "wind_from": "tail", "air_c": "9"}
        )
    page = ask(settled, as_one)
    for name, value in {"weight": "115", "wind": "-2.4", "air": "9", "launch": FIGURES["launch_mps"]}.items():
        assert re.search(rf'id="id_{name}" name="{name}" value="{value}"', page)
    assert "The wind is that of the test ride of 15 Jun 2026 07:35." in page
    assert "That is not today's weather." not in html.unescape(page)


def test_weather_of_yesterday_is_called_so(settled: SimpleNamespace, as_one: Any) -> None:
    for one in Ride.objects.filter(place=settled.line):
        Ride.objects.filter(pk=one.pk).update(fields=one.fields | {"air_c": "9"})
    Ride.objects.filter(place__course=settled.course, day__date=settled.on).update(voided_by=1)
    page = html.unescape(ask(settled, as_one))
    assert "The wind is that of the test ride of 14 Jun 2026" in page
    assert "That is not today's weather." in page


def test_weather_older_than_seven_days_is_asked_for(settled: SimpleNamespace, as_one: Any) -> None:
    Ride.objects.filter(place__course=settled.course).update(voided_by=1)
    page = ask(settled, as_one)
    assert 'name="wind" value=""' in page
    assert "type the wind" in page
    assert "figure__value" not in page


@pytest.mark.parametrize(
    ("blows", "value", "across"),
    [("head", "3", "0"), ("tail", "-3", "0"), ("cross", "0", "3"), ("calm", None, None), ("", None, None)],
)
def test_wind_of_unknown_direction_is_none(
    settled: SimpleNamespace, blows: str, value: str | None, across: str | None
) -> None:
    for one in Ride.objects.filter(place=settled.line):
        Ride.objects.filter(pk=one.pk).update(fields=one.fields | {"wind_mps": "3", "wind_from": blows})
    found = start_of(settled.line, {}, {}, at=settled.t(20))
    assert (found.wind, found.cross) == (value, across)


def test_ride_with_wind_across_is_that_of_the_engineering_modules(settled: SimpleNamespace, as_one: Any) -> None:
    plan, without = computed(**ASKED)
    found = outcome(plan, 90.0, -1.5, cross_mps=6.0)
    assert not isinstance(found, Refusal)
    page = ask(settled, as_one, **ASKED | {"cross": "6"})
    assert figure(page, "Arrival speed") == f"{float(found.ride.arrival_mps):.1f} m/s"
    assert float(found.ride.arrival_mps) < float(without.ride.arrival_mps) - 0.1
    assert "With the cross wind that is typed above." in page
    # An address from before there was the field asks about a wind along the line alone.
    assert figure(ask(settled, as_one, **ASKED), "Arrival speed") == f"{float(without.ride.arrival_mps):.1f} m/s"


def test_band_of_a_wind_across_is_that_of_the_line_today(w: SimpleNamespace, as_one: Any) -> None:
    """The same wind and air typed as were read today: the same edges as the line's page computes."""
    enter(w)
    make.ride(w, w.line, at=w.t(50), wind="3", wind_from="cross", air="12")
    now = make.picture(w, w.t(60))
    today = today_of(now, now.setup.lines[0])
    assert today is not None
    assert today.weather is not None
    fact = today.fact
    assert fact is not None
    across = f"{today.weather.cross_mps:g}"
    page = words(ask(w, as_one, weight="90", wind="0", cross=across, air="12", launch=FIGURES["launch_mps"]))
    band = page.partition("Band in this weather")[2]
    winds = dict(fact.wind_mps)
    for said in (f"{fact.mass_min_kg} kg", *(f"{winds[name]} m/s" for name in ("tail", "cross"))):
        assert said in band
    assert f"From no wind to {float(across):.1f} m/s cross wind" in band
    assert "A cross wind is looked at with up to 0.7 of it along the line" in band
    assert round(math.sqrt(0.5), 1) == 0.7  # cos 45°


def test_us_course_asks_and_tells_in_its_units(settled: SimpleNamespace, as_one: Any) -> None:
    Course.objects.filter(pk=settled.course.pk).update(units="us")
    us = {"weight": f"{90 / 0.45359237:.4f}", "wind": f"{-1.5 / 0.44704:.4f}", "air": "64.4",
          "launch": f"{1 / 0.44704:.4f}"}  # fmt: skip
    page = ask(settled, as_one, **us)
    _plan, found = computed(**ASKED)
    assert figure(page, "Arrival speed") == f"{float(found.ride.arrival_mps) / 0.44704:.1f} mph"
    assert figure(page, "Brake travel") == f"{float(found.stop.stroke_m) / 0.3048:.1f} ft"
    assert "253.5 lb (115 kg)" in page
    assert "Rider weight: From 56 to 330 lb." in words(ask(settled, as_one, **us | {"weight": "340"}))


def test_us_field_begins_with_the_exact_figure_of_the_record() -> None:
    asked = asked_of({}, Start("115", "1.5", wind="2", cross="1", air="10"), CourseUnits("us"))
    assert [one.text for one in asked.fields] == ["253.5", "4.5", "2.2", "50", "3.4"]
    assert [asked.figure(name) for name in KINDS] == [115.0, 2.0, 1.0, 10.0, 1.5]


@pytest.mark.parametrize("part", ["ride", "all"])
def test_parts_are_those_of_the_page(settled: SimpleNamespace, as_one: Any, part: str) -> None:
    piece = ask(settled, as_one, part=part, **ASKED)
    assert piece.strip() in ask(settled, as_one, **ASKED)
    assert "<html" not in piece
    assert ("map__svg" in piece) is (part == "all")


def test_no_such_part_and_no_such_line(settled: SimpleNamespace, as_one: Any) -> None:
    client = as_one("engineer")
    assert client.get(address(settled), {"part": "none"}).status_code == 404
    platform = reverse("reports:mechanics", args=[settled.course.pk, settled.platforms[0].pk])
    assert client.get(platform).status_code == 404


def test_planning_aid_warnings_and_sources_stand_with_the_figures(settled: SimpleNamespace, as_one: Any) -> None:
    page = words(ask(settled, as_one, **ASKED))
    # The six warnings of the mechanics dossier, part 7 (own wording).
    for said in (
        "Planning aid: not a design approval",
        "Not calibrated on this line: no calibration from 6 or more test rides is in force (rides so far: 0).",
        "Wind measured at Line 1", "Deceleration limits shown are editable planning values",
        "The emergency brake is judged only as entered", "A tension from a stopwatch is uncertain by 2 %",
    ):  # fmt: skip
        assert said in page
    assert (
        page.count(
            "Not calibrated on this line: no calibration from 6 or more test rides is in force (rides so far: 0)."
        )
        == 2
    )  # beside the band once more
    assert "from Designer's folder, sheet 4" in page
    assert "stopwatch, return wave, of 14 March 2026" in page
    assert not re.search(r"\bsafe", page, re.IGNORECASE)


def test_nothing_on_the_page_needs_what_the_browser_refuses(settled: SimpleNamespace, as_one: Any) -> None:
    page = ask(settled, as_one, **ASKED)
    assert not re.search(r"<[^>]+ (style|on\w+)=", page)
    assert "<style" not in page
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for name in re.findall(r'aria-(?:labelledby|describedby)="([^"]+)"', page):
        assert set(name.split()) <= set(ids)


def test_queries_do_not_grow_with_the_answer(settled: SimpleNamespace, as_one: Any) -> None:
    client = as_one("engineer")
    client.get(address(settled), ASKED)
    with CaptureQueriesContext(connection) as whole:
        client.get(address(settled), ASKED)
    with CaptureQueriesContext(connection) as part:
        client.get(address(settled), ASKED | {"part": "ride"})
    assert len(whole) <= 12
    assert len(part) <= len(whole)


# --- it changes nothing


GOOD: dict[str, Any] = {}
BAD = {"tension_kn": "2"}


def shown_status(w: SimpleNamespace) -> list[tuple[Any, ...]]:
    """Return what decides of every line, in full."""
    return [
        (one.line.pk, one.clearance, one.word, one.is_open, one.done, one.of)
        for one in line_statuses(make.picture(w, w.t(60)))
    ]


@pytest.mark.parametrize("figures", [GOOD, BAD])
def test_looking_changes_no_status_and_writes_nothing(w: SimpleNamespace, as_one: Any, figures: dict[str, Any]) -> None:
    make.open_lines(w, at=w.t(10))
    enter(w, **figures)
    before, entries, versions = shown_status(w), Entry.objects.count(), Version.objects.count()

    for asked in (ASKED, ASKED | {"wind": "14", "weight": "30"}, ASKED | {"brakes": "worn"}, {"wind": ""}):
        for part in ("", "ride", "all"):
            ask(w, as_one, part=part, **asked)

    assert shown_status(w) == before
    assert (Entry.objects.count(), Version.objects.count()) == (entries, versions)


def held(w: SimpleNamespace) -> None:
    actions.call_hold(make.picture(w, w.t(6)), w.line, cause="object", deed=make.deed(w.mate, at=w.t(6)))


@pytest.mark.parametrize("is_held", [False, True])
def test_figures_that_cannot_be_computed_leave_the_status_as_without_any(w: SimpleNamespace, is_held: bool) -> None:
    make.ride(w, w.line, at=w.t(6), mass="115", air="12")
    if is_held:
        held(w)
    before = shown_status(w)
    enter(w, **BAD)
    assert shown_status(w) == before


@pytest.mark.parametrize("is_held", [False, True])
def test_figures_that_can_be_computed_only_narrow(w: SimpleNamespace, is_held: bool) -> None:
    make.ride(w, w.line, at=w.t(6), mass="115", air="12")
    if is_held:
        held(w)
    without = line_statuses(make.picture(w, w.t(60)))[0].clearance
    enter(w)
    with_them = line_statuses(make.picture(w, w.t(60)))[0].clearance

    assert (without.state, with_them.state) == (("held", "held") if is_held else ("ready", "ready"))
    assert {one.code for one in without.reasons} <= {one.code for one in with_them.reasons}
    if not is_held:
        for before, after in (
            (with_them.limits.mass_max_kg, without.limits.mass_max_kg),
            (without.limits.mass_min_kg, with_them.limits.mass_min_kg),
        ):
            assert before is not None
            assert after is not None
            assert before <= after
        posted = dict(without.limits.wind_mps)
        assert all(limit <= posted[name] for name, limit in with_them.limits.wind_mps)
