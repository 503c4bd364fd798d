"""The day is not signed past a phone that owes something or is away, unless that was asked by radio; then it is told.

Source: the rules of the service as its makers wrote them down.
"""

from __future__ import annotations

import re
import uuid
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from accounts.closing import close_for_good
from accounts.models import User
from courses.models import Component
from inspections import actions
from inspections.models import Phone, Ride, SignOff
from inspections.phone_words import MOST_NAMED, signed_while
from inspections.phones import TICK
from inspections.rebuild import chain_faults, projection_faults
from ledger.models import Entry
from reports.forms import SignForm
from reports.resolve import day_sheet_data
from tests import make
from tests.reports.test_sign import choices, given

ASKED = {"asked": "on"}
SEEN = "2026-06-15T05:45:00Z"
TICKED = "I have asked them by radio. Nothing they hold back changes what I sign."


@pytest.fixture
def page(w: SimpleNamespace) -> str:
    return reverse("reports:sign", args=[w.course.pk])


@pytest.fixture
def manager(as_one: Any) -> Client:
    return as_one("manager")


def tell(w: SimpleNamespace, *held: dict[str, Any], minutes: float = 15, phone: Any = None, has: Any = None) -> None:
    actions.say_hello(w.technician, phone or uuid.UUID(int=7), held=held, has=has, at=w.t(minutes))


def sheet(w: SimpleNamespace, **more: Any) -> dict[str, Any]:
    page = f"/course/{w.course.pk}/sheet/{w.line.pk}/brakes/"
    return {"id": str(uuid.uuid4()), "kind": "sheet", "title": "Line 1 brakes", "page": page, **more}


def shown(html: str) -> dict[str, str]:
    found = re.search(r'name="shown" value="([^"]*)"', html)
    return {"shown": found[1]} if found else {}


def ticked(html: str) -> bool | None:
    found = re.search(r'<input[^>]*name="asked"[^>]*>', html)
    return "checked" in found[0] if found else None


def test_with_nothing_owed_nothing_is_asked(w: SimpleNamespace, page: str, manager: Client) -> None:
    html = manager.get(page).content.decode()

    assert ticked(html) is None
    assert manager.post(page, given(w)).status_code == 302
    record = Entry.objects.get(log=w.operator.log, seq=SignOff.objects.get().seq).record
    assert "asked" not in record["act"]
    assert "phones" not in record["judged"]


def test_without_the_tick_nothing_is_signed_and_nothing_lost(w: SimpleNamespace, page: str, manager: Client) -> None:
    tell(w, sheet(w))
    html = manager.get(page).content.decode()
    assert "On a phone last seen at 07:45 (Tarik Oben): Line 1 brakes." in html
    assert ticked(html) is False

    html = manager.post(page, given(w, line2="closed") | shown(html)).content.decode()

    assert "Ask by radio whoever has the phones named here, then say that you have asked." in html
    assert choices(html, w, 1) == {"open": True, "closed": False}
    assert choices(html, w, 2) == {"open": False, "closed": True}
    assert not SignOff.objects.exists()


