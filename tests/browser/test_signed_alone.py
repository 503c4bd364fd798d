"""What is signed on a phone without a signal: said in words, held on the phone, sent once, never under another's name.

The contract between phone and server is ours (accounts.receiving); there is no outside source for it. That an entry may
leave a device only when the server has named it is common practice of mail and message queues, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from inspections.models import Draft, Sheet
from ledger import acts
from ledger.models import Entry
from tests import make
from tests.browser.hands import Hands
from tests.browser.test_own_key import keys_page, signature_of
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)
SIGNED = datetime(2026, 6, 15, 6, 14, tzinfo=UTC)
WAITING = "Not sent yet: it goes when there is a signal and a page of Lineworthy is open."


@pytest.fixture
def hands(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    """The technician with a key on the phone."""
    hands = Hands(w, w.technician, open_window(PHONE)).log_in()
    keys_page(hands).get_by_label("Your password").fill(make.WORD)
    hands.send("Make a key on this device")
    hands.window.clock.set_fixed_time(SIGNED)  # the phone's clock, as the server's stands on the tests' morning
    return hands


def fill_in(hands: Hands, section: str, **but: str) -> None:
    """Answer a sheet whose server does not answer."""
    w, page = hands.w, hands.page
    for key, answer in make.answers(w, w.line, section, at=w.at).items():
        item = page.locator(f'[id="item-{key}"]')
        blanks = item.locator(".item__blank input")
        if blanks.count():
            for blank, text in zip(blanks.all(), answer["text"].split(" / "), strict=True):
                blank.fill(text)
        elif item.locator("input[type=radio]").count():
            item.locator(f"label:has(input[value={but.get(key, 'sound')}])").tap()


def sign_alone(hands: Hands, section: str = "cable") -> Page:
    """Open a sheet, lose the signal, fill it in and sign it."""
    page = hands.go("sheet", hands.w.line.pk, section, read=False)
    hands.window.set_offline(True)
    page.on("dialog", lambda d: (print("DIALOG", d.message), d.accept()))
    page.on("console", lambda m: print("CONSOLE", m.text))
    fill_in(hands, section)
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    return page


def sent(page: Page, count: int = 1) -> None:
    expect(page.locator("[data-outbox-sent] p")).to_have_count(count)


def test_a_sheet_signed_without_a_signal_is_sent_once_from_the_next_page(hands: Hands) -> None:
    w, page = hands.w, sign_alone(hands)
    hands.read_out("held")
    expect(page.get_by_text("Line 1, Cable. Signed on this phone at 08:14.")).to_be_visible()
    expect(page.get_by_role("button", name="Sign sheet")).to_be_disabled()
    assert not Sheet.objects.exists()
    # Another page, when there is a signal again: it goes by itself.
    other = hands.window.new_page()
    page.close()
    hands.window.set_offline(False)
    other.goto(reverse("inspections:board", args=[w.course.pk]))
    expect(other.locator("[data-outbox]")).to_contain_text("It stands in the history as entry")
    sig, entry = signature_of(w, "sheet")
    key = w.technician.keys.get()
    assert sig["key"] == key.key
    assert acts.is_signed(bytes(key.public), sig["sig"], acts.message("sheet", entry.record["act"]))
    assert Entry.objects.filter(kind="sheet").count() == 1
    assert not Draft.objects.exists()
    assert hands.wrong == []
    call_command("verify_ledger")
