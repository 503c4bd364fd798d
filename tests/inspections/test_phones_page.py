"""All that one phone owes is set aside from the page of the phones, in one go. Our own rule; there is no source."""

from __future__ import annotations

import uuid
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from inspections.models import Phone
from ledger.models import Entry
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
    assert manager.post(page, {**given, "asked": "on"})["Location"] == listed

    assert (Entry.objects.count(), owed(w)) == (before + 1, [later["id"]])
    assert len(Entry.objects.latest("seq").record["act"]["all_owed"]) == 2
    assert manager.get(listed).content.decode().count("set aside at 07:52 by Mirte Valk") == 2
    seq = Entry.objects.latest("seq").seq
    told = manager.get(reverse("reports:entry", args=[w.course.pk, seq])).content.decode()
    assert "What a phone owes set aside" in told
    assert one["id"] in told
    assert other["id"] in told
