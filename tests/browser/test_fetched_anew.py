"""What a phone has sent makes pages that it keeps out of date: each is fetched anew once, when all of it has gone."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from inspections.models import Sheet
from tests.browser.alone import WAITING, again, fill_in, phone_behind, sent, sign, until, with_key
from tests.browser.spoiled import SpoiledNetwork

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]


def test_two_sheets_that_arrive_together_have_the_walk_fetched_once(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = with_key(w, phone_behind(open_window, net.url))
    page = hands.page
    sections = ("landing", "cable")
    for section in sections:
        hands.go("sheet", w.line.pk, section, read=False)
        page.wait_for_function("async () => Boolean(await caches.match(location.href))")
    net.spoil("refused")
    for section in sections:
        hands.go("sheet", w.line.pk, section, read=False)
        fill_in(hands, section)
        sign(page)
        expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    net.spoil("through")
    net.spoil("refused", method="POST")  # not by the page before, nor by the worker
    hands.go("board", read=False)  # a page from the server has pages fetched anew
    before = net.count("GET", "/walk/")
    net.mend()
    again(page)
    sent(page, 2)
    assert Sheet.objects.count() == 2
    until(page, lambda: net.count("GET", "/walk/") > before)
    page.wait_for_timeout(1500)
    assert net.count("GET", "/walk/") == before + 1
