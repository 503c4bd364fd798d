"""The page of the phones: all that one owes is set aside in one go; photos that lack are told. Our own rules."""

from __future__ import annotations

import uuid
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from inspections import actions
from inspections.models import Phone
from ledger.models import Entry
from tests import make
from tests.inspections.pages import hidden
from tests.inspections.phone_steps import deed, hello, owed


@pytest.fixture
def w(day_open: SimpleNamespace, w: SimpleNamespace, clock: Any) -> SimpleNamespace:
    w.phone = uuid.uuid4()
    clock.move_to(w.t(22))
    return w


def test_all_that_a_phone_owed_when_it_was_shown_is_set_aside_by_one_entry(w: SimpleNamespace, as_: Any) -> None:
    manager, listed = as_("manager"), reverse("inspections:phones", args=[w.course.pk])
    one, other, later = deed(w), deed(w, "sheet", title="Line 1 brakes"), deed(w, line=2, title="Hold: Line 2")
    hello(w, one)
    page = reverse("inspections:phone_all_aside", args=[w.course.pk, Phone.objects.get().pk])
    assert page not in manager.get(listed).content.decode()
    hello(w, one, other)
    assert page in manager.get(listed).content.decode()
    shown = manager.get(page)
    assert "Hold: Line 1; Line 1 brakes." in shown.content.decode()
    hello(w, one, other, later)
    given = hidden(shown)
    before = Entry.objects.count()

    refused = manager.post(page, given)
    assert "Ask by radio first, then say so here." in refused.content.decode()
    assert (Entry.objects.count(), len(owed(w))) == (before, 3)
    assert manager.post(page, {**given, "asked": "on", "text": "Tarik: phone broken."})["Location"] == listed

    assert (Entry.objects.count(), owed(w)) == (before + 1, [later["id"]])
    assert len(Entry.objects.latest("seq").record["act"]["all_owed"]) == 2
    assert manager.get(listed).content.decode().count("set aside at 07:52 by Mirte Valk") == 2
    seq = Entry.objects.latest("seq").seq
    told = manager.get(reverse("reports:entry", args=[w.course.pk, seq])).content.decode()
    assert "What a phone owes set aside" in told
    assert one["id"] in told
    assert other["id"] in told


def test_of_what_was_set_aside_none_is_left_out_where_the_day_is_signed(w: SimpleNamespace, as_: Any) -> None:
    manager = as_("manager")
    hello(w, *(deed(w, title=f"Hold {number}") for number in range(5)))
    page = reverse("inspections:phone_all_aside", args=[w.course.pk, Phone.objects.get().pk])
    manager.post(page, {**hidden(manager.get(page)), "asked": "on", "text": "Tarik: phone broken."})

    signing = manager.get(reverse("reports:sign", args=[w.course.pk])).content.decode()

    assert [f"phone of Tarik Oben: Hold {number}. It holds nothing." in signing for number in range(5)] == [True] * 5


def owing(w: SimpleNamespace, who: Any, *photos: str, place: Any = None) -> Entry:
    """Record a finding whose photos have not come."""
    return actions.open_finding(
        make.picture(w, w.t(10)), place or w.line, title="Rost", severity="minor", photos=photos,
        deed=make.deed(who, at=w.t(10)),
    )  # fmt: skip


def test_a_phone_of_whom_photos_lack_is_not_said_to_owe_nothing(w: SimpleNamespace, as_: Any) -> None:
    manager, listed = as_("manager"), reverse("inspections:phones", args=[w.course.pk])
    hello(w, who=w.mate, phone=uuid.uuid4())
    hello(w)
    assert manager.get(listed).content.decode().count("It owes nothing that is known here.") == 2
    two = owing(w, w.technician, "1" * 64, "2" * 64)
    one = owing(w, w.technician, "3" * 64, place=w.lines[1])

    html = manager.get(listed).content.decode()

    what = "Finding, or something taken out of service, "
    said = f"3 photos are not here yet, of: {what}{w.line} (entry {two.seq}); {what}{w.lines[1]} (entry {one.seq})."
    assert html.count(said) == 1
    assert html.count("It owes nothing that is known here.") == 1  # of the mate, whose photos all are here
    assert "Photos of others" not in html


def test_photos_of_who_has_no_phone_here_any_more_are_told_too(w: SimpleNamespace, as_: Any) -> None:
    manager, listed = as_("manager"), reverse("inspections:phones", args=[w.course.pk])
    entry = owing(w, w.technician, "1" * 64)

    html = manager.get(listed).content.decode()

    whose = f"{w.line} (entry {entry.seq}, Tarik Oben)."
    assert f"1 photo is not here yet, of: Finding, or something taken out of service, {whose}" in html
    assert html.count("not here yet") == 1
