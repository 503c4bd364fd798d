"""The page on which the manager signs the day. That only a ready line can be opened is tested with the action."""

from __future__ import annotations

import re
import uuid
from types import SimpleNamespace
from typing import Any
from unittest import mock

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections import actions
from inspections.models import Paper, SignOff
from ledger.models import Entry
from reports.forms import field_name
from reports.signing import meaning, own_lines
from tests import make


@pytest.fixture
def page(w: SimpleNamespace) -> str:
    return reverse("reports:sign", args=[w.course.pk])


@pytest.fixture
def manager(as_one: Any) -> Client:
    return as_one("manager")


def given(
    w: SimpleNamespace, *, password: str = make.WORD, seen: int = 0, id: str = "", **decided: str
) -> dict[str, str]:
    found = {field_name(one): decided.get(f"line{one.number}", "open") for one in w.lines}
    return {"password": password, "seen_revision": str(seen), "deed_id": id or str(uuid.uuid4()), **found}


def choices(html: str, w: SimpleNamespace, number: int) -> dict[str, bool]:
    """Return what can be chosen for a line, and whether it is chosen."""
    name = field_name(w.lines[number - 1])
    return {
        value: bool(checked) for value, checked in re.findall(rf'name="{name}" value="(\w+)"( checked)?', html)
    }  # fmt: skip


def test_nothing_is_chosen_for_the_manager_and_both_can_be(w: SimpleNamespace, page: str, manager: Client) -> None:
    html = manager.get(page).content.decode()

    assert choices(html, w, 1) == {"open": False, "closed": False}
    assert meaning().replace("'", "&#x27;") in html
    assert "Tarik Oben" in html


def test_a_held_line_can_only_be_closed_and_says_why(w: SimpleNamespace, page: str, manager: Client) -> None:
    actions.call_hold(make.picture(w, w.t(15)), w.lines[1], cause="object", deed=make.deed(w.guide, at=w.t(15)))

    html = manager.get(page).content.decode()

    assert choices(html, w, 1) == {"open": False, "closed": False}
    assert choices(html, w, 2) == {"closed": True}
    assert "object on the line" in html


def test_a_watch_that_nobody_decided_on_is_named_with_the_page_to_decide(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    entry = actions.open_finding(
        make.picture(w, w.t(15)), w.line, title="Paint flakes", severity="minor", is_watch=True,
        deed=make.deed(w.technician, at=w.t(15)),
    )  # fmt: skip
    finding = entry.record["judged"]["findings"][0]["id"]

    html = manager.get(page).content.decode()

    assert reverse("inspections:finding_watch", args=[w.course.pk, finding]) in html


def test_signing_opens_the_lines_and_makes_the_papers_in_the_same_request(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    response = manager.post(page, given(w, line2="closed"))

    sign_off = SignOff.objects.get(day__course=w.course)
    decided = {key: one["decision"] for key, one in sign_off.lines.items()}
    assert decided == {str(w.lines[0].pk): "open", str(w.lines[1].pk): "closed"}
    assert Entry.objects.get(log=w.operator.log, seq=sign_off.seq).record["act"]["meaning"] == meaning()
    assert response["Location"] == reverse("reports:day", args=[w.course.pk, w.on])
    html = manager.get(response["Location"]).content.decode()
    papers = Paper.objects.filter(sign_off=sign_off)
    assert sorted(paper.kind for paper in papers) == ["day_sheet", "launch_card"]
    for paper in papers:
        assert reverse("reports:paper", args=[w.course.pk, paper.pk]) in html


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"password": "wrong"}, "This is not your password."),
        ({"password": ""}, "This field is required."),
        ({"seen": 3}, "Somebody else signed meanwhile."),
    ],
)
def test_what_is_refused_signs_nothing_and_loses_nothing(
    w: SimpleNamespace, page: str, manager: Client, changed: dict[str, Any], sentence: str
) -> None:
    response = manager.post(page, given(w, line2="closed", **changed))

    html = response.content.decode()
    assert response.status_code == 200
    assert sentence in html
    assert choices(html, w, 1) == {"open": True, "closed": False}
    assert choices(html, w, 2) == {"open": False, "closed": True}
    assert not SignOff.objects.exists()
    assert make.WORD not in html


def test_a_line_without_a_decision_is_asked_for(w: SimpleNamespace, page: str, manager: Client) -> None:
    sent = given(w)
    del sent[field_name(w.lines[1])]

    html = manager.post(page, sent).content.decode()

    assert "Say whether this line is open or closed today." in html
    assert choices(html, w, 1)["open"] is True
    assert not SignOff.objects.exists()


def test_a_line_that_was_held_since_the_page_was_shown_says_so_beside_it(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    manager.get(page)
    actions.call_hold(make.picture(w, w.t(19)), w.lines[1], cause="object", deed=make.deed(w.guide, at=w.t(19)))

    html = manager.post(page, given(w)).content.decode()

    assert "It cannot be opened." in html
    assert choices(html, w, 1) == {"open": True, "closed": False}
    assert not SignOff.objects.exists()


def test_after_somebody_else_signed_the_page_shows_it_and_can_be_signed(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    make.open_lines(w, at=w.t(18), by=w.deputy)

    html = manager.post(page, given(w, seen=0)).content.decode()
    again = manager.post(page, given(w, seen=int(re.search(r'name="seen_revision" value="(\d+)"', html)[1])))  # type: ignore[index]

    assert "Somebody else signed meanwhile." in html
    assert again.status_code == 302
    assert SignOff.objects.latest("revision").revision == 2


def test_the_same_post_twice_signs_once(w: SimpleNamespace, page: str, manager: Client) -> None:
    sent = given(w)

    answers = [manager.post(page, sent) for _ in range(2)]

    assert [one.status_code for one in answers] == [302, 302]
    assert SignOff.objects.count() == 1
    assert Paper.objects.filter(kind="day_sheet").count() == 1


def test_a_paper_that_cannot_be_drawn_leaves_the_signature_standing(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    with mock.patch("reports.views.sign.issue_papers", side_effect=OSError("no room")):
        response = manager.post(page, given(w), follow=True)

    assert SignOff.objects.count() == 1
    assert "the day sheet could not be drawn" in response.content.decode()


def test_who_had_a_hand_in_a_line_is_told_before(w: SimpleNamespace) -> None:
    picture = make.picture(w, w.t(20))

    assert own_lines(picture, w.technician.ref) == {line.pk for line in w.lines}
    assert own_lines(picture, w.manager.ref) == set()


def test_the_page_takes_few_queries(w: SimpleNamespace, page: str, manager: Client) -> None:
    manager.get(page)
    with CaptureQueriesContext(connection) as queries:
        manager.get(page)

    assert len(queries) <= 24