def test_with_the_tick_it_is_signed_and_what_was_owed_stands_in_the_entry(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    one = sheet(w)
    tell(w, one)
    tell(w, phone=uuid.UUID(int=8), minutes=2, has=w.on)
    html = manager.get(page).content.decode()

    assert manager.post(page, given(w) | shown(html) | ASKED).status_code == 302

    signed = SignOff.objects.get()
    record = Entry.objects.get(log=w.operator.log, seq=signed.seq).record
    assert record["act"]["asked"] == [one["id"]]
    thing = {"id": one["id"], "kind": "sheet", "place": str(w.line.pk), "ref": w.technician.ref, "since": SEEN}
    assert record["judged"]["phones"] == [
        {"ref": w.technician.ref, "seen_at": SEEN, "owes": [thing], "ticked": TICKED},
    ]
    assert list(chain_faults(w.operator)) == []
    assert list(projection_faults(w.operator)) == []
    sentences = [
        "When this was signed, 1 thing signed on a phone had not arrived yet: Sheet, Line 1 Line 1 (Tarik Oben, last "
        "seen 07:45).",
        f"The manager had ticked: {TICKED}",
    ]
    assert day_sheet_data(signed)["sign_off"]["phones"] == sentences
    html = manager.get(reverse("reports:day", args=[w.course.pk, w.on])).content.decode()
    assert all(sentence in html for sentence in sentences)
    # He has two: by what the page of each says, they can be asked for by radio.
    assert "On a phone last seen at 07:45 (Tarik Oben, phone 0007): Line 1 brakes." in html


def test_who_is_not_heard_of_is_asked_after_only_while_something_of_the_walk_is_left(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    """A phone in a pocket after the walk is the rule: who ticks that every morning ticks the other one too."""
    tell(w, minutes=2, has=w.on)
    html = manager.get(page).content.decode()
    assert "is away: Tarik Oben (last seen at 07:32)." in html
    assert ticked(html) is None

    Ride.objects.filter(place=w.line).update(voided_by=1)
    html = manager.get(page).content.decode()
    assert ticked(html) is False
    assert "Ask by radio" in manager.post(page, given(w, line1="closed") | shown(html)).content.decode()
    assert manager.post(page, given(w, line1="closed") | shown(html) | ASKED).status_code == 302

    signed = SignOff.objects.get()
    record = Entry.objects.get(log=w.operator.log, seq=signed.seq).record
    assert record["act"]["asked"] == [str(Phone.objects.get().pk)]
    assert record["judged"]["phones"] == [
        {"ref": w.technician.ref, "seen_at": "2026-06-15T05:32:00Z", "away": "yes", "ticked": TICKED}
    ]
    sentence = "When this was signed, 1 phone with the day on it was away: Tarik Oben (last seen 07:32)."
    assert day_sheet_data(signed)["sign_off"]["phones"] == [sentence, f"The manager had ticked: {TICKED}"]
    assert sentence in manager.get(reverse("reports:day", args=[w.course.pk, w.on])).content.decode()


def test_signed_after_the_walk_nothing_is_said_of_who_was_not_heard_of(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    tell(w, minutes=2, has=w.on)

    assert manager.post(page, given(w)).status_code == 302

    assert "phones" not in Entry.objects.get(log=w.operator.log, seq=SignOff.objects.get().seq).record["judged"]


def test_what_comes_up_after_the_page_was_shown_is_asked_after_anew(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    tell(w, sheet(w))
    before = shown(manager.get(page).content.decode())
    tell(w, sheet(w, title="Line 1 cable"), phone=uuid.UUID(int=9))

    html = manager.post(page, given(w) | before | ASKED).content.decode()

    assert "Another phone has to be asked after since this page was opened. Look again." in html
    assert "Line 1 cable" in html
    assert ticked(html) is False
    assert not SignOff.objects.exists()
    assert manager.post(page, given(w) | shown(html) | ASKED).status_code == 302


def test_a_line_for_which_a_hold_has_not_arrived_cannot_be_opened_with_the_tick_either(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    tell(w, sheet(w, kind="hold", title="Hold: Line 1", place=str(w.line.pk)))
    html = manager.get(page).content.decode()
    assert choices(html, w, 1) == {"closed": True}

    html = manager.post(page, given(w) | shown(html) | ASKED).content.decode()

    assert "It cannot be opened. A phone reported a hold that has not arrived." in html
    assert not SignOff.objects.exists()


def test_a_line_that_is_set_aside_by_the_manager_opens_and_the_entry_says_so(
    w: SimpleNamespace, page: str, manager: Client
) -> None:
    one = sheet(w, kind="hold", title="Hold: Line 1", place=str(w.line.pk))
    tell(w, one)
    phones = reverse("inspections:phones", args=[w.course.pk])
    assert "Hold: Line 1" in manager.get(phones).content.decode()
    aside = reverse("inspections:phone_aside", args=[w.course.pk, Phone.objects.get().pk, one["id"]])
    assert aside in manager.get(phones).content.decode()

    assert "Ask by radio first, then say so here." in manager.post(aside, {"send": ""}).content.decode()
    assert "Say what was answered by radio" in manager.post(aside, ASKED).content.decode()
    assert manager.post(aside, {**ASKED, "text": "Tarik: it was a slip."})["Location"] == phones

    assert "set aside at 07:50 by Mirte Valk" in manager.get(phones).content.decode()
    said = "Set aside at 07:50 by Mirte Valk, of a phone of Tarik Oben: Hold: Line 1. It holds nothing."
    for there in (
        page,
        reverse("inspections:board", args=[w.course.pk]),
        reverse("inspections:line", args=[w.course.pk, w.line.pk]),
    ):
        assert said in manager.get(there).content.decode(), there
    assert said not in manager.get(reverse("inspections:line", args=[w.course.pk, w.lines[1].pk])).content.decode()
    assert manager.post(page, given(w)).status_code == 302
    record = Entry.objects.get(log=w.operator.log, seq=SignOff.objects.get().seq).record
    thing = {"id": one["id"], "kind": "hold", "place": str(w.line.pk), "ref": w.technician.ref, "since": SEEN}
    assert record["judged"]["phones"] == [{"ref": w.technician.ref, "seen_at": SEEN, "aside": [thing]}]
    assert day_sheet_data(SignOff.objects.get())["sign_off"]["phones"] == [
        "1 thing signed on a phone had been set aside, by radio it was not to come: Hold, Line 1 Line 1 (Tarik Oben, "
        "last seen 07:45)."
    ]


def test_what_is_ticked_is_what_the_entry_says_was_ticked() -> None:
    assert str(SignForm.base_fields["asked"].label) == TICKED == str(TICK)


def test_each_thing_owed_is_told_with_its_kind_place_part_and_person(w: SimpleNamespace) -> None:
    part = Component.objects.get(tag="HA-01")
    rows = [
        {"ref": w.technician.ref, "seen_at": SEEN, "ticked": TICKED, "owes": [
            {"id": "1", "kind": "finding-opened", "part": str(part.pk), "ref": w.technician.ref},
            {"id": "2", "kind": "sheet", "out": "yes", "place": str(w.line.pk), "ref": w.mate.ref},
            {"id": "3", "kind": "no such kind", "place": str(uuid.uuid4()), "ref": w.technician.ref},
        ]},
    ]  # fmt: skip

    told = signed_while(rows, w.t(20), w.course.zone)

    last = "(Tarik Oben, last seen 07:45)"
    assert told == [
        "When this was signed, 3 things signed on a phone had not arrived yet: "
        f"HA-01 taken out of service {last}; "
        f"Sheet with something taken out of service, {w.line}, signed by {w.mate.name} {last}; "
        f"Something that cannot be read here {last}.",
        f"The manager had ticked: {TICKED}",
    ]


def test_a_name_that_is_erased_is_said_to_be_erased(w: SimpleNamespace) -> None:
    thing = {"id": "1", "kind": "hold", "place": str(w.line.pk), "ref": w.technician.ref, "since": SEEN}
    rows = [{"ref": w.technician.ref, "seen_at": SEEN, "owes": [thing], "ticked": TICKED}]
    assert "(Tarik Oben, last seen 07:45)" in signed_while(rows, w.t(20), w.course.zone)[0]

    close_for_good(User.objects.get(pk=w.technician.pk))

    assert "(name erased, last seen 07:45)" in signed_while(rows, w.t(20), w.course.zone)[0]


def test_more_than_a_dozen_are_counted(w: SimpleNamespace) -> None:
    things = [{"id": str(one), "kind": "sheet", "ref": w.technician.ref} for one in range(MOST_NAMED + 3)]
    [said] = signed_while([{"ref": w.technician.ref, "seen_at": SEEN, "owes": things}], w.t(20), w.course.zone)

    assert said.count("Tarik Oben") == MOST_NAMED
    assert said.endswith("; and 3 more.")


def test_entries_that_do_not_say_whose_phones_they_were_read_as_before(w: SimpleNamespace) -> None:
    rows = [
        {"seen_at": SEEN, "owes": [{"id": "1", "kind": "sheet", "place": str(w.line.pk)}, {"id": "2", "kind": "hold"}]},
        {"seen_at": SEEN, "away": "yes"},
        {"seen_at": SEEN, "aside": [{"id": "3", "kind": "hold"}]},
    ]

    with CaptureQueriesContext(connection) as queries:
        told = signed_while(rows, w.t(20), w.course.zone)

    assert told == [
        "When this was signed, 2 things signed on a phone had not arrived yet (last seen 07:45); the manager had asked "
        "by radio.",
        "When this was signed, 1 phone with the day on it was away (last seen 07:45); the manager had asked by radio.",
        "1 thing signed on a phone (last seen 07:45) had been set aside: by radio it was not to come.",
    ]
    assert len(queries) == 0


@pytest.mark.parametrize("name", ["inspections:board", "inspections:walk"])
def test_board_and_walk_tell_what_phones_owe_within_two_queries_more(
    w: SimpleNamespace, manager: Client, name: str
) -> None:
    address = reverse(name, args=[w.course.pk])

    def count() -> tuple[int, str]:
        with CaptureQueriesContext(connection) as queries:
            html = manager.get(address).content.decode()
        return len(queries), html

    count()
    before, _html = count()
    for number in range(5):
        tell(w, *(sheet(w, title=f"Sheet {number}-{one}") for one in range(7)), phone=uuid.UUID(int=number), has=w.on)

    after, html = count()

    assert after == before + 1  # that there are phones is asked always; which acts arrived, once something is owed
    assert html.count("On a phone last seen at 07:45 (Tarik Oben, phone ") == 3
    assert "and 3 more." in html
    assert "And 2 phones more." in html


def test_the_page_of_a_line_tells_what_is_about_it_alone(w: SimpleNamespace, manager: Client) -> None:
    tell(w, sheet(w))

    pages = [manager.get(reverse("inspections:line", args=[w.course.pk, one.pk])).content.decode() for one in w.lines]

    assert ["Line 1 brakes" in html for html in pages] == [True, False]


def test_photos_that_lack_are_told_and_hold_nothing(w: SimpleNamespace, page: str, manager: Client) -> None:
    before = choices(manager.get(page).content.decode(), w, 2)
    assert "not here yet" not in manager.get(page).content.decode()
    picture = make.picture(w, w.t(10))
    entry = actions.open_finding(
        picture, w.lines[0], title="Rust", severity="minor", photos=("1" * 64,), deed=make.deed(w.mate, at=w.t(10))
    )

    html = manager.get(page).content.decode()

    what = f"Finding, or something taken out of service, {w.lines[0]} (entry {entry.seq}, {w.mate.name})."
    assert f"1 photo is not here yet, of: {what}" in html
    assert ticked(html) is None
    assert choices(html, w, 2) == before
    assert manager.post(page, given(w, line1="closed")).status_code == 302


def test_who_signs_on_paper_is_not_asked(w: SimpleNamespace, manager: Client) -> None:
    tell(w, sheet(w))

    html = manager.get(reverse("reports:sign_paper", args=[w.course.pk])).content.decode()

    assert ticked(html) is None
