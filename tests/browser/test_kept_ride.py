"""Half a ride is not lost when one looks at another page, nor when it was not taken."""

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.hands import Hands
from tests.browser.test_morning import PHONE


@pytest.mark.django_db(transaction=True)
def test_half_a_ride_stands_there_again_until_it_is_sent(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = Hands(w, w.technician, open_window(PHONE)).log_in()
    page = hands.go("ride", w.line.pk)
    page.fill("input[name=mass]", "80")
    page.locator("label", has=page.locator("input[name=state][value=wet]")).tap()
    page.locator(".item__blank input").first.fill("2.4")
    page.locator(".item__blank input").first.press("Enter")

    hands.go("board", read=False)
    page = hands.go("ride", w.line.pk, read=False)

    expect(page.locator("input[name=mass]")).to_have_value("80")
    assert page.locator("input[name=state][value=wet]").is_checked()
    assert page.locator(".item__blank input").first.input_value() == "2.4"
    page.wait_for_selector("[data-answer] .mark")  # judged again

    hands.send("Sign this test ride")  # refused: much is missing; what was typed comes back with the page
    assert page.input_value("input[name=mass]") == "80"
    page = hands.go("ride", w.line.pk, read=False)
    expect(page.locator("input[name=mass]")).to_have_value("80")  # it is kept until it is signed
