"""Two tabs of one phone show one sheet: what is changed in one stands in the other, and it is signed once.

The contract is templates/ui/README.md, "Tabs"; there is no outside source for it. That a later change counts over an
earlier one only where it was made with that in sight is common practice of shared documents, no source.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from inspections.models import Finding, Reading, Sheet
from ledger.models import Entry
from tests.browser.alone import fill_in, phone_behind, sign, until, with_key
from tests.browser.hands import SAVED, Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.browser.test_drafts import figures, here, looks
from tests.inspections.test_photos import jpeg
from tests.said import Said

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]
DEAF = "BroadcastChannel.prototype.postMessage = () => {}"  # as a tab that is frozen: it hears nothing


def sheet_in_two(w: SimpleNamespace, window: BrowserContext, *, deaf: bool = False) -> tuple[Hands, Page, Page]:
    hands = with_key(w, window)
    if deaf:
        window.add_init_script(DEAF)
    one = hands.go("sheet", w.line.pk, "cable", read=False)
    hands.page = window.new_page()
    other = hands.go("sheet", w.line.pk, "cable", read=False)
    return hands, one, other


def tap(page: Page, number: int, mark: str) -> None:
    looks(page).nth(number).locator(f"label:has(input[value={mark}])").tap()


def chosen(page: Page, number: int, mark: str) -> Any:
    return looks(page).nth(number).locator(f"input[type=radio][value={mark}]")


def back(page: Page) -> None:
    """Have a tab learn that it is seen again."""
    page.bring_to_front()
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def test_what_is_changed_in_one_tab_stands_in_the_other_and_a_defect_never_goes_in_silence(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext], tmp_path: Path
) -> None:
    hands, one, other = sheet_in_two(w, phone_behind(open_window, net.url))
    one.bring_to_front()
    tap(one, 0, "sound")
    expect(one.locator("[data-saved]")).to_have_text(SAVED)
    other.bring_to_front()
    expect(chosen(other, 0, "sound")).to_be_checked()
    net.spoil("refused")
    tap(other, 0, "defect")
    looks(other).nth(0).locator(".item__note summary").tap()
    looks(other).nth(0).locator("textarea").press_sequentially("Saved 11:15")
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((800, 600)))
    looks(other).nth(0).locator("input[type=file]").set_input_files(photo)
    expect(looks(other).nth(0).locator("canvas")).to_have_count(1)

    one.bring_to_front()
    expect(chosen(one, 0, "defect")).to_be_checked()
    expect(looks(one).nth(0).locator("textarea")).to_have_value("Saved 11:15")
    expect(looks(one).nth(0).locator("canvas")).to_have_count(1)
    expect(looks(one).nth(0).locator("[data-answer] .mark, [data-ask]").first).to_be_visible()
    expect(one.locator("[data-replaced]")).to_have_count(0)  # what stood here was sound
    # Taken away there, it goes here too; and what stood here of a defect is said.
    other.bring_to_front()
    remove = looks(other).nth(0).locator(".photos--waiting button")
    remove.scroll_into_view_if_needed()
    other.wait_for_timeout(1000)  # what was heard meanwhile is drawn first, and moves the button
    remove.dispatch_event("click")
    expect(looks(other).nth(0).locator("canvas")).to_have_count(0)
    tap(other, 0, "sound")
    expect(chosen(one, 0, "sound")).to_be_checked()
    expect(looks(one).nth(0).locator("[data-replaced]")).to_contain_text("here stood: Defect, Saved 11:15.")
    expect(looks(one).nth(0).locator("canvas")).to_have_count(0)
    one.bring_to_front()
    hands.page = one
    hands.read_out("changed in another tab")
    # And back: neither tab asks, and nothing goes to and fro.
    figures(one).first.fill("11.7")
    expect(figures(other).first).to_have_value("11.7")
    assert one.locator(".ask:not([data-ask])").count() + other.locator(".ask:not([data-ask])").count() == 0
    told = """() => new Promise((done) => {
      let count = 0;
      new BroadcastChannel("lineworthy-drafts").onmessage = () => (count += 1);
      setTimeout(() => done(count), 1500);
    })"""
    one.wait_for_timeout(1000)
    assert one.evaluate(told) == 0
    assert hands.wrong == []


def test_two_answers_that_did_not_know_of_each_other_are_asked_about_before_it_is_signed(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands, one, other = sheet_in_two(w, phone_behind(open_window, net.url), deaf=True)
    net.spoil("refused")
    one.bring_to_front()
    hands.page = one
    fill_in(hands, "cable")
    expect(here(one)).to_contain_text("Saved on this phone")
    other.bring_to_front()
    other.evaluate("window.scrollTo(0, 0)")
    tap(other, 0, "defect")
    expect(here(other)).to_contain_text("Saved on this phone")

    one.bring_to_front()
    said = Said(one)
    one.get_by_role("button", name="Sign sheet").tap()
    until(one, lambda: bool(said))
    assert said == ["Not signed yet: two answers stand against each other. Say first which one counts."]
    asked = one.locator(".ask", has_text="In another tab of this phone you answered at")
    expect(asked).to_contain_text(": Defect. Here stands something else. Which one counts?")
    expect(chosen(one, 0, "sound")).to_be_checked()
    expect(one.locator("[data-outbox]")).to_be_hidden()
    hands.read_out("two answers of two tabs")
    asked.get_by_role("button", name="The answer of the other tab").tap()
    expect(chosen(one, 0, "defect")).to_be_checked()
    expect(asked).to_have_count(0)
    looks(one).nth(0).locator(".item__note summary").tap()
    looks(one).nth(0).locator("textarea").fill("Draht gebrochen")
    one.get_by_role("button", name="Sign sheet").tap()
    expect(one.locator("[data-outbox]")).to_contain_text("Call by radio.")
    back(other)
    expect(other.get_by_role("button", name="Sign sheet")).to_be_disabled()
    expect(other.locator("[data-signed-here]")).to_contain_text("It waits to be sent")
    expect(looks(other).nth(0).locator("textarea")).to_have_value("Draht gebrochen")
    net.mend()
    one.evaluate("window.dispatchEvent(new Event('online'))")
    until(one, lambda: Sheet.objects.exists())
    assert Finding.objects.filter(out_of_service=True).count() == 1
    assert hands.wrong == []


def test_a_tab_that_missed_a_change_shows_it_before_it_can_be_signed(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands, one, other = sheet_in_two(w, phone_behind(open_window, net.url))
    one.bring_to_front()
    hands.page = one
    hands.answer(w.line, "cable")
    expect(chosen(other, 1, "sound")).to_be_checked()
    expect(here(other)).to_have_text("")
    other.evaluate(DEAF)
    other.bring_to_front()
    tap(other, 1, "cannot_check")
    expect(other.locator("[data-saved]")).to_contain_text("Saved")
    expect(chosen(one, 1, "sound")).to_be_checked()

    said = Said(one)
    one.evaluate("document.querySelector('button[name=sign]').click()")
    until(one, lambda: bool(said))
    assert said[0].startswith("Not signed yet: this was changed in another tab.")
    expect(chosen(one, 1, "cannot_check")).to_be_checked()
    assert not Sheet.objects.exists()


def test_what_this_phone_had_answered_before_another_phone_did_is_not_asked_about(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = with_key(w, phone_behind(open_window, net.url))
    page = hands.go("sheet", w.line.pk, "cable", read=False)
    tap(page, 0, "sound")
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    expect(here(page)).to_have_text("")
    mate = Hands(w, w.technician, phone_behind(open_window, net.url)).log_in()
    elsewhere = mate.go("sheet", w.line.pk, "cable", read=False)
    tap(elsewhere, 0, "cannot_check")
    expect(elsewhere.locator("[data-saved]")).to_have_text(SAVED)

    page = hands.go("sheet", w.line.pk, "cable", read=False)
    back(page)
    page.wait_for_timeout(500)
    expect(chosen(page, 0, "cannot_check")).to_be_checked()
    expect(page.locator(".ask")).to_have_count(0)


def test_a_sheet_that_was_signed_in_another_tab_says_so_and_is_not_signed_again(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands, one, other = sheet_in_two(w, phone_behind(open_window, net.url))
    one.bring_to_front()
    hands.page = one
    hands.answer(w.line, "cable")
    hands.send("Sign sheet")
    assert Sheet.objects.count() == 1
    # With a signal the page comes anew, and says it.
    expect(other.locator("main")).to_contain_text("A sheet for this was signed at")
    expect(other.get_by_role("button", name="Sign sheet")).to_be_enabled()
    expect(other.locator("[data-done]")).to_have_text("0")
    # Without one it stays, is locked, and says it.
    third = hands.window.new_page()
    hands.page = third
    hands.go("sheet", w.line.pk, "cable", read=False)
    hands.answer(w.line, "cable")
    other.route("**/phone/hello/", lambda route: route.abort())
    hands.send("Sign sheet")
    assert Sheet.objects.count() == 2
    expect(other.locator("[data-outbox-sent]")).to_contain_text("It stands in the history as entry")
    expect(other.get_by_role("button", name="Sign sheet")).to_be_disabled()
    hands.page = other
    other.bring_to_front()
    hands.read_out("signed in another tab")
    assert Entry.objects.filter(kind="sheet").count() == 2
    assert hands.wrong == []


@pytest.mark.slow
def test_a_sheet_that_waits_shows_what_was_signed_when_it_is_opened_again(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext], tmp_path: Path
) -> None:
    hands = with_key(w, phone_behind(open_window, net.url))
    hands.go("sheet", w.line.pk, "cable", read=False)
    hands.page.wait_for_timeout(1500)
    page = hands.go("sheet", w.line.pk, "cable", read=False)  # by now it is kept on the phone
    of = page.locator("[data-of]").inner_text()
    net.spoil("refused")
    fill_in(hands, "cable")
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((800, 600)))
    looks(page).nth(0).locator("input[type=file]").set_input_files(photo)
    expect(looks(page).nth(0).locator("canvas")).to_have_count(1)
    figure = figures(page).first.input_value()
    sign(page)
    page.reload()
    expect(page.locator("html[data-kept]")).to_have_count(1)
    expect(page.locator("[data-signed-here]")).to_have_text(
        re.compile(
            r"^Signed on this phone at \d\d:\d\d\. It waits to be sent, and nothing of it can be changed here\."
            r" To change it, take it back first: at the top of this page, under “What is not sent”\.$"
        )
    )
    expect(chosen(page, 0, "sound")).to_be_checked()
    expect(chosen(page, 0, "sound")).to_be_disabled()
    expect(figures(page).first).to_have_value(figure)
    expect(figures(page).first).to_be_disabled()
    expect(looks(page).nth(0).locator("canvas")).to_have_count(1)
    expect(page.get_by_role("button", name="Sign sheet")).to_be_disabled()
    page.wait_for_timeout(700)  # each item has been judged by now
    expect(page.locator("[data-done]")).to_have_text(of)
    hands.read_out("signed and opened again")
    # Taken back it can be changed as ever.
    Said(page)
    page.get_by_text("What is not sent", exact=True).tap()
    page.get_by_role("button", name="Take it back").tap()
    expect(page.locator("[data-signed-here]")).to_have_count(0)
    expect(figures(page).first).to_be_enabled()
    expect(figures(page).first).to_have_value(figure)
    tap(page, 0, "sound")
    sign(page)
    net.mend()
    page.evaluate("window.dispatchEvent(new Event('online'))")
    until(page, lambda: Sheet.objects.exists())
    expect(page.locator("[data-signed-here]")).to_have_count(0)
    expect(figures(page).first).to_be_disabled()
    assert Reading.objects.filter(text__contains=figure).exists()
    assert hands.wrong == []


def test_what_waits_is_sent_at_once_when_it_is_asked_for(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = with_key(w, phone_behind(open_window, net.url))
    page = hands.go("sheet", w.line.pk, "cable", read=False)
    tried: list[str] = []
    page.on("request", lambda sent: tried.append(sent.url) if "/phone/hello/" in sent.url else None)
    net.spoil("refused")
    fill_in(hands, "cable")
    sign(page)
    now = page.get_by_role("button", name="Send now")
    expect(page.locator("[data-outbox-tried]")).to_have_text("Tried at 08:14: it did not go.")
    expect(page.locator("[data-outbox-next]")).to_contain_text("Next try in ")
    hands.read_out("send now")
    size = now.bounding_box()
    assert size is not None
    assert size["height"] >= 48
    tried.clear()
    now.focus()
    page.keyboard.press("Enter")
    until(page, lambda: bool(tried))
    expect(page.locator("[data-outbox-next]")).to_contain_text("Next try in ")
    net.mend()
    now.tap()
    expect(page.locator("[data-outbox-sent]")).to_contain_text("It stands in the history as entry")
    expect(now).to_be_hidden()
    assert Sheet.objects.count() == 1
    assert hands.wrong == []
