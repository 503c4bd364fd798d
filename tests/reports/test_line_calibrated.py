"""From the paper file of a line to a band for today whose every number can be traced, as an engineer goes about it.

The line behaves as the exact engine says with another drag area than the papers assume: that one has to come out.
Figures of the papers are invented; the method's own checks stand in ``tests/engineering``.
"""

from __future__ import annotations

import json
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from courses import actions as course_actions
from courses import checklists
from courses.mechanics import plan_of
from courses.models import Version
from engineering.envelope import Plan, outcome
from inspections import actions
from inspections.demo.course import LINES
from inspections.facts import line_statuses
from inspections.models import Snapshot
from tests import make
from tests.courses.pages import look

TRUE = 0.44  # m², the drag area the ballast has in truth; the papers assume 0.38
PAPERS = {
    "span_m": "207.7", "cable__mass_kg_per_m": "0.65", "cable__stiffness_kn": "6000", "cable__expansion_per_k": "12",
    "cable__given_by": "certificate", "constant_tension": "no", "rider__drag_area_m2": "0.38",
    "rider__by_weight": "yes", "rider__rolling": "0.010", "rider__given_by": "assumed", "pressure_hpa": "1005",
    "launch_mps": "1.5", "zone__start_m": "193", "zone__length_m": "12.5", "zone__capture_m": "0.3",
    "parts__primary-1__start_m": "0", "parts__primary-1__rate_n_per_m": "500", "parts__primary-1__preload_n": "220",
    "parts__primary-1__bind_m": "7", "parts__primary-1__returned": "0.9", "parts__primary-1__caught": "yes",
    "parts__primary-1__worn_length_m": "0.15", "parts__emergency-1__start_m": "7.1",
    "parts__emergency-1__rate_n_per_m": "850", "parts__emergency-1__preload_n": "400",
    "parts__emergency-1__bind_m": "4.2", "parts__emergency-1__returned": "0.9", "parts__emergency-1__caught": "yes",
    "stop__rated_mps": "13", "stop__travel_share": "0.9", "stop__least_mps": "1", "stop__mean_g": "2",
    "stop__peak_g": "3.2", "stop__peak_s": "0.04", "stop__emergency_mean_g": "3", "stop__emergency_peak_g": "5",
    "source": "Calculation 7, sheets 1 to 9",
}  # fmt: skip


def confirmed(w: SimpleNamespace, at: Any) -> Version:
    """Let the manager confirm what waits, and return it."""
    version = Version.objects.filter(kind="mechanics", place=w.line).latest("proposed_at")
    return course_actions.confirm(version, deed=make.deed(w.manager, at=at))


def proposed(engineer: Client, address: str, **given: str) -> None:
    response, again = look(engineer, address, **given)
    assert "These figures can be computed with." in response.content.decode()
    assert engineer.post(address.partition("?")[0], again).status_code == 302


def six_ballasts(w: SimpleNamespace, at: Any) -> None:
    """Ride six weights in little wind, at the speeds that the line has in truth."""
    setup = make.picture(w, at).setup
    line = setup.lines[0]
    true = {**setup.mechanics(line)}
    true["rider"] = {**true["rider"], "drag_area_m2": str(TRUE)}
    plan = plan_of(setup.document(line), true, air_c=12.0, cross_mps=0.0)
    assert isinstance(plan, Plan)
    for number, mass in enumerate((35, 60, 75, 90, 105, 115)):
        wind = 0.2 * number
        found = outcome(plan, mass, wind)
        figures = {
            "arrival.speed": f"{float(found.ride.arrival_mps):.2f}",  # type: ignore[union-attr]
            "stroke.used": f"{float(found.stop.stroke_m):.2f}",  # type: ignore[union-attr]
        }
        make.ride(
            w, w.line, at=at + timedelta(minutes=number), mass=str(mass), wind=f"{wind:.1f}", figures=figures,
            air="12" if number == 0 else "",
        )  # fmt: skip


