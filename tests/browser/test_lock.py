"""The idle lock: covers what was left alone, opens with the password, with a signal or without, and loses nothing.

The rounds of the derivation are those of OWASP's Password Storage Cheat Sheet (from memory); the rest is ours.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.templatetags.static import static
from django.urls import reverse
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests import make
from tests.browser.battery import Phone
from tests.browser.hands import Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)
LATER = "localStorage.setItem('lineworthy-touched', Date.now() - 16 * 60000)"
HELD = "async ([script, deed]) => (await import(script)).hold(deed)"
DEED = {
    "id": "d-1", "kind": "hold", "title": "Hold", "order": 1, "refused": "Look.", "typed": [], "fields": [],
    "page": "/", "act": "{}", "made_at": "2026-06-15T06:14:00Z",
}  # fmt: skip
VERIFIER = """async () => new Promise((done) => {
  const opening = indexedDB.open("lineworthy-phone", 1);
  opening.onsuccess = () => {
    const asked = opening.result.transaction("values").objectStore("values").getAllKeys();
    asked.onsuccess = () => { opening.result.close(); done(asked.result.filter((one) => one.startsWith("verifier"))); };
  };
})"""
BARED = """() => {
  window.bared = false;
  const look = () => (window.bared ||= !("locked" in document.documentElement.dataset));
  new MutationObserver(look).observe(document.documentElement, { attributes: true });
}"""
FLUSHED = 7000  # ms after which Chromium has written localStorage once; it writes it again after a minute


@pytest.fixture
def hands(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    hands = Hands(w, w.technician, open_window(PHONE)).log_in()
    hands.go("withdraw", read=False)
    until(hands.page, lambda: verifiers(hands.page) == [f"verifier:{w.technician.ref}"])
    return hands


def verifiers(page: Page) -> list[str]:
    return list(page.evaluate(VERIFIER))


def lock_of(hands: Hands) -> str | None:
    """What is kept of the lock in the phone's database."""
    script = "async ([script, ref]) => (await import(script)).lockOf(ref)"
    kept: str | None = hands.page.evaluate(script, [static("js/verifier.mjs"), hands.w.technician.ref])
    return kept


def until(page: Page, done: Callable[[], bool]) -> None:
    """Wait for what the page does not show."""
    for _turn in range(120):
        if done():
            return
        page.wait_for_timeout(50)
    assert done()


def leave_alone(page: Page) -> None:
    def is_covered() -> bool:
        page.evaluate(LATER)
        page.evaluate("window.dispatchEvent(new Event('focus'))")
        return page.get_by_role("dialog", name="Locked").is_visible()

    until(page, is_covered)


def unlock(page: Page, password: str) -> None:
    page.get_by_label("Your password").fill(password)
    page.get_by_role("button", name="Open it").tap()


def test_left_alone_it_is_covered_and_the_password_opens_it_as_it_was(hands: Hands) -> None:
    page = hands.page
    page.locator("[name=title]").fill("Riemen gerissen")
    leave_alone(page)
    # Behind it nothing can be read, reached or typed.
    expect(page.locator("[name=title]")).not_to_be_visible()
    expect(page.get_by_role("link", name="Menu")).to_have_count(0)
    assert page.evaluate(
        "[...document.body.children].every((one) => one.inert || one.matches('.lock, script, template'))"
    )
    hands.read_out("locked")
    unlock(page, "not the word")
    expect(page.get_by_role("alert")).to_have_text("This is not your password.")
    unlock(page, make.WORD)
    expect(page.get_by_role("dialog")).to_have_count(0)
    assert page.locator("[name=title]").input_value() == "Riemen gerissen"
    assert hands.wrong == []


