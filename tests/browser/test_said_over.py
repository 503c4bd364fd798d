"""What a page says or asks before it goes on stands over it, in its own words, with keys that a glove finds.

How large and how plain those are is held in tests/browser/test_phone_themes.py. Focus and Escape as in the ARIA
practice for an alert dialog (from memory).
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Locator, expect

from tests.browser.alone import WAITING, fill_in
from tests.browser.hands import Hands
from tests.browser.test_lock import leave_alone
from tests.browser.test_signed_alone import hands as hands
from tests.make import WORD

pytestmark = pytest.mark.django_db(transaction=True)
LOOK = "[data-item]:has(input[type=radio])"
NAMED = "() => document.activeElement.textContent.trim()"


def with_defect(hands: Hands) -> Locator:
    """A sheet on the phone with a defect that says what it is, and no signal."""
    page = hands.go("sheet", hands.w.line.pk, "cable", read=False)
    hands.window.set_offline(True)
    look = page.locator(LOOK).first
    fill_in(hands, "cable", **{look.get_attribute("data-item") or "": "defect"})
    look.locator(".item__note").evaluate("one => (one.open = true)")
    look.locator("textarea").fill("Draht gebrochen")
    return page.get_by_role("alertdialog")


def test_a_question_over_a_page_is_answered_by_its_own_keys(hands: Hands) -> None:
    page, asked = hands.page, with_defect(hands)
    sign = page.get_by_role("button", name="Sign sheet")
    sign.tap()
    expect(asked).to_contain_text("What is marked as a defect is out of service as soon as this arrives:")
    # Each item once, with what it will hold.
    expect(asked.get_by_role("listitem")).to_have_text([re.compile("Signed like this it holds Line 1 Line 1.$")])
    # Nothing is pressed by a key that was meant for something else, and what lies below is out of reach.
    page.keyboard.press("Enter")
    page.keyboard.press("Space")
    expect(asked).to_be_visible()
    assert page.evaluate("() => document.activeElement.matches('[data-say-text]')")
    assert [(page.keyboard.press("Tab"), page.evaluate(NAMED))[1] for _key in range(2)] == [
        "Sign it: out of service", "Back",
    ]  # fmt: skip
    for away in (lambda: page.keyboard.press("Escape"), lambda: page.keyboard.press("Enter")):
        away()
        expect(asked).to_have_count(0)
        expect(page.locator("[data-outbox]")).to_be_hidden()
        sign.tap()
        expect(asked).to_be_visible()
        for _key in range(2):
            page.keyboard.press("Tab")
    asked.get_by_role("button", name="Sign it: out of service").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    expect(asked).to_have_count(0)


def test_a_lock_takes_a_question_away_and_nothing_was_agreed_to(hands: Hands) -> None:
    page, asked = hands.page, with_defect(hands)
    page.get_by_role("button", name="Sign sheet").tap()
    expect(asked).to_be_visible()
    leave_alone(page)
    locked = page.get_by_role("dialog", name="Locked")
    expect(locked).to_be_visible()
    expect(asked).to_have_count(0)
    locked.get_by_label("Your password").fill(WORD)
    locked.get_by_role("button", name="Open it").tap()
    expect(locked).to_have_count(0)
    expect(page.locator("[data-outbox]")).to_be_hidden()
    assert page.locator(LOOK).first.locator("textarea").input_value() == "Draht gebrochen"
    page.get_by_role("button", name="Sign sheet").tap()
    expect(asked).to_be_visible()