@pytest.fixture
def with_radar(w: SimpleNamespace) -> SimpleNamespace:
    """The course's line with an instrument for the arrival speed, which its checklist then asks for."""
    document = {**LINES[1].document, "speed_instrument": "radar at the landing"}
    make.settle(w, "line", document, place=w.line)
    platform = {"support": "pole", "guys": "4", "way_off": "stairs", "gate": "yes", "padding": "yes"}
    content = checklists.compose("line", document, launch_document=platform, landing_document=platform)
    make.settle(w, "checklist", content, place=w.line)
    own = make.own_limits(content)
    radar = next(one["key"] for one in content["items"] if one["measures"] == "arrival.speed")
    own[radar]["rules"][0]["params"]["limit"] = "13"
    make.settle(w, "limits", {"items": own}, place=w.line)
    return w


def test_an_engineer_gets_from_paper_to_a_band_that_can_be_traced(with_radar: SimpleNamespace, as_one: Any) -> None:
    w = with_radar
    engineer = as_one("engineer")
    form = reverse("courses:mechanics_edit", args=[w.course.pk, w.line.pk])

    # The tension from the phone by three returns: H = 4 m sec L² (N/t)², from f = g t²/32 N² (RUS 1726C-115, READ).
    watch = reverse("inspections:stopwatch", args=[w.course.pk, w.line.pk])
    by_sag = {"tension_kn": "9", "reference_c": "12", "tension_date": "2026-03-14", "tension_how": "sag"}
    proposed(engineer, form, **PAPERS, **by_sag)
    confirmed(w, w.t(21))
    day = timedelta(days=1)
    w.clock.move_to(w.at + day)
    engineer = as_one("engineer")  # nobody stays logged in overnight
    page = engineer.get(watch, {"returns": "3", "time": "10.6", "cable_c": "12"}).content.decode()
    link = next(one.split('"')[0] for one in page.split('href="') if "tension_kn=" in one).replace("&amp;", "&")
    assert "tension_kn=9.0" in link
    proposed(engineer, link, source="Return wave of the day")
    confirmed(w, w.at + day + timedelta(minutes=5))

    # Six ballasts on the next morning, and the calibration from them.
    morning = w.at + 2 * day
    w.clock.move_to(morning)
    six_ballasts(w, morning)
    w.clock.move_to(morning + timedelta(minutes=30))
    engineer = as_one("engineer")
    address = reverse("reports:calibration", args=[w.course.pk, w.line.pk])
    shown = engineer.get(address, {"since": morning.date().isoformat(), "wind_sd": "0.2"})
    found = shown.context["found"]
    assert found.problem == ""
    assert found.made.drag_area_m2 == pytest.approx(TRUE, abs=0.02)
    proposed(engineer, found.propose)
    confirmed(w, morning + timedelta(minutes=40))

    # The day after: inspected, ridden, computed. Whoever reads the band finds the version, its source and the day.
    today = w.at + 3 * day
    w.clock.move_to(today)
    make.inspect(w, at=today + timedelta(minutes=1))
    make.ride(w, w.line, at=today + timedelta(minutes=2), wind="1", air="14")
    status = line_statuses(make.picture(w, today + timedelta(minutes=3)))[0]
    assert status.clearance.is_ready
    limits = status.clearance.limits
    assert limits.mass_min_kg is not None
    assert limits.mass_min_kg >= Decimal(35)
    w.clock.move_to(today + timedelta(minutes=5))
    page = as_one("technician").get(reverse("inspections:line", args=[w.course.pk, w.line.pk])).content.decode()
    assert "Calibrated on this line with 6 rides, 35 to 115 kg" in page
    assert "Calibration with 6 of 6 test rides, 35 to 115 kg" in page  # the source of the version in force
    # The papers of the versions before are not lost by it: the tension's, and that of all else.
    assert "from Return wave of the day" in page
    assert "from Calculation 7, sheets 1 to 9, of" in page
    assert "test rides on this line" in page  # where the rider's figures are from
    assert "stopwatch, return wave" in page
    assert "Planning aid: not a design approval and not an operating limit." in page

    # The manager signs; what was computed and from what stands in the record of the day.
    actions.sign_off(
        w.course, decisions={str(one.pk): "open" for one in w.lines}, meaning="I decide.", seen_revision=0,
        deed=make.deed(w.manager, at=today + timedelta(minutes=9)),
    )  # fmt: skip
    told = json.loads(bytes(Snapshot.objects.get(course=w.course).data))
    computed = next(one for one in told["lines"] if one["id"] == str(w.line.pk))["computed"]
    assert {one["label"] for one in computed["given"]} >= {"Wind", "Air", "Line data", "Mechanics", "Tension", "Method"}
    assert len(computed["warnings"]) == 6
