"""Every page of a phone without a signal, in light and dark: read by axe-core, and large and plain enough to act on.

axe-core's rules follow WCAG 2.2; 7:1 is its success criterion 1.4.6 (level AAA). 48 px is the project's own measure;
links in running text are left out of it, as WCAG 2.2 leaves them out (2.5.8, "inline", from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from inspections.models import Sheet
from tests import make
from tests.browser.alone import again, until
from tests.browser.hands import Hands
from tests.browser.test_kept_pages import KEPT, carrying, take_along, with_key
from tests.browser.test_lock import leave_alone
from tests.browser.test_phone_pages import MEASURED
from tests.browser.test_phone_verdicts import LOOK, SPRING, typed
from tests.browser.test_signed_alone import hands as hands
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)
KNOWN = "async (script) => (await import(script)).offset()"
HOLD = "async ([script, deed]) => (await import(script)).hold(deed)"
# What a finger goes for: of a choice, or a photo, that is its label.
TARGETS = ", ".join([
    "button", "summary", "a.button", ".rows__link", ".head__back", "label:has(input[type=radio])",
    "label:has(input[type=checkbox])", "label:has(input[type=file])", "input[inputmode]", "input[type=password]",
    "select", "textarea", "a[data-lock-log-in]", ".kept a",
])  # fmt: skip


def within_reach(page: Page, name: str, least: int = 4) -> None:
    found = page.evaluate(MEASURED, TARGETS)
    assert len(found) >= least, name
    small = [one for one in found if one[1] < 48 or one[2] < 7]
    assert small == [], f"{name}: {small}"


@pytest.fixture
def away(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext], theme: str) -> Hands:
    """The technician with a key, whose phone has today on it and no signal."""
    hands = with_key(carrying(w, open_window({**PHONE, "color_scheme": theme})))
    page = take_along(hands)
    until(page, lambda: page.evaluate(KNOWN, static("js/clock.mjs")))
    hands.window.set_offline(True)
    return hands


def look(hands: Hands, name: str, *more: Any) -> Page:
    page = hands.go(name, *more, read=False)
    expect(page.locator(KEPT)).to_be_visible()
    return page


def read(hands: Hands, name: str) -> None:
    hands.read_out(name)
    within_reach(hands.page, name)


@pytest.mark.slow
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_what_is_shown_without_a_signal_can_be_read_and_reached(away: Hands) -> None:
    pages_of_the_walk(away)
    outbox_and_lock(away)
    assert away.wrong == []


def pages_of_the_walk(hands: Hands) -> None:
    w = hands.w
    look(hands, "walk")
    read(hands, "walk")
    page = look(hands, "sheet", w.line.pk, "landing")
    item = typed(hands, SPRING, "560")
    expect(item.locator("[data-ask]")).to_be_visible()
    cannot = page.locator(f'[id="item-{LOOK}"]')
    cannot.locator("label:has(input[value=cannot_check])").tap()
    expect(cannot.locator("[data-answer] .mark")).to_be_visible()
    read(hands, "sheet, asked back")
    item.get_by_role("button", name="Keep").tap()
    expect(item.locator("[data-answer] .mark")).to_have_text("Out of service")
    read(hands, "sheet, kept out of service")
    look(hands, "rack", w.store.pk, "A").locator("label:has(input[name=defect])").first.tap()
    read(hands, "rack")
    page = look(hands, "ride", w.line.pk)
    page.locator(".item__blank input").first.fill("7.2")
    page.locator(".item__blank input").first.press("Enter")
    page.locator("[data-answer] .mark, [data-ask]").first.wait_for()
    read(hands, "ride")
    page = look(hands, "hold")
    page.locator("#thunder > summary").tap()
    page.get_by_role("button", name="Tap at the flash").tap()
    page.get_by_role("button", name="Tap at the thunder").tap()
    expect(page.locator("[data-thunder-said]")).to_contain_text("hold the course")
    read(hands, "hold, thunder counted")
    for name in ("withdraw", "open_finding", "today"):
        look(hands, name)
        read(hands, name)
    page.goto(reverse("courses:setup", args=[w.course.pk]))
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    read(hands, "no signal")


def deed(w: SimpleNamespace, number: int, **more: Any) -> dict[str, Any]:
    """A deed as it is held (static/js/held.mjs), that says of itself how it stands."""
    return {
        "id": f"d-{number}", "ref": w.technician.ref, "kind": "hold", "title": f"Hold: Line {number}", "order": number,
        "refused": "", "typed": [["Line", f"Line {number}"]], "fields": [], "page": "/", "address": "/", "act": "{}",
        "made_at": timezone.now().isoformat(), "signed": {}, "locks": False, **more,
    }  # fmt: skip


def outbox_and_lock(hands: Hands) -> None:
    """The outbox in each of its states, put into the phone's own store; then the phone is left alone."""
    w, page = hands.w, look(hands, "walk")
    for one in (
        deed(w, 1),
        deed(w, 2),
        deed(w, 3, login=True, tried=True),
        deed(w, 4, refused="The key of this device is not known any more.", tried=True),
        deed(w, 5, ref="p-another"),
    ):
        page.evaluate(HOLD, [static("js/held.mjs"), one])
    page = look(hands, "walk")
    page.evaluate("new BroadcastChannel('lineworthy-outbox').postMessage({ what: 'sending', id: 'd-2', page: '/' })")
    box = page.locator("[data-outbox]")
    for sentence in (
        "3 not sent yet: nobody else knows of them.", "Newest: Hold: Line 3, signed at",
        "Hold: Line 1. Signed on this phone at",
        "It is being sent now", "Log in again, then it goes", "and not taken:",
        "Signed on this phone by somebody else and not sent yet: 1.",
    ):  # fmt: skip
        expect(box).to_contain_text(sentence)
    box.get_by_text("What is not sent", exact=True).tap()
    box.get_by_text("What was typed").first.tap()
    read(hands, "outbox")
    box.get_by_role("button", name="Discard it").first.tap()
    expect(page.get_by_role("alertdialog")).to_contain_text("Discard what")
    hands.read_out("asked over a page")
    within_reach(page, "asked over a page")
    page.keyboard.press("Escape")
    received = {
        "id": "d-9", "ref": w.technician.ref, "title": "Line 1, Cable", "page": page.url, "day": "", "locks": False,
        "seq": 7, "at": 0, "said": False,
    }  # fmt: skip
    page.evaluate("async ([script, one]) => (await import(script)).keepSent({...one, at: Date.now()})",
                  [static("js/sent.mjs"), received])  # fmt: skip
    look(hands, "walk")
    expect(box).to_contain_text("It stands in the history as entry 7.")
    read(hands, "outbox, received")
    leave_alone(page)
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    hands.read_out("locked")
    within_reach(page, "locked", 3)


