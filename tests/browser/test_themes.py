"""Every page of the day in light and dark, read by axe-core (rules after WCAG 2.2): nothing serious or critical."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from types import SimpleNamespace
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext

from courses.models import Component
from inspections import actions
from inspections.demo.mechanics import MECHANICS
from inspections.models import Finding, Hold
from tests import make
from tests.browser.hands import Hands
from tests.conftest import NO_WORKER, PHONE

ROLES = ("technician", "manager", "engineer", "auditor")
OF_LINE = ("place_edit", "checklist", "checklist_edit", "checklist_add", "mechanics", "mechanics_edit")
SET_UP = (
    "course_data", "course_edit", "lines", "platforms", "components", "component_add", "racks", "coverage", "criteria",
    "criteria_edit", "calendar", "calendar_edit", "reopening", "reopening_edit",
)  # fmt: skip


@pytest.fixture
def busy(w: SimpleNamespace) -> SimpleNamespace:
    """A morning with a little of everything: mechanics, a sheet open, a part out of service, a hold, a day signed."""
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
    make.inspect(w, at=timezone.now(), by=w.mate, but=("landing",))
    make.ride(w, w.line, at=timezone.now(), by=w.mate, mass="115", air="12")
    now = make.picture(w, timezone.now())
    actions.take_out_of_service(
        now, w.platforms[0], title="Anchor eye cracked", slot="platform", deed=make.deed(w.mate, at=timezone.now())
    )
    actions.call_hold(now, w.line, cause="object", deed=make.deed(w.mate, at=timezone.now()))
    make.open_lines(w, at=timezone.now(), line1="closed")
    return w


def pages(w: SimpleNamespace) -> dict[str, list[tuple[Any, ...]]]:
    finding = Finding.objects.get(course=w.course, title="Anchor eye cracked")
    part = Component.objects.filter(course=w.course, kind="spring").first()
    assert part is not None
    return {
        "technician": [
            ("walk",),
            ("sheet", w.line.pk, "landing"),
            ("ride", w.line.pk),
            ("stopwatch", w.line.pk),
            ("rack", w.store.pk, "A"),
            ("hold",),
            ("withdraw",),
        ],
        "manager": [
            ("board",),
            ("line", w.line.pk),
            ("findings",),
            ("finding", finding.pk),
            ("finding_release", finding.pk),
            ("close",),
            ("open_finding",),
            ("lift", Hold.objects.get(course=w.course).pk),
            ("reports:sign",),
            ("reports:sign_paper",),
            ("reports:day_link", w.at.date()),
            ("reports:tag_stock",),
            ("reports:hints",),
            ("reports:calibration", w.line.pk),
            ("courses:setup",),
            ("courses:place", w.line.pk),
            ("courses:limits", w.line.pk),
            ("courses:proposals",),
        ],
        "engineer": [
            *((f"courses:{name}",) for name in SET_UP),
            *((f"courses:{name}", w.line.pk) for name in OF_LINE),
            ("courses:limit_edit", w.line.pk, "BS-1@primary-1"),
            ("courses:component", part.pk),
            ("courses:component_data", part.pk),
        ],
        "auditor": [
            ("reports:calendar",),
            ("reports:day", w.at.date()),
            ("reports:components",),
            ("reports:component", part.pk),
            ("reports:parts_ahead",),
            ("reports:mechanics", w.line.pk),
            ("reports:rides", w.line.pk),
            ("reports:day_sheets",),
            ("reports:sample",),
            ("reports:exports",),
        ],
    }


def themed(theme: str, role: str) -> Any:
    """Return a case; all but the walk in both themes and the manager's pages in one are among the slow tests."""
    soon = role == "technician" or (role, theme) == ("manager", "light")
    return pytest.param(theme, role, marks=() if soon else pytest.mark.slow)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("theme", "role"), [themed(theme, role) for theme in ("light", "dark") for role in ROLES])
def test_every_page_can_be_read(
    busy: SimpleNamespace, theme: str, role: str, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    window = open_window({**PHONE, **NO_WORKER, "color_scheme": theme})
    hands = Hands(busy, getattr(busy, role), window).log_in()
    found = pages(busy)
    assert tuple(found) == ROLES
    for name, *more in found[role]:
        hands.go(name, *more)

    assert hands.wrong == []
