"""What is pressed without a signal leads somewhere, and what this phone itself has called is known to its kept pages.

No outside source.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.templatetags.static import static
from django.urls import reverse
from playwright.sync_api import BrowserContext, Locator, expect

from inspections.models import Finding, Sheet
from tests.browser.alone import WAITING, again, until
from tests.browser.hands import Hands
from tests.browser.test_kept_pages import KEPT, carrying, take_along, with_key
from tests.browser.test_phone_themes import KNOWN
from tests.browser.test_phone_verdicts import LOOK, item
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def at_landing(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    """Somebody with a key and the day on the phone, at the sheet of a landing, without a signal."""
    hands = with_key(carrying(w, open_window(PHONE)))
    take_along(hands)
    hands.window.set_offline(True)
    hands.go("sheet", w.line.pk, "landing", read=False)
    return hands


def marked_out(hands: Hands) -> Locator:
    """Mark what is looked at there as a defect, and keep that it is out of service."""
    one = item(hands, LOOK)
    one.locator("label:has(input[value=defect])").tap()
    one.get_by_role("button", name="Out of service", exact=True).tap()
    expect(one.locator(".mark")).to_have_text("Out of service")
    return one


def test_no_press_without_a_signal_ends_where_nothing_is_known(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = with_key(carrying(w, open_window(PHONE)))
    page = take_along(hands)
    until(page, lambda: page.evaluate(KNOWN, static("js/clock.mjs")))
    hands.window.set_offline(True)
    # From beside an item to the page that takes out of service alone.
    hands.go("sheet", w.line.pk, "landing", read=False)
    expect(page.locator("[data-thunder-left]")).to_be_hidden()
    item(hands, LOOK).get_by_role("button", name="Take out of service").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Take out of service")
    expect(page.locator("[name=spot] option:checked")).to_contain_text("TG-1EG")  # the part that it was beside
    expect(page.locator(KEPT)).to_be_visible()
    # A hold for thunder starts the minutes on a page that was kept before it.
    hands.go("hold", read=False)
    page.locator("label", has_text="Thunder or lightning").tap()
    page.get_by_role("button", name="Hold now").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    hands.go("sheet", w.line.pk, "landing", read=False)
    expect(page.locator("[data-thunder-left]")).to_contain_text("30 minutes left")
    # A page that is not here says what is not sent.
    page.goto(reverse("courses:setup", args=[w.course.pk]))
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    expect(page.locator("[data-unsent]")).to_contain_text("not sent yet: 1. Nobody else knows of it.")
    hands.read_out("no signal, something unsent")
    assert hands.wrong == []


LEFT = "() => !dispatchEvent(new Event('beforeunload', { cancelable: true }))"
FULL = "() => { IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); }; }"


def test_a_part_that_waits_here_as_out_of_service_is_said_at_what_is_asked_of_it(at_landing: Hands) -> None:
    hands, w, page = at_landing, at_landing.w, at_landing.page
    asked = page.locator("[data-item]:has([data-part])").first
    tag = asked.locator(".item__tag").text_content() or ""  # also of what is left out of drawing
    hands.go("withdraw", read=False)
    page.locator("[name=code]").fill(tag)
    page.locator("[name=title]").fill("Riemen gerissen")
    page.get_by_role("button", name="Take out of service").last.tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    hands.go("sheet", w.line.pk, "landing", read=False)
    part = page.locator("[data-part]").first.get_attribute("data-part")
    of_it, others = page.locator(f"[data-part='{part}'] + .item__need"), page.locator("[data-out] + .item__need")
    expect(of_it.first).to_contain_text("not sent.")
    assert of_it.count() == others.count() == page.locator(f"[data-part='{part}']").count()
    hands.read_out("sheet, a part of it out of service on this phone")
    # Received, the same page says that too: it is older than that, and the strip of a kept page knows of the signal.
    hands.window.set_offline(False)
    expect(of_it.first).to_contain_text("received at")
    expect(page.locator(KEPT)).to_contain_text("The server has answered meanwhile")
    assert hands.wrong == []


def test_a_sheet_is_left_without_a_question_where_the_phone_keeps_it(at_landing: Hands) -> None:
    """The browser's question says that what was entered may be lost. Where that is not so it teaches to tap it away."""
    hands, page = at_landing, at_landing.page
    expect(page.locator(KEPT)).to_contain_text("No signal.")
    item(hands, LOOK).locator("label:has(input[value=sound])").tap()
    expect(page.locator("[data-on-phone]")).to_contain_text("Saved on this phone")
    expect(page.locator("[data-saved]")).to_have_class(re.compile("is-waiting"))
    assert not page.evaluate(LEFT)
    # What finds no room on the phone would be lost.
    page.evaluate(FULL)
    item(hands, LOOK).locator("label:has(input[value=defect])").tap()
    expect(page.locator("[data-on-phone]")).to_have_attribute("role", "alert")
    assert page.evaluate(LEFT)


def test_a_kept_page_says_no_signal_only_while_there_is_none(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = carrying(w, open_window(PHONE))
    page = take_along(hands)
    hands.window.set_offline(True)
    hands.go("walk", read=False)
    expect(page.locator(KEPT)).to_contain_text("No signal. As of")
    hands.window.set_offline(False)
    expect(page.locator(KEPT)).to_contain_text("The server has answered meanwhile: load it anew. As of")
    expect(page.locator(KEPT)).not_to_contain_text("No signal")
    hands.window.set_offline(True)
    expect(page.locator(KEPT)).to_contain_text("No signal. As of")


def test_what_is_marked_out_of_service_on_a_sheet_that_is_not_signed_is_said_and_goes_by_itself(
    at_landing: Hands,
) -> None:
    """With a signal it counts at once: without one it must not wait until somebody opens that sheet again."""
    hands, w, page = at_landing, at_landing.w, at_landing.page
    marked_out(hands)
    expect(page.locator("[data-on-phone]")).to_contain_text("Saved on this phone")
    hands.go("walk", read=False)
    expect(page.locator("[data-mine-lines]")).to_contain_text(f"Held on this phone, not sent: {w.line}.")
    hands.go("board", read=False)
    row = page.locator(f"#line-{w.line.number}")
    expect(row.locator(".mark:visible")).to_have_text("Held on this phone, not sent")
    expect(row).to_contain_text(": marked out of service on this phone")
    assert not Finding.objects.exists()
    hands.window.set_offline(False)
    until(page, lambda: Finding.objects.filter(key=LOOK, out_of_service=True).exists())
    assert not Sheet.objects.filter(signer_ref=w.technician.ref).exists()
    expect(page.locator("html[data-kept]")).to_have_count(0)  # a board from the phone loads itself anew
    # Known there, the phone does not say any more that nobody knows.
    hands.go("walk", read=False)
    expect(page.locator("[data-mine-lines]")).to_be_hidden()
    assert hands.wrong == []


def test_what_is_marked_and_changed_before_it_goes_takes_nothing_out(at_landing: Hands) -> None:
    hands, page = at_landing, at_landing.page
    one = marked_out(hands)
    one.locator("label:has(input[value=sound])").tap()
    expect(one.locator(".mark")).to_have_text("OK")
    expect(page.locator("[data-on-phone]")).to_contain_text("Saved on this phone")
    hands.go("walk", read=False)
    expect(page.locator("[data-left]")).to_be_visible()
    expect(page.locator("[data-mine-lines]")).to_be_hidden()
    hands.window.set_offline(False)
    again(page)
    page.wait_for_timeout(3000)
    assert not Finding.objects.exists()
