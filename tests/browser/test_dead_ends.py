"""What is pressed without a signal leads somewhere, and what this phone itself has called is known to its kept pages.

No outside source.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.templatetags.static import static
from django.urls import reverse
from playwright.sync_api import BrowserContext, expect

from tests.browser.alone import WAITING, until
from tests.browser.test_kept_pages import KEPT, carrying, take_along, with_key
from tests.browser.test_phone_themes import KNOWN
from tests.browser.test_phone_verdicts import LOOK, item
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)


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
