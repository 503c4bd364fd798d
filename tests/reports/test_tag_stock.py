"""Numbered tags printed beforehand: the numbers go on, and each drawing is an entry.

That tags are of one print and format is WAC 296-803-40020 (READ); the numbering is
the operators' own.
"""

from __future__ import annotations

import uuid
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from courses.actions.files import path_of
from inspections.errors import Refused
from inspections.models import Paper
from inspections.rebuild import projection_faults
from reports.actions import issue_tag_stock, next_tag_number
from tests import make
from tests.inspections import steps
from tests.reports.paper_reader import pages


def draw(w: SimpleNamespace, count: int = 10, *, at: float = 20, by: Any = None) -> Paper:
    return issue_tag_stock(w.course, count=count, deed=make.deed(by or w.manager, at=w.t(at)))


def test_numbers_go_on_from_the_stock_and_from_what_was_tied(w: SimpleNamespace) -> None:
    assert draw(w).number == "stock 0001-0010"
    assert draw(w, 20).number == "stock 0011-0030"
    steps.pay(w, steps.take_out(w, at=20))  # with tag 0417, from elsewhere
    assert draw(w, at=30).number == "stock 0418-0427"
    assert list(projection_faults(w.operator)) == []


def test_each_number_stands_on_a_tag_of_its_own(w: SimpleNamespace) -> None:
    made = draw(w, 10)

    found = pages(path_of(w.operator.pk, made.sha256).read_bytes())

    assert len(found) == 5
    text = " ".join(found)
    assert [f"{number:04}" in text for number in range(1, 11)] == [True] * 10
    assert "0011" not in text


@pytest.mark.parametrize(("count", "role", "code"), [(0, "manager", "tag-count"), (101, "manager", "tag-count"),
                                                     (10, "technician", "no-right")])  # fmt: skip
def test_what_is_refused_takes_no_number(w: SimpleNamespace, count: int, role: str, code: str) -> None:
    with pytest.raises(Refused) as caught:
        draw(w, count, by=getattr(w, role))

    assert caught.value.code == code
    assert next_tag_number(w.course) == 1


def test_the_manager_draws_them_on_a_page_once(w: SimpleNamespace, as_one: Any) -> None:
    page = reverse("reports:tag_stock", args=[w.course.pk])
    manager = as_one("manager")
    sent = {"count": "20", "deed_id": str(uuid.uuid4())}

    first = manager.post(page, sent)
    manager.post(page, sent)

    made = Paper.objects.get(kind="tag")
    assert first["Location"] == reverse("reports:paper", args=[w.course.pk, made.pk])
    html = manager.get(page).content.decode()
    assert "0001-0020" in html
    assert "The next number is 0021." in html