def test_a_reload_does_not_open_it_and_neither_does_the_network(hands: Hands) -> None:
    w, page = hands.w, hands.page
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.reload()  # kept from here on
    hands.go("walk", read=False)
    leave_alone(page)
    page.reload()
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    expect(page.locator("h1")).not_to_be_visible()
    hands.window.set_offline(True)
    page.goto(reverse("inspections:withdraw", args=[w.course.pk]))
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    for _try in range(5):
        unlock(page, "not the word")
        expect(page.get_by_role("alert")).to_have_text("It is not the password that this phone knows.")
        expect(page.get_by_role("button", name="Open it")).to_be_enabled()
    unlock(page, make.WORD)
    expect(page.get_by_role("alert")).to_contain_text("Too many wrong passwords.")
    page.evaluate("localStorage.removeItem('lineworthy-tries')")
    unlock(page, make.WORD)
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(page.locator(".kept")).to_contain_text("No signal.")
    # An hour, where this phone says so.
    page.evaluate("localStorage.setItem('lineworthy-lock-minutes', 60)")
    page.evaluate(LATER)
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    page.wait_for_timeout(300)
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_locked_by_hand_and_in_place_of_a_log_out_without_a_signal(hands: Hands) -> None:
    w, page = hands.w, hands.page
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    hands.go("walk", read=False)  # kept from here on
    page.locator(".top .menu > summary").tap()
    page.get_by_role("button", name="Lock this phone").tap()
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    unlock(page, make.WORD)
    expect(page.get_by_role("dialog")).to_have_count(0)
    page.evaluate(HELD, [static("js/held.mjs"), {**DEED, "ref": w.technician.ref}])
    # The signal goes while the question stands there: nothing is taken off the phone.
    page.goto(reverse("account_logout"))
    hands.window.set_offline(True)
    page.get_by_role("button", name="Log out").tap()
    expect(
        page.get_by_text("No signal: the server cannot log you out now. This phone is locked instead.")
    ).to_be_visible()
    expect(page.get_by_text("Not sent yet on this phone: 1.")).to_be_visible()
    hands.read_out("log-out without a signal")
    assert lock_of(hands) == "locked"  # where a battery that dies leaves it
    page.goto("/")
    expect(page.get_by_text("Part of today is on this phone.")).to_be_visible()  # nothing but the walk was opened
    page.locator("[data-kept-pages]").get_by_role("link", name="Today's inspection").tap()
    unlock(page, make.WORD)
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(page.locator(".kept")).to_contain_text("No signal.")
    # What nothing here could open again is not locked.
    page.evaluate(
        "async ([script, ref]) => (await import(script)).forgetVerifier(ref)",
        [static("js/verifier.mjs"), w.technician.ref],
    )
    page.reload()
    page.locator(".top .menu > summary").tap()
    page.get_by_role("button", name="Lock this phone").tap()
    expect(page.get_by_text("Not locked: without a signal")).to_be_visible()
    page.get_by_role("link", name="Log out").tap()
    expect(page.get_by_text("This phone cannot be locked")).to_be_visible()
    assert hands.wrong == []


@pytest.mark.slow
def test_what_could_not_be_opened_is_locked_with_a_signal_alone(hands: Hands) -> None:
    page = hands.page
    page.evaluate("indexedDB.deleteDatabase('lineworthy-phone')")
    page.reload()
    hands.window.set_offline(True)
    page.evaluate(LATER)
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    page.wait_for_timeout(500)
    expect(page.get_by_role("dialog")).to_have_count(0)
    hands.window.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    unlock(page, make.WORD)
    expect(page.get_by_role("dialog")).to_have_count(0)
    # From here on it opens without one.
    assert len(verifiers(page)) == 1


@pytest.mark.slow
def test_the_log_out_stays_in_reach_and_forgets_what_opens_it(hands: Hands) -> None:
    page = hands.page
    page.evaluate(HELD, [static("js/held.mjs"), {**DEED, "ref": hands.w.technician.ref}])
    leave_alone(page)
    expect(page.get_by_text("A line is stopped by radio.")).to_be_visible()
    page.get_by_role("link", name="Log out").tap()
    expect(page.get_by_role("heading", name="Log out?")).to_be_visible()
    expect(page.locator("header.top")).not_to_be_visible()
    expect(page.get_by_text("Not sent yet on this phone: 1. What waits stays here")).to_be_visible()
    hands.send("Log out")
    assert verifiers(page) == []
    # Who logs in is not asked a second time.
    hands.log_in()
    hands.go("walk", read=False)
    expect(page.get_by_role("heading", name="Today's inspection")).to_be_visible()
    expect(page.get_by_role("dialog")).to_have_count(0)
    assert len(verifiers(page)) == 1
    assert page.evaluate("async (script) => (await (await import(script)).held()).length", static("js/held.mjs")) == 1


