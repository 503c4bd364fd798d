"""Who may open which page of the set-up."""

from __future__ import annotations

from typing import Any

from accounts.policy import Right
from courses import actions
from courses.models import Component, Place
from tests import make
from tests.access.table import ANYBODY, ROLES, Row, World
from tests.courses import build as setup

PDF = b"%PDF-1.7 a drawing"
MEASURED = "MC-01@cable"


def build(w: World) -> None:
    if not hasattr(w, "course"):
        w.course = make.course(w.operator)
        w.line = make.line(w.course)
    w.people = {role: getattr(w, role) for role in ROLES}
    setup.complete_line(w.course, w.line, w.people)
    w.spare_line = make.line(w.course, 7, "Spare")
    w.cable = Component.objects.get(tag="CB-01")
    w.trolley = setup.component(w.course, "trolley", "TR-01")
    # By neither of the two who may confirm it.
    founder = make.deed(make.founder_of(w.operator), at=w.at)
    w.version = actions.propose(
        w.course, "line", {**setup.LINE, "mass_max_kg": "125"}, source="Letter, page 2", place=w.line, deed=founder
    )
    stored = actions.store_bytes(w.operator, PDF, kind="source", media_type="application/pdf", deed=founder)
    w.sha256 = stored.sha256


def _line(w: World) -> dict[str, Any]:
    return {"place": w.line.pk}


def _spare(w: World) -> dict[str, Any]:
    return {"place": w.spare_line.pk}


def _limit(w: World) -> dict[str, Any]:
    return {"place": w.line.pk, "key": MEASURED}


def _cable(w: World) -> dict[str, Any]:
    return {"component": w.cable.pk}


def _trolley(w: World) -> dict[str, Any]:
    return {"component": w.trolley.pk}


def _version(w: World) -> dict[str, Any]:
    return {"version": w.version.pk}


def _file(w: World) -> dict[str, Any]:
    return {"sha256": w.sha256}


def _line_kind(w: World) -> dict[str, Any]:
    return {"kind": "line"}


def _nothing(w: World) -> dict[str, Any]:
    return {}


def _course(w: World) -> dict[str, Any]:
    return {"name": "Kestrel Hollow East", "town": "", "units": "us", "retention_years": "7"}


def _new_line(w: World) -> dict[str, Any]:
    first, second = (str(pk) for pk in (w.line.launch_id, w.line.landing_id))
    return {"number": "9", "name": "Ninth", "launch": first, "landing": second}


def _why(w: World) -> dict[str, Any]:
    return {"why": "Taken down."}


def _component(w: World) -> dict[str, Any]:
    return {"tag": "HA-01", "kind": "harness", "label": ""}


def _fit(w: World) -> dict[str, Any]:
    return {"where": f"{w.line.pk}|cable"}


def _retire(w: World) -> dict[str, Any]:
    return {"why": "Worn.", "destroyed": "on"}


def _rack(w: World) -> dict[str, Any]:
    return {"rack": "A", "tags": "TR-01"}


def _password(w: World) -> dict[str, Any]:
    return {"password": make.WORD}


def _store(w: World) -> dict[str, Any]:
    return {"place": Place.objects.get(course=w.course, kind="store").pk}


def _source(w: World) -> dict[str, Any]:
    return {"source": "Manual, page 3"}


# A form that proposes is looked at first: a post answers with what would change, or with what is wrong.
SEE, PROPOSE, WORK = Right.READ_SETUP, Right.PROPOSE, Right.WORK
ROWS = [
    Row("courses:home", ANYBODY, ok=302, but={"stranger": 200}),
    Row("courses:setup", SEE),
    Row("courses:course_data", SEE),
    Row("courses:course_edit", PROPOSE),
    Row("courses:course_edit", PROPOSE, post=_course),
    Row("courses:lines", SEE),
    Row("courses:platforms", SEE),
    Row("courses:place_add", PROPOSE, kwargs=_line_kind),
    Row("courses:place_add", PROPOSE, kwargs=_line_kind, post=_new_line),
    Row("courses:place", SEE, kwargs=_line),
    Row("courses:place_edit", PROPOSE, kwargs=_line),
    Row("courses:place_edit", PROPOSE, kwargs=_line, post=_source, ok=200),
    Row("courses:line_copy", PROPOSE, kwargs=_spare),
    Row("courses:place_retire", PROPOSE, kwargs=_spare),
    Row("courses:place_retire", PROPOSE, kwargs=_spare, post=_why),
    Row("courses:checklist", SEE, kwargs=_store),
    Row("courses:checklist_edit", PROPOSE, kwargs=_line),
    Row("courses:checklist_edit", PROPOSE, kwargs=_line, post=_source, ok=200),
    Row("courses:checklist_add", PROPOSE, kwargs=_line),
    Row("courses:checklist_add", PROPOSE, kwargs=_line, post=_source, ok=200),
    Row("courses:limits", SEE, kwargs=_line),
    Row("courses:limit_edit", PROPOSE, kwargs=_limit),
    Row("courses:limit_edit", PROPOSE, kwargs=_limit, post=_source, ok=200),
    Row("courses:mechanics", SEE, kwargs=_line),
    Row("courses:mechanics_edit", PROPOSE, kwargs=_line),
    Row("courses:mechanics_edit", PROPOSE, kwargs=_line, post=_source, ok=200),
    Row("courses:components", SEE),
    Row("courses:component_add", PROPOSE),
    Row("courses:component_add", PROPOSE, post=_component),
    Row("courses:component", SEE, kwargs=_cable),
    Row("courses:component_data", PROPOSE, kwargs=_cable),
    Row("courses:component_data", PROPOSE, kwargs=_cable, post=_source, ok=200),
    Row("courses:component_fit", WORK, kwargs=_cable),
    Row("courses:component_fit", WORK, kwargs=_cable, post=_fit),
    Row("courses:component_take_off", WORK, kwargs=_cable),
    Row("courses:component_take_off", WORK, kwargs=_cable, post=_nothing),
    Row("courses:component_retire", Right.RELEASE, kwargs=_trolley),
    Row("courses:component_retire", Right.RELEASE, kwargs=_trolley, post=_retire),
    Row("courses:racks", SEE),
    Row("courses:racks", WORK, post=_rack),
    Row("courses:coverage", SEE),
    Row("courses:reopening", SEE),
    Row("courses:reopening_edit", PROPOSE),
    Row("courses:reopening_edit", PROPOSE, post=_source, ok=200),
    Row("courses:criteria", SEE),
    Row("courses:criteria_edit", PROPOSE),
    Row("courses:criteria_edit", PROPOSE, post=_source, ok=200),
    Row("courses:calendar", SEE),
    Row("courses:calendar_edit", PROPOSE),
    Row("courses:calendar_edit", PROPOSE, post=_source, ok=200),
    Row("courses:proposals", SEE),
    Row("courses:proposal", SEE, kwargs=_version),
    Row("courses:proposal", Right.CONFIRM, kwargs=_version, post=_password),
    Row("courses:proposal_refuse", PROPOSE, kwargs=_version),
    Row("courses:proposal_refuse", PROPOSE, kwargs=_version, post=_why),
    Row("courses:source_file", Right.READ_HISTORY, kwargs=_file),
]
