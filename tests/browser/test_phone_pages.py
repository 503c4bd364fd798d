"""What one acts on, on the pages for the time without a signal: large enough for gloves, and to be read in the sun.

48 px is the project's own measure; 7:1 is WCAG 2.2, success criterion 1.4.6 (level AAA). Read from computed styles.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.hands import Hands
from tests.browser.test_kept_pages import carrying, take_along
from tests.browser.test_lock import leave_alone
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)

# Every link, button and field that is shown: what is lower than 48 px, and whose words stand at less than 7:1.
MEASURED = """(within) => {
  const luminance = (colour) => colour.match(/[0-9.]+/g).slice(0, 3).map((one) => {
    const c = one / 255;
    return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  }).reduce((sum, one, at) => sum + one * [0.2126, 0.7152, 0.0722][at], 0);
  const ground = (one) => {
    for (let at = one; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if (!/^rgba\\(.*, 0\\)$/.test(colour)) return colour;
    }
    return "rgb(255, 255, 255)";
  };
  const contrast = (one) => {
    const [a, b] = [luminance(getComputedStyle(one).color), luminance(ground(one))].sort((x, y) => y - x);
    return (a + 0.05) / (b + 0.05);
  };
  const isShown = (one) => one.checkVisibility({ visibilityProperty: true });
  const shown = [...document.querySelectorAll(within)].filter(isShown);
  return shown.map((one) => [one.textContent.trim() || one.id, one.getBoundingClientRect().height, contrast(one)]);
}"""


def assert_within_reach(page: Page, where: str, count: int) -> None:
    within = ", ".join(f"{where} {one}" for one in ("a", "button", "input", "summary"))
    found = page.evaluate(MEASURED, within)
    assert len(found) >= count
    assert [one for one in found if one[1] < 48 or one[2] < 7] == []


@pytest.mark.parametrize("theme", ["light", pytest.param("dark", marks=pytest.mark.slow)])
def test_what_one_acts_on_is_large_and_plain_to_read(
    w: SimpleNamespace, theme: str, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands: Hands = carrying(w, open_window({**PHONE, "color_scheme": theme}))
    page = take_along(hands)
    hands.read_out("today")
    assert_within_reach(page, "main", 10)
    page.goto(reverse("account_logout"))
    assert_within_reach(page, "main", 2)
    hands.window.set_offline(True)
    page.goto(reverse("courses:setup", args=[w.course.pk]))
    expect(page.get_by_role("link", name="Line status")).to_be_visible()
    hands.read_out("no signal")
    assert_within_reach(page, "main", 5)
    hands.go("walk")
    assert_within_reach(page, ".kept", 1)
    leave_alone(page)
    hands.read_out("locked")
    assert_within_reach(page, ".lock", 3)
    assert hands.wrong == []


def test_a_first_visit_takes_no_letters_along_that_no_page_needs(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    """They are a fifth of all that is sent; the name of a person who has them brings them along."""
    page = carrying(w, open_window(PHONE)).page
    page.wait_for_load_state("networkidle")
    fonts = page.evaluate(FONTS)
    assert [one for one in fonts if "latin-ext" not in one]
    assert [one for one in fonts if "latin-ext" in one] == []


FONTS = """async () => {
  const found = [];
  for (const name of await caches.keys())
    for (const { url } of await (await caches.open(name)).keys()) if (url.includes("/fonts/")) found.push(url);
  return found;
}"""