FOCUSED = """() => {
  const { type, name, value, tagName } = document.activeElement;
  const item = document.activeElement.closest("[data-item]");
  const done = Boolean(item?.querySelector("input[type=radio]:checked"));
  return { type, name, value, tag: tagName, key: item?.dataset.item ?? "", done };
}"""


def test_a_whole_sheet_is_filled_in_and_signed_by_keys_alone(hands: Hands) -> None:
    """Tab, space and letters, as WCAG 2.2 asks (2.1.1); no pointer is used from the page's opening on."""
    w, page = hands.w, hands.go("sheet", hands.w.line.pk, "cable", read=False)
    hands.window.set_offline(True)
    answers = make.answers(w, w.line, "cable", at=timezone.now())
    typed_keys: dict[str, list[str]] = {}
    for _press in range(400):
        page.keyboard.press("Tab")
        at = page.evaluate(FOCUSED)
        assert at["tag"] != "BODY", "the end of the page was reached without the button that signs"
        if at["name"] == "sign":
            break
        if at["type"] == "radio" and at["key"] in answers and not at["done"]:
            assert at["value"] == "sound"
            page.keyboard.press("Space")
        elif at["type"] == "text" and at["key"] in answers and not at["value"]:
            texts = typed_keys.setdefault(at["key"], answers[at["key"]]["text"].split(" / "))
            page.keyboard.type(texts.pop(0))
    page.keyboard.press("Enter")
    expect(page.locator("[data-outbox] li")).to_have_count(1)
    hands.window.set_offline(False)
    again(page)
    until(page, Sheet.objects.exists)
    sheet = Sheet.objects.get()
    assert (sheet.section, sheet.readings.count()) == ("cable", len(answers))
    assert sheet.verdict in {"ok", "watch"}
