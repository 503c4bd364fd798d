"""Who has no key on the phone is told so before the signal is gone, and not by the browser's own page. Our own rule."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, expect

from inspections.models import Hold
from tests.browser.alone import phone_behind, until
from tests.browser.hands import Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.said import Said

pytestmark = pytest.mark.django_db(transaction=True)


def test_without_a_key_nothing_is_signed_where_there_is_no_signal_and_it_is_said(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = Hands(w, w.technician, phone_behind(open_window, net.url)).log_in()
    page = hands.go("today", read=False)
    expect(page.get_by_text("No key of yours is on this phone")).to_be_visible()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    hands.go("hold", read=False)
    page.reload()  # kept from here on
    net.spoil("refused")
    page.goto(reverse("inspections:hold", args=[w.course.pk]))
    expect(page.locator("html[data-kept]")).to_have_count(1)
    said = Said(page)
    page.locator("select[name=line]").select_option("all")
    page.locator("label", has_text="Other reason").tap()
    expect(page.locator("input[name=cause][value=other]")).to_be_checked()
    page.locator("textarea[name=text]").fill("Strom aus")
    page.get_by_role("button", name="Hold now").tap()
    until(page, lambda: bool(said))
    assert said[0].startswith("No signal, and no key of yours on this phone:")
    assert page.locator("textarea[name=text]").input_value() == "Strom aus"
    # There is a signal again: the same form goes as any.
    net.mend()
    page.get_by_role("button", name="Hold now").tap()
    expect(page.locator("html[data-kept]")).to_have_count(0)
    assert Hold.objects.get().cause == "other"
    assert hands.wrong == []
