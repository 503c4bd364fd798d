"""The walk that stands open is of now again once what was signed on this phone has arrived. Our own rule, no source."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from playwright.sync_api import BrowserContext, expect

from tests.browser.alone import again, fill_in, phone_behind, sent, sign, stand_at, with_key
from tests.browser.hands import SAVED
from tests.browser.spoiled import SpoiledNetwork
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)


def test_the_walk_shows_what_has_arrived_without_being_loaded(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = with_key(w, phone_behind(open_window, net.url))
    hands.page.goto(f"/course/{w.course.pk}/walk/")
    walk = hands.page
    hands.page = hands.window.new_page()
    hands.go("sheet", w.line.pk, "cable", read=False)
    net.spoil("refused")
    fill_in(hands, "cable")
    sign(hands.page)
    walk.evaluate("window.isTheSame = true")
    expect(walk.locator("[data-renew=day]")).not_to_contain_text(f"{w.technician.name}, ")

    net.mend()
    again(hands.page)

    sent(hands.page)
    expect(walk.locator("[data-renew=day]")).to_contain_text(f"{w.technician.name}, ")
    assert walk.evaluate("window.isTheSame")


def test_the_walk_says_what_is_half_filled_in_on_this_phone(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = with_key(w, open_window(PHONE))
    page = hands.page
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    first = "[data-item]:has(input[type=radio]) label:has(input[value=sound]) >> nth=0"
    begun = page.get_by_text("begun on this phone, not signed")
    hands.go("sheet", w.line.pk, "launch", read=False)
    page.locator(first).tap()
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    for name, more in (("walk", ()), ("sheet", (w.line.pk, "cable"))):
        hands.go(name, *more, read=False)
        page.reload()  # kept from here on
        page.wait_for_load_state("networkidle")
    hands.window.set_offline(True)
    page.locator(first).tap()
    expect(page.locator("[data-on-phone]")).to_contain_text("Saved on this phone")

    hands.go("walk")
    expect(page.locator("html[data-kept]")).to_have_count(1)
    row = page.locator("li[data-row]", has=page.locator(f"a[href$='/{w.line.pk}/cable/']"))
    # Of what the server knows it has said itself how far it is.
    expect(page.get_by_text("begun by you: 1 of")).to_have_count(1)
    expect(begun).to_have_count(1)
    expect(row).to_contain_text("begun on this phone, not signed")
    expect(row.locator(".mark")).to_contain_text("Not signed")

    hands.go("sheet", w.line.pk, "cable", read=False)
    fill_in(hands, "cable")
    sign(page)
    hands.go("walk", read=False)
    expect(row.locator(".is-mine")).to_contain_text("Signed on this phone")
    expect(begun).to_have_count(0)
    assert hands.wrong == []


def test_a_page_that_is_older_than_what_arrived_does_not_speak_as_if_nothing_had(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = with_key(w, phone_behind(open_window, net.url))
    page = hands.page
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    for name in ("ride", "line"):
        hands.go(name, w.line.pk, read=False)
        page.reload()  # kept from here on
    # A worker's clock cannot be set, and it notes when a page was kept.
    stand_at(hands, time_machine.escape_hatch.datetime.datetime.now(UTC))
    page.evaluate("localStorage.setItem('lineworthy-touched', Date.now())")
    hands.window.set_offline(True)  # the phone knows of no network, and tries nothing
    hands.go("line", w.line.pk, read=False)
    expect(page.locator("html[data-kept]")).to_have_count(1)
    page.locator("summary", has_text="Hold").first.tap()
    page.get_by_role("button", name="Person on line 1").tap()
    mark = page.locator(".head__mark .mark:visible")
    expect(mark).to_have_text("Held on this phone, not sent")
    hands.window.set_offline(False)
    again(page)
    # It comes anew by itself, and says as the server does that it is held.
    expect(page.locator("html[data-kept]")).to_have_count(0)
    expect(mark).to_have_text("Held")
    # What was kept before that does not know of it.
    net.spoil("refused")
    page.goto(f"/course/{w.course.pk}/ride/{w.line.pk}/")
    expect(page.locator("html[data-kept]")).to_have_count(1)
    expect(page.locator("[data-mine-hold]")).to_contain_text("Held by what was signed here")
    expect(page.locator("[data-mine-hold]")).to_contain_text("Signed on this phone, received at ")
    assert hands.wrong == []
