"""A day signed twice: what the second paper says has changed, and which papers are replaced."""

from __future__ import annotations

from copy import deepcopy
from types import SimpleNamespace
from typing import Any

from django.urls import reverse

from inspections.demo.mechanics import MECHANICS
from inspections.models import SignOff
from reports.actions import issue_day_sheet
from tests import make
from tests.reports.paper_reader import letters, tight


def signed(w: SimpleNamespace, minute: int) -> Any:
    make.open_lines(w, at=w.t(minute), line2="closed")
    one = SignOff.objects.select_related("day__course__operator__log").latest("revision")
    return issue_day_sheet(one, deed=make.deed(w.manager, at=w.t(minute)))


def test_other_weights_are_named_as_the_change_and_the_old_paper_as_replaced(w: SimpleNamespace, as_one: Any) -> None:
    make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
    make.ride(w, w.line, at=w.t(6), air="12", wind="2", wind_from="tail")
    first = signed(w, 10)
    make.ride(w, w.line, at=w.t(14), wind="2", wind_from="head")
    second = signed(w, 18)

    page = as_one("auditor").get(reverse("reports:day", args=[w.course.pk, w.on])).content.decode()
    rows = page.partition("Papers</h2>")[2]
    assert rows.index(f"Day sheet {second.number}") < rows.index(f"Day sheet {first.number}")
    assert rows.count("replaced by revision 2") == 1
    paper = as_one("auditor").get(reverse("reports:paper", args=[w.course.pk, second.pk])).content
    assert tight("is open for other weights or winds than before.") in letters(paper)
