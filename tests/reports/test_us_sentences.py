"""Why nothing is computed, on the pages, papers and in the command of a course in US units: feet, pounds, mph, °F, lbf.

Exact factors are those of the yard and pound agreement of 1959 (1 ft = 0.3048 m, 1 lb = 0.45359237 kg) and of the
definition of °F. The sentences themselves are in ``tests/courses/test_refusals.py``.
"""

from __future__ import annotations

import re
from copy import deepcopy
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.urls import reverse

from courses.models import Course
from engineering.refusal import refuse
from inspections.band import today_of
from inspections.band_words import as_record, for_line, said
from inspections.demo.mechanics import MECHANICS
from inspections.models import SignOff
from reports.calibration import find
from reports.calibration_told import result_told, rides_told
from reports.course_units import CourseUnits
from reports.papers.day_sheet import draw_day_sheet
from reports.resolve import day_sheet_data
from tests import make
from tests.reports.paper_reader import letters, tight
from tests.reports.test_calibration import described, rides  # noqa: F401
from tests.reports.test_tension import found, version

METRIC_UNIT = re.compile(r"\d (?:m|kg|m/s|N|°C|m²)(?![\w/²])")


@pytest.fixture
def us(w: SimpleNamespace) -> SimpleNamespace:
    Course.objects.filter(pk=w.course.pk).update(units="us")
    w.course.refresh_from_db()
    return w


def enter(w: SimpleNamespace, **changes: Any) -> None:
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]) | changes, place=w.line)


def page(w: SimpleNamespace, as_one: Any, name: str, **asked: str) -> str:
    answer = as_one("engineer").get(reverse(f"reports:{name}", args=[w.course.pk, w.line.pk]), asked)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def test_page_of_ride_and_stop_says_in_feet_why_nothing_is_computed(us: SimpleNamespace, as_one: Any) -> None:
    enter(us, span_m="300")
    told = page(us, as_one, "mechanics")
    assert "A span of 984 ft does not fit the length of the line, 682 ft; look at the units." in told  # 300 and 208 m


def test_warnings_of_that_page_are_told_in_pounds_and_miles(us: SimpleNamespace, as_one: Any) -> None:
    calibrated = {"rides": "8", "least_kg": "50", "most_kg": "110", "interval_mps": "0.4", "on": "2026-05-01"}
    enter(us, calibration=calibrated)
    told = page(us, as_one, "mechanics", weight="200", wind="2", air="60", launch="3")
    assert "110 to 243 lb only, interval ±0.895 mph." in told  # 50 and 110 kg, 0.4 m/s
    assert "2.24 mph more head wind takes " in told
    assert re.search(r"of a rider of \d+ lb on this line", told)


def test_tension_that_cannot_be_is_told_in_pounds_force() -> None:
    row = found(version(1, tension_kn="180"), units="us").measured[0]
    assert row.problem == "A tension of 40500 lbf is not possible on this cable."  # 180 kN


def test_command_refuses_in_the_units_of_the_course(us: SimpleNamespace) -> None:
    enter(us)
    with pytest.raises(CommandError, match="Not computed: A temperature of 248 °F is outside "):
        call_command("line_figures", us.course.name, "1", "--air", "120", "--head", "0")


# --- the day's own band: board, line page, card, day sheet


def test_band_of_the_day_is_refused_in_miles_and_stands_so_on_the_day_sheet(us: SimpleNamespace) -> None:
    enter(us)
    make.ride(us, us.line, at=us.t(40), air="12", wind="9.5", wind_from="head")
    picture = make.picture(us, us.t(60))
    told = for_line(picture, picture.setup.lines[0])
    assert told is not None
    assert told.problem.startswith("The wind, 0 to 21.3 mph along the line")  # 9.5 m/s
    assert told.problem in told.short
    make.open_lines(us, at=us.t(41), line1="closed")
    sheet = draw_day_sheet(day_sheet_data(SignOff.objects.get(day__course=us.course)), photos=lambda _hash: None)
    assert tight(told.problem) in letters(sheet)


def test_what_was_not_looked_at_is_told_in_feet(us: SimpleNamespace) -> None:
    enter(us)
    picture = make.picture(us, us.t(20))
    today = today_of(picture, picture.setup.lines[0])
    assert today is not None
    without = replace(today.computed, left_out=(("worn", refuse("gap-range", value=1.5, low=0.0, high=0.05)),))
    told = as_record(said(replace(today, computed=without), place="Line 1", units="us", zone=us.course.zone))
    assert told["left_out"] == [
        "Not looked at: primary brake at its worn limit. "
        "A gap of the magnets wider by 4.92 ft is outside 0 to 0.164 ft."
    ]
    assert not any(METRIC_UNIT.search(one) for one in told["warnings"])


# --- the calibration


def test_calibration_is_refused_and_told_in_us_units(described: SimpleNamespace, as_one: Any) -> None:  # noqa: F811
    described.setup.course.units = "us"
    near = rides(described, (100, 102, 104, 106, 108, 110))
    assert find(described.setup, described.row, near, {one.pk: 12.0 for one in near}).problem == (
        "The weights of the test rides span 22 lb; 66.1 lb are needed."
    )
    taken = rides(described)
    made = find(described.setup, described.row, taken, {one.pk: 12.0 for one in taken})
    result = result_told(made, CourseUnits("us"))
    assert result is not None and made.made is not None  # noqa: PT018
    assert result.drag == f"{made.made.drag_area_m2 / 0.3048**2:.2f} ft²"
    assert (result.least, result.most) == ("77", "254 lb")
    row = rides_told(made, CourseUnits("us")).newest[0]
    assert (row.weight, row.wind) == ("77.2 lb", "0 mph head")
    assert row.speed.endswith(" mph")
    assert row.computed.endswith(" mph")


def test_calibration_page_asks_in_miles_per_hour(described: SimpleNamespace, as_one: Any) -> None:  # noqa: F811
    Course.objects.filter(pk=described.course.pk).update(units="us")
    told = page(described, as_one, "calibration")
    assert "rides over 110 lb of weight" in told
    assert "Speed gauge exact to, mph" in told
    assert 'name="speed_sd" inputmode="decimal" autocomplete="off" maxlength="12" value="0.336"' in told  # 0.15 m/s
    wrong = page(described, as_one, "calibration", speed_sd="9")
    assert "Enter a figure from 0.0224 mph to 4.47 mph." in wrong
    assert not METRIC_UNIT.search(told)
