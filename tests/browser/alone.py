"""What several tests do with a phone that has no signal."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

from django.templatetags.static import static
from playwright.sync_api import BrowserContext, Page, expect

from courses.models import Place
from tests import make
from tests.browser.hands import Hands
from tests.browser.test_own_key import keys_page
from tests.conftest import PHONE

SIGNED = datetime(2026, 6, 15, 6, 14, tzinfo=UTC)
WAITING = "Call by radio."


def with_key(w: SimpleNamespace, window: BrowserContext, *, who: str = "technician") -> Hands:
    """Log a person in and make a key on the phone, whose clock stands at SIGNED."""
    hands = Hands(w, getattr(w, who), window).log_in()
    keys_page(hands).get_by_label("Your password").fill(make.WORD)
    hands.send("Make a key on this device")
    stand_at(hands, SIGNED)
    return hands


FORGET = """() => new Promise((done) => {
  const gone = indexedDB.deleteDatabase("lineworthy-clock");
  gone.onsuccess = gone.onerror = gone.onblocked = done;
})"""


def set_clock(hands: Hands, at: datetime) -> None:
    """Have the phone's clock show a time from now on; the page that was open is left.

    While a clock is put in it stands at nought for a moment: a page of ours would take that for the time of a touch.
    """
    hands.page.goto(static("img/icon.svg"))
    hands.window.clock.set_fixed_time(at)


def stand_at(hands: Hands, at: datetime) -> None:
    """Set the clock. What the phone measured of it before is forgotten."""
    set_clock(hands, at)
    hands.page.evaluate(FORGET)


def phone_behind(open_window: Callable[[dict[str, Any]], BrowserContext], address: str) -> BrowserContext:
    return open_window({**PHONE, "base_url": address})


def fill_in(hands: Hands, section: str, place: Place | None = None, **but: str) -> None:
    """Answer a sheet whose server does not answer."""
    w, page = hands.w, hands.page
    for key, answer in make.answers(w, place or w.line, section, at=w.at).items():
        item = page.locator(f'[id="item-{key}"]')
        blanks = item.locator(".item__blank input")
        if blanks.count():
            for blank, text in zip(blanks.all(), answer["text"].split(" / "), strict=True):
                blank.fill(text)
            blanks.last.press("Enter")  # a figure counts once its field is left
        elif item.locator("input[type=radio]").count():
            item.locator(f"label:has(input[value={but.get(key, 'sound')}])").tap()


def until(page: Page, done: Callable[[], Any]) -> None:
    """Wait for what the page does not show."""
    for _turn in range(400):
        if done():
            return
        page.wait_for_timeout(50)
    assert done()


def again(page: Page) -> None:
    """Have the phone try again at once."""
    page.evaluate("window.dispatchEvent(new Event('online'))")


def sign(page: Page, label: str = "Sign sheet") -> None:
    page.get_by_role("button", name=label).tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)


def sent(page: Page, count: int = 1) -> None:
    expect(page.locator("[data-outbox-sent] p")).to_have_count(count)
