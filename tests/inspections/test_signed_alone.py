"""A deed that its phone built and signed alone, and sent later: recorded once, as it was signed, or refused in words.

The rules are ours (accounts.signing, accounts.receiving); there is no outside source for them. The act is taken from
what the server prepares with the phone's seed, which a browser makes the same of (tests/browser/test_same_act.py).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from hashlib import sha256
from types import SimpleNamespace
from typing import Any
from uuid import uuid4

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from accounts.person_keys import revoke_key
from courses.actions import take_off
from courses.models import Component, Placement
from inspections.actions import call_hold, lift_hold, take_out_of_service
from inspections.facts import line_statuses
from inspections.models import Draft, Finding, Hold, Sheet
from inspections.projection import day_id
from inspections.rebuild import projection_faults, signature_faults
from ledger import acts, chain
from ledger.models import Disclosure, Entry
from tests import make
from tests.inspections.alone import SEED, Held
from tests.inspections.pages import hidden, posted, ride_fields, sheet_url, url
from tests.inspections.test_sheet_keeping import photo as picture
from tests.inspections.test_sheets import _add_an_item, _tighten
from tests.signing import Phone

pytestmark = pytest.mark.usefixtures("clock")
LOOK, MARK = "TA-06@end-landing", "TA-04M@end-landing"


@pytest.fixture
def sheet(w: SimpleNamespace, as_: Any, hold: Callable[..., Held]) -> Held:
    shown = hidden(as_("technician").get(sheet_url(w)))
    return hold(sheet_url(w), {**shown, "sign": "1", **posted(w)})


def records(kind: str = "sheet") -> list[dict[str, Any]]:
    return [one.record for one in Entry.objects.filter(kind=kind).order_by("seq")]


def test_what_comes_next_is_not_said_to_who_did_not_look(w: SimpleNamespace, as_: Any, sheet: Held) -> None:
    client = as_("technician")
    assert sheet.sent(client).status_code == 200
    assert 'class="messages"' not in client.get(url(w, "walk")).content.decode()


def faults(w: SimpleNamespace) -> list[str]:
    return [*signature_faults(w.operator), *projection_faults(w.operator)]


def test_it_is_recorded_as_it_was_signed_and_named_in_the_answer(
    w: SimpleNamespace, as_: Any, sheet: Held, own_phone: Phone, clock: Any
) -> None:
    clock.move_to(w.t(180))
    answer = sheet.sent(as_("technician"))
    [record] = records()
    told = {"id": record["act"]["id"], "act": sha256(chain.canonical(record["act"])).hexdigest(), "seq": record["seq"]}
    assert answer.json() == told
    assert (record["act"]["made_at"], record["t"]) == ("2026-06-15T05:30:00Z", "2026-06-15T08:30:00Z")
    assert Sheet.objects.get().signed_at == w.t(180)  # what counts is when it was there
    assert acts.is_signed(
        acts.point_of(own_phone.public) or b"", record["sig"]["sig"], acts.message("sheet", record["act"])
    )
    assert faults(w) == []
    # Both times stand wherever it is read.
    client = as_("auditor")
    for page in (
        reverse("reports:entry", args=[w.course.pk, record["seq"]]), reverse("reports:entries", args=[w.course.pk]),
        reverse("reports:day", args=[w.course.pk, "2026-06-15"]), url(w, "signed", Sheet.objects.get().pk),
    ):  # fmt: skip
        text = client.get(page).content.decode()
        assert "07:30" in text, page
        assert "10:30" in text, page


def test_sent_again_it_is_answered_the_same_and_done_once(w: SimpleNamespace, as_: Any, sheet: Held) -> None:
    client = as_("technician")
    first = sheet.sent(client).json()
    count = Entry.objects.count()
    assert sheet.sent(client).json() == first
    assert sheet.sent(as_("technician"), _sig="other").json() == first
    assert Entry.objects.count() == count
    # Somebody else learns nothing of it.
    assert "id" not in sheet.sent(as_("mate")).json()


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({f"mark-{LOOK}": "cannot_check", f"note-{LOOK}": "Eis"}, "has changed since it was signed"),
        ({"_seed": "1e" * 32}, "has changed since it was signed"),
        ({"_seed": "short"}, "signed too long ago"),
        ({"_made_at": "2026-06-15T05:29:00Z"}, "has changed since it was signed"),
        ({"_made_at": "2026-06-13T17:29:59Z"}, "signed too long ago"),
        ({"_made_at": "9999-12-31T23:59:59Z"}, "signed too long ago"),
        ({"_made_at": "now"}, "signed too long ago"),
        ({"_sig": "AAAA"}, "has changed since it was signed"),
        ({"_key": "0" * 32}, "key of this device is not known"),
        ({f"mark-{LOOK}": ""}, "Not answered yet."),
    ],
    ids=str,
)
def test_what_is_not_so_signed_is_refused_in_a_sentence(
    w: SimpleNamespace, as_: Any, sheet: Held, clock: Any, changed: dict[str, str], sentence: str
) -> None:
    clock.move_to(w.t(60))
    answer = sheet.sent(as_("technician"), **changed)
    assert answer.status_code == 422
    assert sentence in answer.json()["refused"]
    assert records() == []


def test_a_form_that_nobody_signed_is_of_the_day_it_comes_and_owes_no_photo(
    w: SimpleNamespace, as_: Any, clock: Any
) -> None:
    """Our own rule: without a signature nothing says that it was done yesterday, whatever header or field says so."""
    clock.move_to(w.t(24 * 60 + 60))
    client = as_("technician")
    given = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w), "_date": "2026-06-15"}
    assert Held(sheet_url(w), {**given, "deed_id": str(uuid4())}).sent(client).status_code == 302
    [record] = records()
    assert "sig" not in record
    assert record["act"]["date"] == "2026-06-16"

    found = {"place": str(w.line.pk), "title": "Riss", "severity": "critical", "sent-photo": "0e" * 32}
    told = Held(url(w, "open_finding"), {**found, "deed_id": str(uuid4())}).sent(client)
    assert "A photo of this is not here, or was erased." in told.content.decode()
    assert not Finding.objects.exists()


def test_it_may_be_a_day_and_a_half_old_and_is_of_the_day_it_was_signed_on(
    w: SimpleNamespace, as_: Any, sheet: Held, clock: Any
) -> None:
    clock.move_to(w.t(36 * 60))
    assert sheet.sent(as_("technician")).json()["id"] == sheet.fields["deed_id"]
    one = Sheet.objects.get()
    assert (str(one.day.date), one.signed_at) == ("2026-06-15", w.t(36 * 60))
    assert faults(w) == []


def test_older_it_is_not_taken(w: SimpleNamespace, as_: Any, sheet: Held, clock: Any) -> None:
    clock.move_to(w.t(36 * 60, seconds=1))
    assert "signed too long ago" in sheet.sent(as_("technician")).json()["refused"]


def test_a_clock_that_is_ahead_is_told_and_not_refused(w: SimpleNamespace, as_: Any, hold: Any) -> None:
    client = as_("technician")
    fields = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w)}
    held = hold(sheet_url(w), fields, at=w.t(90))
    assert held.sent(client).json()["id"] == held.fields["deed_id"]
    [record] = records()
    assert (record["act"]["made_at"], record["t"]) == ("2026-06-15T07:00:00Z", "2026-06-15T05:30:00Z")
    page = client.get(url(w, "signed", Sheet.objects.get().pk)).content.decode()
    assert "signed 15 June 2026, 09:00 by the phone" in " ".join(page.split())


def test_nothing_is_of_a_day_to_come_whatever_a_clock_says(w: SimpleNamespace, as_: Any, hold: Any, clock: Any) -> None:
    """A sheet that is signed today would stand there tomorrow before anybody had looked."""
    client = as_("technician")
    fields = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w)}
    tomorrow = f"{w.t(24 * 60):%Y-%m-%d}"
    day = day_id(str(w.course.pk), tomorrow)
    held = hold(sheet_url(w), fields, at=w.t(24 * 60), date=tomorrow, day=day)
    assert "changed since it was signed" in held.sent(client).json()["refused"]
    assert not Sheet.objects.exists()


@pytest.mark.parametrize("sends", [True, False])
@pytest.mark.parametrize("what", ["ride", "weather"])
def test_a_ride_and_the_weather_are_not_taken_later_than_they_were_measured(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any, what: str, sends: bool
) -> None:
    client = as_("technician")
    if what == "ride":
        make.inspect(w, at=w.t(0))
        held = hold(url(w, "ride", w.line.pk), {**ride_fields(w), "sign": "1"})
    else:
        path = sheet_url(w, "house", w.house)
        held = hold(path, {**hidden(client.get(path)), "sign": "1", **posted(w, "house", w.house)})
    kept, kind = records("ride" if what == "ride" else "sheet"), "ride" if what == "ride" else "sheet"
    clock.move_to(w.t(12))
    answer = held.sent(client) if sends else client.post(held.path, held.fields)
    assert "count as of when they arrive" in answer.content.decode()
    assert records(kind) == kept
    clock.move_to(w.t(2))
    assert client.post(held.path, held.fields).status_code == 302
    assert len(records(kind)) == len(kept) + 1


def test_the_seed_is_kept_nowhere_and_gives_no_salt_twice(
    w: SimpleNamespace, as_: Any, sheet: Held, hold: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept: list[Any] = []
    monkeypatch.setattr(cache, "set", lambda name, value, *_more: kept.append((name, value)))
    client = as_("technician")
    assert "id" in sheet.sent(client).json()
    # The same seed for another deed: another salt, and so another commitment for the same name.
    other = hold(
        sheet_url(w, "cable"), {**hidden(client.get(sheet_url(w, "cable"))), "sign": "1", **posted(w, "cable")}
    )
    assert "id" in other.sent(client).json()
    first, second = (one["act"]["signer"]["commit"] for one in records())
    assert first != second
    salts = [bytes(one.salt) for one in Disclosure.objects.filter(commit__in=[first, second])]
    assert len(set(salts)) == 2
    assert not [name for name, value in kept if name.startswith("salts:") or SEED in str(value)]
    # A form whose log-in ran out is kept for its person, without the seed.
    client.logout()
    sheet.path, _ = sheet_url(w), client.post(sheet.path, sheet.fields)
    assert [name for name, _value in kept if name.startswith("kept:")]
    assert SEED not in str(kept)


def test_without_a_log_in_or_under_another_it_stays_on_the_phone(w: SimpleNamespace, as_: Any, sheet: Held) -> None:
    for client in (Client(), as_("mate")):
        answer = sheet.sent(client)
        assert answer.status_code == 401
        assert set(answer.json()) == {"login"}
    assert records() == []


def test_what_is_not_there_or_not_allowed_any_more_is_said(w: SimpleNamespace, as_: Any, sheet: Held) -> None:
    gone = Held(sheet.path.replace(str(w.line.pk), str(uuid4())), sheet.fields)
    assert "not there any more" in gone.sent(as_("technician")).json()["refused"]
    w.technician.roles.update(kind="auditor")
    answer = sheet.sent(as_("technician"))
    assert answer.status_code == 422
    assert "may not do this any more" in answer.json()["refused"]


def test_what_changed_meanwhile_is_refused_or_judged_by_both(
    w: SimpleNamespace, as_: Any, sheet: Held, hold: Any, own_phone: Any
) -> None:
    client = as_("technician")
    now = _tighten(w, MARK, "0.3", at=0)
    assert "id" in sheet.sent(client).json()
    [record] = records()
    assert record["judged"]["versions"]["limits"] == str(now.pk)
    assert record["act"]["versions"]["limits"] != str(now.pk)
    # An item that came onto the list is asked for; what was typed stands in the draft.
    fields = {**hidden(client.get(sheet_url(w, "cable"))), "sign": "1", **posted(w, "cable")}
    other = hold(sheet_url(w, "cable"), fields)
    revoke_key(own_phone.key, "lost", deed=make.deed(w.manager, at=w.t(0)))
    assert "key of this device is not known" in other.sent(client).json()["refused"]
    assert Draft.objects.get().content
    _add_an_item(w, at=0)
    assert faults(w) == []


def test_what_was_begun_on_another_phone_is_no_part_of_it(
    w: SimpleNamespace, as_: Any, sheet: Held, clock: Any
) -> None:
    client = as_("technician")
    clock.move_to(w.t(60))  # the battery of the one ran out, and it was filled in on the other from the beginning
    note = {f"mark-{LOOK}": "defect", f"note-{LOOK}": "Riss?", f"photo-{LOOK}": picture()}
    client.post(sheet_url(w), {"item": LOOK, **note}, headers={"accept": "application/json"})
    [begun] = Draft.objects.values_list("content", flat=True)
    assert begun[LOOK]["photos"]

    answer = sheet.sent(client).json()

    [record] = records()
    assert answer.get("id") == record["act"]["id"], answer
    [reading] = [one for one in record["act"]["readings"] if one["key"] == LOOK]
    assert (reading["mark"], reading.get("photos"), reading.get("note")) == ("sound", None, None)
    assert [one.content for one in Draft.objects.all()] == [begun]  # nothing that was typed is lost by it
    assert faults(w) == []


def test_a_photo_that_another_phone_added_since_is_no_part_of_it(w: SimpleNamespace, as_: Any, hold: Any) -> None:
    client = as_("technician")
    begin = {"item": LOOK, f"mark-{LOOK}": "sound", f"photo-{LOOK}": picture()}
    client.post(sheet_url(w), begin, headers={"accept": "application/json"})
    shown = hidden(client.get(sheet_url(w)))  # on both phones from here on
    [first] = Draft.objects.get().content[LOOK]["photos"]
    begun = dict(Draft.objects.values().get())
    sheet = hold(sheet_url(w), {**shown, "sign": "1", **posted(w), f"had-{LOOK}": first})
    Draft.objects.create(**begun)
    client.post(sheet_url(w), {**begin, f"photo-{LOOK}": picture(90)}, headers={"accept": "application/json"})
    assert len(Draft.objects.get().content[LOOK]["photos"]) == 2

    assert "id" in sheet.sent(client).json()

    [record] = records()
    [reading] = [one for one in record["act"]["readings"] if one["key"] == LOOK]
    assert reading["photos"] == [first]
    assert faults(w) == []


def test_a_defect_that_was_insisted_on_holds_its_line_when_it_arrives(w: SimpleNamespace, as_: Any, hold: Any) -> None:
    client = as_("technician")
    defect = {f"mark-{LOOK}": "defect", f"kept-{LOOK}": "defect", f"note-{LOOK}": "Riss"}
    held = hold(sheet_url(w), {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w), **defect})
    assert not Finding.objects.filter(out_of_service=True).exists()
    assert "id" in held.sent(client).json()
    assert Finding.objects.get(out_of_service=True).key == LOOK
    assert make.picture(w, w.t(1)).open_findings(w.line)


def test_a_hold_called_twice_without_a_signal_stands_twice(w: SimpleNamespace, as_: Any, hold: Any, clock: Any) -> None:
    """Who called it knew nothing of the other: the safer of the two is that both have to be lifted."""
    held = hold(url(w, "hold"), {"cause": "thunder", "line": ""})
    call_hold(make.picture(w, w.t(1)), None, cause="thunder", deed=make.deed(w.mate, at=w.t(1)))
    clock.move_to(w.t(30))
    assert "id" in held.sent(as_("technician")).json()
    assert [one.called_at for one in Hold.objects.order_by("seq")] == [w.t(1), w.t(30)]
    assert faults(w) == []


def test_taking_out_of_service_counts_when_it_arrives(w: SimpleNamespace, as_: Any, hold: Any, clock: Any) -> None:
    held = hold(url(w, "withdraw"), {"code": "HA-01", "title": "Riemen gerissen"})
    assert not Finding.objects.exists()
    clock.move_to(w.t(25 * 60))
    assert "id" in held.sent(as_("technician")).json()
    found = Finding.objects.get()
    [record] = records("finding-opened")
    assert (record["act"]["component"], record["act"]["slot"]) == (str(found.component_id), "B")
    assert record["act"]["date"] == "2026-06-15"
    assert faults(w) == []


def test_a_finding_by_hand_counts_when_it_arrives_and_says_what_was_signed(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any
) -> None:
    found = {"place": str(w.line.pk), "title": "Riss am Haken", "severity": "critical", "text": "Am Bogen."}
    held = hold(url(w, "open_finding"), found)
    assert not Finding.objects.exists()
    clock.move_to(w.t(25 * 60))
    assert "id" in held.sent(as_("technician")).json()
    [record] = records("finding-opened")
    assert (record["act"]["date"], record["act"]["severity"]) == ("2026-06-15", "critical")
    assert record["act"]["title"] == "Riss am Haken"
    assert [one.severity for one in make.picture(w, w.t(25 * 60)).open_findings(w.line)] == ["critical"]
    # One that only watches may not be made of it on the way.
    other = hold(url(w, "open_finding"), {**found, "severity": "major"}, at=w.t(25 * 60))
    refused = other.sent(as_("technician"), is_watch="on").json()["refused"]
    assert "changed since it was signed" in refused
    assert Finding.objects.count() == 1
    assert faults(w) == []


def test_what_is_added_to_a_finding_pays_what_is_owed_then_and_opens_nothing(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any
) -> None:
    picture = make.picture(w, w.t(0))
    take_out_of_service(picture, w.line, title="Riss", deed=make.deed(w.mate, at=w.t(0)))
    one = Finding.objects.get()
    held = hold(url(w, "finding_add", one.pk), {"text": "Bis zum Bogen.", "tag_number": "0417"})
    second = hold(url(w, "finding_add", one.pk), {"text": "Nochmals."})
    clock.move_to(w.t(25 * 60))
    assert "id" in held.sent(as_("technician")).json()
    one.refresh_from_db()
    assert (set(one.owed), one.tag_number, one.state, one.out_of_service) == ({"photo"}, "0417", "open", True)
    assert records("finding-note")[0]["act"]["date"] == "2026-06-15"
    Finding.objects.update(state="released")
    assert second.sent(as_("technician")).json() == {"refused": "This finding was released already."}
    Finding.objects.update(state="open")
    assert faults(w) == []


def test_work_on_a_finding_is_of_the_day_it_arrives_on(w: SimpleNamespace, as_: Any, hold: Any, clock: Any) -> None:
    """It voids rides, and rides of its own day alone: it must not be of a day that is over."""
    take_out_of_service(make.picture(w, w.t(0)), w.store, title="Riss", deed=make.deed(w.mate, at=w.t(0)))
    work = {"what": "repair", "text": "Vernäht."}
    held = hold(url(w, "finding_work", Finding.objects.get().pk), work)
    clock.move_to(w.t(25 * 60))
    assert "changed since it was signed" in held.sent(as_("technician")).json()["refused"]
    assert not records("finding-work")


NOTED = "2026-06-15T05:12:00Z"


def test_a_tag_code_that_the_phone_noted_stands_in_the_record(w: SimpleNamespace, as_: Any, hold: Any) -> None:
    client = as_("technician")
    fields = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w), "here-noted": f"pf-2|scanned|{NOTED}"}
    held = hold(sheet_url(w), fields)
    assert "id" in held.sent(client).json()
    assert records()[0]["act"]["here"] == {"code": "PF-2", "how": "scanned", "at": NOTED}


def test_a_code_counts_by_where_its_part_was_when_it_was_noted(
    w: SimpleNamespace, as_: Any, hold: Any, clock: Any
) -> None:
    client, part = as_("technician"), Component.objects.get(tag="PF-2")
    noted = f"PF-2|scanned|{w.t(1):%Y-%m-%dT%H:%M:%SZ}"
    clock.move_to(w.t(2))
    fields = {**hidden(client.get(sheet_url(w))), "sign": "1", **posted(w), "here-noted": noted}
    first, second = (hold(sheet_url(w), fields | {"deed_id": str(uuid4())}, at=w.t(2)) for _time in range(2))
    take_off(part, deed=make.deed(w.technician, at=w.t(3)))
    clock.move_to(w.t(30))
    assert "id" in first.sent(client).json()
    # Of nowhere at that time either, it is said.
    Placement.objects.filter(component=part).update(until=w.t(0))
    assert "PF-2 is in the register, but fitted nowhere." in second.sent(client).json()["refused"]
    assert len(records()) == 1


@pytest.mark.parametrize("noted", ["PF-2", "PF-2|scanned|now", "|||", "PF-2|scanned|2026-06-15T05:12:00Z|x"])
def test_nonsense_in_place_of_a_noted_code_is_no_code(w: SimpleNamespace, as_: Any, noted: str) -> None:
    client = as_("technician")
    client.post(sheet_url(w), {"sign": "1", **posted(w), "here-noted": noted})
    assert "here" not in records()[0]["act"]


def test_a_minute_more_or_less_is_not_told_as_late(w: SimpleNamespace, as_: Any, sheet: Held, clock: Any) -> None:
    clock.move_to(w.t(0) + timedelta(minutes=5))
    assert "id" in sheet.sent(as_("technician")).json()
    page = as_("technician").get(url(w, "signed", Sheet.objects.get().pk)).content.decode()
    assert "clock" not in page


def test_a_hold_of_two_people_who_knew_nothing_of_each_other_stands_until_both_are_lifted(
    w: SimpleNamespace, as_: Any, hold: Callable[..., Held], clock: Any
) -> None:
    """Our own rule: a tree and a branch are one cause and two things to clear away."""
    make.inspect(w, at=w.t(0))
    held = hold(url(w, "hold"), {"line": str(w.line.pk), "cause": "object", "text": "Baum"}, at=w.t(12), off=0)
    call_hold(make.picture(w, w.t(13)), w.line, cause="object", text="Ast", deed=make.deed(w.mate, at=w.t(13)))
    clock.move_to(w.t(20))
    assert "id" in held.sent(as_("technician")).json()
    lift_hold(make.picture(w, w.t(30)), Hold.objects.earliest("seq"), given={"looked": "yes"},
              deed=make.deed(w.mate, at=w.t(30)))  # fmt: skip
    assert line_statuses(make.picture(w, w.t(31)))[0].word == "held"
    assert faults(w) == []


def test_a_second_hard_stop_opens_a_finding_of_its_own(
    w: SimpleNamespace, as_: Any, hold: Callable[..., Held], clock: Any
) -> None:
    held = hold(url(w, "hold"), {"line": str(w.line.pk), "cause": "hard_stop", "text": ""}, at=w.t(12), off=0)
    call_hold(make.picture(w, w.t(13)), w.line, cause="hard_stop", deed=make.deed(w.mate, at=w.t(13)))
    clock.move_to(w.t(20))
    assert "id" in held.sent(as_("technician")).json()
    assert [one.severity for one in Finding.objects.all()] == ["critical"] * 2