@pytest.mark.slow
def test_a_log_in_that_did_not_arrive_opens_nothing(hands: Hands) -> None:
    """Only the server says who came in; a page from the phone says nothing about the word that was typed before it."""
    w, page = hands.w, hands.page
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    hands.go("walk", read=False)  # kept from here on
    page.wait_for_function("async () => Boolean(await caches.match(location.href))")
    hands.window.clear_cookies()  # the log-in ran out
    page.goto(reverse("account_login"))
    page.evaluate(LATER)  # with no page open that could have noted it
    hands.window.set_offline(True)
    page.get_by_label("Email").fill(w.mate.email)
    page.get_by_label("Password").fill("not the word")
    page.get_by_role("button", name="Log in").tap()
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    page.goto(reverse("inspections:walk", args=[w.course.pk]))
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    unlock(page, "not the word")
    expect(page.get_by_role("alert")).to_have_text("It is not the password that this phone knows.")
    unlock(page, make.WORD)
    expect(page.get_by_role("dialog")).to_have_count(0)
    expect(page.locator(".kept")).to_contain_text("No signal.")


def locked(page: Page) -> None:
    expect(page.get_by_role("dialog", name="Locked")).to_be_visible()
    expect(page.locator("h1")).not_to_be_visible()


def lock(page: Page) -> None:
    page.locator(".top .menu > summary").tap()
    page.get_by_role("button", name="Lock this phone").tap()
    locked(page)


@pytest.mark.slow
def test_a_battery_that_dies_does_not_open_it(
    w: SimpleNamespace, net: SpoiledNetwork, browser: Browser, tmp_path: Path
) -> None:
    """Chromium writes localStorage once a minute or so: what was locked since then lies in the database alone."""
    phone = Phone(w, w.technician, browser.browser_type, tmp_path / "profile", net.url)
    try:
        first = phone.hands.log_in().go("walk", read=False)
        first.evaluate("navigator.serviceWorker.ready.then(() => true)")
        first.reload()  # kept from here on
        until(first, lambda: verifiers(first) == [f"verifier:{w.technician.ref}"])
        first.wait_for_timeout(FLUSHED)
        second = phone.window.new_page()
        second.goto(first.url)
        lock(second)
        locked(first)
        second.wait_for_timeout(FLUSHED)
        logged_in = phone.window.cookies()
        phone.die()
        phone.start()
        phone.window.add_cookies(logged_in)  # type: ignore[arg-type]
        page = phone.hands.go("walk", read=False)
        locked(page)
        net.spoil("refused")
        page.reload()
        locked(page)
        unlock(page, make.WORD)
        expect(page.get_by_role("dialog")).to_have_count(0)
        expect(page.locator(".kept")).to_contain_text("No signal.")
        page.reload()  # opened is opened
        expect(page.locator("h1")).to_be_visible()
        expect(page.get_by_role("dialog")).to_have_count(0)
    finally:
        phone.window.close()
    assert phone.complaints == []


def test_a_lock_that_one_store_lost_is_still_there(hands: Hands) -> None:
    page = hands.page
    lock(page)
    page.evaluate("localStorage.removeItem('lineworthy-locked')")
    page.reload()
    locked(page)
    page.evaluate("localStorage.clear()")
    page.reload()
    locked(page)
    unlock(page, make.WORD)
    expect(page.get_by_role("dialog")).to_have_count(0)
    assert lock_of(hands) == "open"
    page.reload()
    expect(page.locator("h1")).to_be_visible()
    expect(page.get_by_role("dialog")).to_have_count(0)
    # The same the other way round.
    lock(page)
    page.evaluate(
        "async ([script, ref]) => (await import(script)).forgetLock(ref)",
        [static("js/verifier.mjs"), hands.w.technician.ref],
    )
    page.reload()
    locked(page)


def test_two_pages_are_locked_and_opened_together_but_a_log_out_opens_nothing(hands: Hands) -> None:
    first = hands.page
    second = hands.window.new_page()
    second.goto(first.url)
    lock(second)
    locked(first)
    unlock(first, make.WORD)
    expect(first.get_by_role("dialog")).to_have_count(0)
    expect(second.get_by_role("dialog")).to_have_count(0)
    lock(second)
    locked(first)
    second.evaluate(BARED)
    first.get_by_role("link", name="Log out").tap()
    expect(first.get_by_role("heading", name="Log out?")).to_be_visible()
    hands.send("Log out")
    second.wait_for_timeout(500)
    assert second.evaluate("window.bared") is False
    locked(second)
