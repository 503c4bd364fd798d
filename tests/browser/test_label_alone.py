"""A label scanned without a signal: it opens the sheet that is on the phone, with its code waiting to be noted."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from courses.models import Component
from inspections.tags import token_of
from tests.browser.hands import Hands
from tests.browser.test_kept_pages import KEPT, hands, take_along

__all__ = ["hands"]
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.slow
def test_a_label_opens_the_kept_sheet_and_its_code_is_noted_there(hands: Hands) -> None:
    page, part = take_along(hands), Component.objects.get(tag="BP-1P1")
    hands.window.set_offline(True)
    page.goto(reverse("inspections:tag", args=[token_of(part.pk)]))
    expect(page).to_have_url(re.compile(r"/sheet/.*/landing/\?tag=BP-1P1$"))
    expect(page.locator(KEPT)).to_contain_text("No signal. As of 07:3")
    expect(page.get_by_label("Code on a tag here")).to_have_value("BP-1P1")
    page.get_by_role("button", name="Note this code").tap()
    expect(page.locator("[data-here-sentence]")).to_contain_text("Tag code BP-1P1 scanned here at")
    # Another sheet at the same stop knows it, one at another stop does not.
    hands.go("sheet", hands.w.platforms[1].pk, "platform", read=False)
    expect(page.locator("[data-here-sentence]")).to_contain_text("Tag code BP-1P1 scanned here at")
    hands.go("sheet", hands.w.line.pk, "launch", read=False)
    expect(page.locator("[data-here-sentence]")).to_have_text("Tag code of this place (optional)")
    # A label that is of nothing here says that there is no signal.
    page.goto(reverse("inspections:tag", args=["A" * 22]))
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    assert hands.wrong == []
