"""A day shown to somebody without an account, and the last sheets as one file. Common practice, no source."""

from __future__ import annotations

import io
import re
import uuid
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from courses.actions.files import path_of
from inspections.errors import Refused
from inspections.models import Paper, SignOff
from inspections.rebuild import chain_faults, projection_faults
from ledger.errors import AlreadyRecorded
from ledger.models import Entry
from reports.actions import issue_day_sheet
from reports.day_links import LONGEST_DAYS, give_link, read_link
from tests import make

WHOM = "Hedda Lorch, county inspector"


@pytest.fixture
def sheet(w: SimpleNamespace) -> Paper:
    """The day sheet of the course's day."""
    make.inspect(w, at=w.t(0))
    make.open_lines(w, at=w.t(60))
    return issue_day_sheet(SignOff.objects.get(), deed=make.deed(w.manager, at=w.t(61)))


def given(w: SimpleNamespace, *, days: int = 3, whom: str = WHOM, by: Any = None, **more: Any) -> str:
    who = make.deed(by or w.manager, at=w.t(90), **more)
    return give_link(w.course, w.at.date(), days=days, whom=whom, deed=who)


def test_whoever_holds_the_link_reads_that_day_and_nothing_else(w: SimpleNamespace, sheet: Paper, clock: Any) -> None:
    clock.move_to(w.t(91))
    text = given(w)
    page = Client().get(reverse("reports:linked_day", args=[text]))
    html = page.content.decode()

    assert page["Cache-Control"] == "private, no-store"
    assert page["X-Robots-Tag"].startswith("noindex")
    assert page["Referrer-Policy"] == "no-referrer"
    assert sheet.sha256[:4] in html
    addresses = re.findall(r'href="(/[^"]*)"', html)
    assert {one for one in addresses if not one.startswith(("/static/", "/day/"))} <= {"/", "/account/login/"}
    answer = Client().get(reverse("reports:linked_paper", args=[text, sheet.pk]))
    assert answer.content == path_of(w.operator.pk, sheet.sha256).read_bytes()
    assert answer["Cache-Control"] == "private, no-store"
    assert Client().get(reverse("reports:linked_paper", args=[text, uuid.uuid4()])).status_code == 404


def test_it_ends_and_cannot_be_altered(w: SimpleNamespace, sheet: Paper, clock: Any) -> None:
    text = given(w, days=1)
    end = w.t(90) + timedelta(days=1)

    assert read_link(text, at=end - timedelta(seconds=1)) is not None
    assert read_link(text, at=end) is None
    assert read_link(text[:-1] + ("A" if text[-1] != "A" else "B"), at=w.t(91)) is None
    clock.move_to(end)
    assert Client().get(reverse("reports:linked_day", args=[text])).status_code == 404
    assert Client().get(reverse("reports:linked_day", args=["made:up"])).status_code == 404


def test_that_it_was_given_stands_in_the_record_and_for_whom_only_aside(w: SimpleNamespace, sheet: Paper) -> None:
    given(w)
    entry = Entry.objects.filter(log=w.operator.log).latest("seq")

    assert entry.kind == "day-link"
    assert entry.record["act"]["until"] == "2026-06-18T07:00:00Z"
    assert b"Lorch" not in bytes(entry.data)
    assert [*chain_faults(w.operator), *projection_faults(w.operator)] == []


@pytest.mark.parametrize(
    ("about", "code"),
    [({"days": 0}, "link-days"), ({"days": LONGEST_DAYS + 1}, "link-days"), ({"whom": " "}, "link-whom"),
     ({"by": "technician"}, "no-right")],
)  # fmt: skip
def test_what_is_refused(w: SimpleNamespace, sheet: Paper, about: dict[str, Any], code: str) -> None:
    about = {**about, "by": getattr(w, about.get("by", "manager"))}

    with pytest.raises(Refused) as caught:
        given(w, **about)

    assert caught.value.code == code


def test_a_day_without_a_sheet_is_not_shown_and_a_deed_counts_once(w: SimpleNamespace) -> None:
    with pytest.raises(Refused) as caught:
        given(w)
    assert caught.value.code == "link-empty"

    make.open_lines(w, at=w.t(60), **{f"line{one.number}": "closed" for one in w.lines})
    issue_day_sheet(SignOff.objects.get(), deed=make.deed(w.manager, at=w.t(61)))
    once = uuid.uuid4()
    given(w, id=once)
    with pytest.raises(AlreadyRecorded):
        given(w, id=once)


def test_the_manager_makes_it_on_the_page_of_the_day(w: SimpleNamespace, sheet: Paper, as_one: Any, clock: Any) -> None:
    clock.move_to(w.t(95))
    manager, page = as_one("manager"), reverse("reports:day_link", args=[w.course.pk, w.at.date()])
    assert page in manager.get(reverse("reports:day", args=[w.course.pk, w.at.date()])).content.decode()
    # A browser that is told to keep quiet about a page sends its form without an origin, and is refused.
    assert manager.get(page)["Referrer-Policy"] == "same-origin"

    html = manager.post(page, {"whom": WHOM, "days": "7", "deed_id": str(uuid.uuid4())}).content.decode()

    [link] = set(re.findall(r"http://testserver(/day/[^\"<]+)", html))
    assert Client().get(link).status_code == 200


def test_the_last_sheets_are_one_file_newest_first(w: SimpleNamespace, sheet: Paper, as_one: Any) -> None:
    make.open_lines(w, at=w.t(120))
    second = issue_day_sheet(SignOff.objects.latest("revision"), deed=make.deed(w.manager, at=w.t(121)))

    answer = as_one("auditor").get(reverse("reports:last_sheets", args=[w.course.pk]))

    whole = PdfReader(io.BytesIO(answer.content))
    parts = [PdfReader(path_of(w.operator.pk, one.sha256)) for one in (second, sheet)]
    assert len(whole.pages) == sum(len(part.pages) for part in parts)
    assert [entry.title.split(" ")[0] for entry in whole.outline] == [second.number, sheet.number]
    assert whole.pages[0].extract_text() == parts[0].pages[0].extract_text()
