"""What came due while a form was on a phone: it is nobody's answer, and what the form says besides is lost by nothing.

The rules are ours (actions.sheets); there is no outside source for them.
"""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.urls import reverse

from inspections.actions import call_hold
from inspections.facts import line_statuses
from inspections.models import Draft, Finding, Sheet
from inspections.stops import stops
from tests import make
from tests.inspections.alone import SEED, Held
from tests.inspections.pages import hidden, posted, sheet_url
from tests.inspections.test_sheet_keeping import photo as picture
from tests.inspections.test_sheets import _add_an_item
from tests.inspections.test_signed_alone import LOOK, faults, records
from tests.inspections.test_signed_alone import sheet as sheet
from tests.signing import prepared

MOVED = "TA-18@end-launch"  # has anything moved since the cable was struck or jerked?
pytestmark = pytest.mark.usefixtures("clock")


def test_what_came_due_while_the_phone_was_away_is_not_checked_and_the_rest_counts(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any
) -> None:
    """Refused, a defect that was seen would wait until somebody puts a form right."""
    make.inspect(w, at=w.t(0), but=("landing",))
    sheet = hold(sheet_url(w), {**hidden(as_("technician").get(sheet_url(w))), "sign": "1", **posted(w)})
    _add_an_item(w, at=0)
    clock.move_to(w.t(20))
    assert "id" in sheet.sent(as_("technician")).json()
    assert "NEW-1@end-landing" not in {one["key"] for one in records()[-1]["judged"]["readings"]}
    now = make.picture(w, w.t(21))
    reasons = line_statuses(now)[0].clearance.reasons
    assert {one.code for one in reasons} == {"item-unknown", "ride-order"}  # ballast went before the sheet came
    rows = [row for stop in stops(now, w.technician) for row in stop.rows]
    [row] = [one for one in rows if (one.place.pk, one.section) == (w.line.pk, "landing")]
    assert (row.is_done, row.left) == (False, 1)
    page = as_("auditor").get(reverse("reports:day", args=[w.course.pk, "2026-06-15"])).content.decode()
    told = page[page.index(f'id="place-{w.line.pk}"') :].partition("</summary>")
    assert "is-unknown" in told[0]
    assert "Answered by nobody: Landing end and brakes, 1 item." in told[2]
    assert faults(w) == []


@pytest.mark.parametrize("is_kept_before", [False, True])
def test_a_second_sheet_that_was_opened_before_something_came_due_loses_no_defect(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any, is_kept_before: bool
) -> None:
    make.inspect(w, at=w.t(0))
    client = as_("technician")
    shown, typed = hidden(client.get(sheet_url(w))), posted(w)
    wrong = {f"mark-{LOOK}": "defect", f"note-{LOOK}": "Slipped", f"kept-{LOOK}": "defect"}
    alone = hold(sheet_url(w), {**shown, "sign": "1", **typed, **wrong})
    _add_an_item(w, at=0)
    clock.move_to(w.t(20))
    if is_kept_before:  # with a signal: it is out of service at once, though the server would not ask for it any more
        answer = client.post(sheet_url(w), {**shown, "item": LOOK, "keep": LOOK, **wrong},
                             headers={"accept": "application/json"})  # fmt: skip
        assert answer.json()["item"][LOOK]["verdict"] == "withdraw"
        assert Finding.objects.get().key == LOOK
    assert "id" in alone.sent(client).json()
    assert Finding.objects.get().key == LOOK
    assert {"finding-critical", "item-unknown"} <= {
        one.code for one in line_statuses(make.picture(w, w.t(21)))[0].clearance.reasons
    }
    assert faults(w) == []


def test_an_answer_that_comes_after_its_sheet_begins_no_other(w: SimpleNamespace, as_: Any, sheet: Held) -> None:
    client = as_("technician")
    assert "id" in sheet.sent(client).json()
    late = {"deed_id": sheet.fields["deed_id"], "item": LOOK, f"mark-{LOOK}": "sound"}
    answer = client.post(sheet_url(w), late, headers={"accept": "application/json"})
    assert (answer.status_code, answer.json()["item"]) == (422, {})
    assert not Draft.objects.exists()
    client.post(sheet_url(w), {**late, "deed_id": str(uuid4())}, headers={"accept": "application/json"})
    assert Draft.objects.exists()


