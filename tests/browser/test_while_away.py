"""What changed while a phone was away: limits on the server, and another phone that did the same.

That the server's verdict counts, and that of two sheets the worse one does, are our own rules (inspections.actions);
there is no outside source for them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect

from inspections.facts import line_statuses
from inspections.models import Reading, Sheet
from ledger.models import Entry
from tests import make
from tests.browser.alone import again, fill_in, phone_behind, sent, sign, with_key
from tests.browser.hands import Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.browser.test_phone_verdicts import MARK, typed
from tests.inspections.test_sheets import _tighten

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def phone(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> Callable[[str], Hands]:
    return lambda who: with_key(w, phone_behind(open_window, net.url), who=who)


@pytest.mark.slow
def test_a_sheet_under_a_limit_that_was_tightened_meanwhile_is_asked_back_and_then_counts_by_it(
    w: SimpleNamespace, net: SpoiledNetwork, phone: Callable[[str], Hands]
) -> None:
    hands = phone("technician")
    page = hands.go("sheet", w.line.pk, "landing", read=False)
    net.spoil("refused")
    fill_in(hands, "landing")
    item = typed(hands, MARK, "0.4")
    expect(item.locator("[data-answer] .mark")).to_have_text("OK")
    sign(page)
    w.t = lambda minutes: w.at + timedelta(minutes=minutes)
    now = _tighten(w, MARK, "0.3", at=0)
    net.mend()
    again(page)
    box = page.locator("[data-outbox]")
    expect(box).to_contain_text("and not taken:")
    assert not Sheet.objects.exists()
    hands.read_out("not taken, limits changed")
    box.get_by_role("button", name="Open its page").tap()
    expect(item.locator(".item__blank input")).to_have_value("0.4")
    expect(item.locator("[data-ask]")).to_contain_text("0.3")
    hands.read_out("asked back by the new limit")
    item.get_by_role("button", name="Keep").tap()
    expect(item.locator("[data-answer] .mark")).to_have_text("Out of service")
    item.locator(".item__note textarea").fill("Measured twice.")
    hands.send("Sign sheet")
    record = Entry.objects.get(kind="sheet").record
    assert record["judged"]["versions"]["limits"] == str(now.pk)
    reading = Reading.objects.get(key=MARK)
    assert (reading.text, reading.verdict) == ("0.4", "withdraw")
    [status] = line_statuses(make.picture(w, timezone.now()))
    assert status.word == "held"
    expect(page.locator("[data-outbox]")).to_be_hidden()  # what was not taken is put right by this
    assert hands.wrong == []
    call_command("verify_ledger")


@pytest.mark.slow
def test_two_phones_that_signed_the_same_sheet_have_both_recorded_it(
    w: SimpleNamespace, net: SpoiledNetwork, phone: Callable[[str], Hands]
) -> None:
    two = [phone("technician"), phone("mate")]
    pages = [hands.go("sheet", w.line.pk, "cable", read=False) for hands in two]
    net.spoil("refused")
    for hands, page in zip(two, pages, strict=True):
        page.bring_to_front()
        fill_in(hands, "cable")
        sign(page)
    net.mend()
    for page in pages:
        again(page)
        sent(page)
    sheets = Sheet.objects.filter(place=w.line, section="cable").order_by("seq")
    assert sorted(one.signer_ref for one in sheets) == sorted([w.technician.ref, w.mate.ref])
    assert {one.amends_id for one in sheets} == {None}
    page = two[0].page
    page.goto(f"/course/{w.course.pk}/signed/{sheets[0].pk}/")
    expect(page.locator("dt", has_text="Another sheet")).to_be_visible()
    call_command("verify_ledger")
