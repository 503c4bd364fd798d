"""The page on which the manager signs the day. That only a ready line can be opened is tested with the action."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
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
from reports.signing import line_rows, meaning, own_lines
from tests import make
from tests.inspections import steps


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


# --- what mends a reason, and lines that depend on each other


def test_every_reason_leads_to_what_mends_it(w: SimpleNamespace, page: str, manager: Client) -> None:
    tomorrow = w.t(24 * 60)  # nothing is signed and nothing is ridden yet
    picture = make.picture(w, tomorrow)

    def addresses(*, inspects: bool) -> dict[str, str]:
        rows = line_rows(picture, w.manager.ref, inspects=inspects)
        return {reason.sentence: reason.url for reason in rows[0].reasons}

    of_line = reverse("inspections:line", args=[w.course.pk, w.line.pk])
    seen, filled = addresses(inspects=False), addresses(inspects=True)
    assert all(filled.values())
    assert all(seen.values())
    assert seen["No good test ride with ballast today."] == of_line
    assert filled["No good test ride with ballast today."] == reverse("inspections:ride", args=[w.course.pk, w.line.pk])
    assert filled["Line 1 Line 1: Cable is not signed yet."] == reverse(
        "inspections:sheet", args=[w.course.pk, w.line.pk, "cable"]
    )


def test_a_brake_that_is_out_of_service_is_told_once(w: SimpleNamespace) -> None:
    steps.take_out(w, slot="primary-1", at=15)

    row = line_rows(make.picture(w, w.t(20)), w.manager.ref)[0]

    sentences = [reason.sentence for reason in row.reasons]
    assert len(sentences) == len(set(sentences))
    assert sum("Spring cracked" in one for one in sentences) == 1
    assert "No sound primary brake." not in sentences  # the finding that says so stands there with its page
    assert row.reasons[0].url


@pytest.fixture(scope="module")
def chained(built: SimpleNamespace) -> SimpleNamespace:
    """A course of its own on which line 2 is the only way on from where line 1 ends, both lines ready."""
    chained = make.ready(lines=2, on=built.at, way_off="line:2", name="Rook Vale")
    make.inspect(chained, at=chained.at + timedelta(minutes=1))
    return chained


def test_lines_that_depend_on_each_other_come_back_in_one_signing(
    w: SimpleNamespace, chained: SimpleNamespace, clock: Any
) -> None:
    make.open_lines(chained, at=chained.at + timedelta(minutes=5), line1="closed", line2="closed")
    clock.move_to(chained.at + timedelta(minutes=10))
    client = Client()
    client.force_login(chained.manager)
    page = reverse("reports:sign", args=[chained.course.pk])

    html = client.get(page).content.decode()
    assert set(choices(html, chained, 1)) == {"open", "closed"}
    assert "Only together with" in html
    one_alone = client.post(page, given(chained, seen=1, line2="closed")).content.decode()
    assert "It cannot be opened." in one_alone
    client.post(page, given(chained, seen=1))

    signed = SignOff.objects.filter(day__course=chained.course).latest("revision")
    assert {decided["decision"] for decided in signed.lines.values()} == {"open"}
    assert signed.revision == 2


def test_it_belongs_under_today(w: SimpleNamespace, as_one: Any) -> None:
    page = as_one("manager").get(reverse("reports:sign", args=[w.course.pk])).content.decode()
    current = re.findall(r'<a href="([^"]+)" aria-current="page"', page)
    assert set(current) == {reverse("inspections:board", args=[w.course.pk])}