@pytest.mark.parametrize("sending", [True, False])
def test_a_sheet_of_one_answer_is_none_whoever_says_that_it_was_signed_alone(
    w: SimpleNamespace, as_: Any, clock: Any, sending: bool
) -> None:
    """By a header alone a part of the first sheet would count as the sheet, and ballast as sent after it."""
    make.inspect(w, at=w.t(0), but=("landing",))
    client = as_("technician")
    given = {**hidden(client.get(sheet_url(w))), "deed_id": str(uuid4()), "sign": "1", f"mark-{LOOK}": "sound"}
    client.post(sheet_url(w), given, headers={"X-Lineworthy-Act": "send"} if sending else {})
    assert not Sheet.objects.filter(section="landing").exists()


def test_a_header_alone_leaves_nothing_out_of_a_second_sheet_either(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    client, shown = partly_open(w, as_, clock)
    given = {**shown, "deed_id": str(uuid4()), "sign": "1", f"mark-{LOOK}": "sound"}
    client.post(sheet_url(w), given, headers={"X-Lineworthy-Act": "send"})
    assert Sheet.objects.filter(section="landing", place=w.line).count() == 1


def test_what_every_day_asks_is_not_left_out_of_a_first_sheet(w: SimpleNamespace, as_: Any, hold: Any) -> None:
    """Not by a key either: a page whose script was altered signs what it likes."""
    make.inspect(w, at=w.t(0), but=("landing",))
    client, typed = as_("technician"), posted(w)
    form = {**hidden(client.get(sheet_url(w))), "sign": "1", **typed}
    act = json.loads(prepared(client, sheet_url(w), {**form, "deed_id": str(uuid4()), "_seed": SEED}).json()["act"])
    sheet = hold(sheet_url(w), form, readings=[one for one in act["readings"] if one["key"] == LOOK])
    few = {name: value for name, value in sheet.fields.items() if name not in typed or name == f"mark-{LOOK}"}
    sheet.fields = few
    assert "Not answered yet." in sheet.sent(as_("technician")).json()["refused"]
    assert not Sheet.objects.filter(section="landing").exists()


def test_what_thunder_asks_of_an_end_is_not_checked_and_a_defect_of_a_page_of_before_counts(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any
) -> None:
    """The checklist is the same: it came due by what happened."""
    # So that what is asked after thunder alone is not due in the morning.
    make.sign(w, w.line, "launch", at=w.t(-24 * 60))
    make.inspect(w, at=w.t(0))
    client = as_("technician")
    path, key = sheet_url(w, "launch"), "TA-13@end-launch"
    shown, typed = hidden(client.get(path)), posted(w, "launch")
    assert f"mark-{MOVED}" not in typed
    wrong = {f"mark-{key}": "defect", f"note-{key}": "Slipped", f"kept-{key}": "defect"}
    alone = hold(path, {**shown, "sign": "1", **typed, **wrong})
    call_hold(make.picture(w, w.t(5)), None, cause="thunder", deed=make.deed(w.guide, at=w.t(5)))
    clock.move_to(w.t(20))
    assert key not in client.get(path).content.decode()  # the page asks for what is open alone by now
    assert "id" in alone.sent(client).json()
    assert Finding.objects.get().key == key
    assert {"finding-critical", "item-unknown"} <= {
        one.code for one in line_statuses(make.picture(w, w.t(21)))[0].clearance.reasons
    }
    assert faults(w) == []


def partly_open(w: SimpleNamespace, as_: Any, clock: Any) -> tuple[Any, dict[str, str]]:
    """A page of before, on which everything is asked; since then something has come due, and nothing else is open."""
    make.inspect(w, at=w.t(0))
    client = as_("technician")
    shown = hidden(client.get(sheet_url(w)))
    _add_an_item(w, at=0)
    clock.move_to(w.t(20))
    return client, shown


def test_a_page_of_before_takes_out_of_service_and_keeps_its_photos(w: SimpleNamespace, as_: Any, clock: Any) -> None:
    client, shown = partly_open(w, as_, clock)
    assert client.post(sheet_url(w), {**shown, "withdraw": LOOK}).status_code == 302
    sent = {**shown, "item": LOOK, f"photo-{LOOK}": picture()}
    client.post(sheet_url(w), sent, headers={"accept": "application/json"})
    assert len(Draft.objects.get().content[LOOK]["photos"]) == 1


def test_what_is_insisted_on_counts_though_its_sheet_is_signed(w: SimpleNamespace, as_: Any, sheet: Held) -> None:
    client = as_("technician")
    assert "id" in sheet.sent(client).json()
    late = {"deed_id": sheet.fields["deed_id"], "item": LOOK, f"mark-{LOOK}": "defect", "keep": LOOK}
    client.post(sheet_url(w), late, headers={"accept": "application/json"})
    assert Finding.objects.get().key == LOOK
