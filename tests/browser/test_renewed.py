"""The walk that stands open is of now again once what was signed on this phone has arrived. Our own rule, no source."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.alone import again, fill_in, phone_behind, sent, sign, with_key
from tests.browser.spoiled import SpoiledNetwork

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
