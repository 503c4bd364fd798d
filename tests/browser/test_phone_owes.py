"""A hold that was signed without a signal and cannot be sent: the manager is told, whatever becomes of the phone.

Source: the rules of the service as its makers wrote them down.
"""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, expect

from inspections.models import Hold, Phone
from tests.browser.alone import WAITING, fill_in, phone_behind, stand_at, with_key
from tests.browser.hands import Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.conftest import DESK
from tests.said import Said

pytestmark = pytest.mark.django_db(transaction=True)

EMPTIED = """async () => {
  for (const one of await indexedDB.databases()) await new Promise((done) => {
    const asked = indexedDB.deleteDatabase(one.name);
    asked.onsuccess = asked.onerror = asked.onblocked = done;
  });
  localStorage.clear();
}"""


@pytest.fixture
def told_of_a_hold(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> tuple[Hands, Hands]:
    """Return a technician whose phone told of a hold that it cannot send, and the manager at the board that says so."""
    technician = with_key(w, phone_behind(open_window, net.url))
    stand_at(technician, w.at)  # the phone's clock stands on the tests' morning too
    page = technician.go("line", w.line.pk, read=False)
    net.spoil("refused", path="/hold/", method="POST")
    page.locator("summary", has_text="Hold").first.tap()
    page.get_by_role("button", name="Person on line 1").tap()
    expect(page.locator("[data-outbox]")).to_contain_text("Person on Line 1")
    technician.go("walk", read=False)
    manager = Hands(w, w.manager, open_window(DESK)).log_in()
    _until(manager.go("board", read=False), "Person on Line 1")
    return technician, manager


def test_a_hold_that_cannot_be_sent_is_known_until_the_manager_sets_it_aside(
    told_of_a_hold: tuple[Hands, Hands],
) -> None:
    technician, manager = told_of_a_hold
    page, board = technician.page, manager.page
    expect(board.get_by_text("A phone reported a hold that has not arrived.")).to_be_visible()
    manager.read_out("board with what a phone owes")
    assert not Hold.objects.exists()

    page.evaluate(EMPTIED)
    technician.go("walk", read=False)
    _until_phones(page, 2)
    board.reload()
    expect(board.get_by_text("Person on Line 1", exact=False).first).to_be_visible()

    board.get_by_role("link", name="Phones, and what they owe").click()
    manager.read_out("phones")
    board.get_by_role("link", name="It will not come: Person on Line 1").click()
    board.get_by_text("I have asked by radio: it will not come.").click()
    expect(board.get_by_text("It holds Line 1 Line 1 now.")).to_be_visible()
    board.get_by_label("What was said by radio, and by whom").fill("Tarik: nobody was on it.")
    manager.send("Set it aside")
    expect(board.get_by_text("by Mirte Valk")).to_be_visible()
    manager.go("board", read=False)
    expect(board.get_by_text("A phone reported a hold that has not arrived.")).to_have_count(0)
    assert technician.wrong == manager.wrong == []


def test_a_hold_that_others_were_told_of_is_not_lifted_by_who_discards_it_on_the_phone(
    told_of_a_hold: tuple[Hands, Hands],
) -> None:
    technician, manager = told_of_a_hold
    page, board = technician.page, manager.page
    page.get_by_text("What is not sent", exact=True).tap()
    page.get_by_role("button", name="Discard it").tap()
    asked = page.get_by_role("alertdialog")
    expect(asked).to_contain_text("stays held until the manager has asked you and sets it aside.")
    asked.get_by_role("button", name="Discard it").tap()
    expect(page.locator("[data-outbox]")).to_be_hidden()
    technician.go("walk", read=False)

    _until(board, "(taken back on the phone)")
    expect(board.get_by_text("A phone reported a hold that has not arrived.")).to_be_visible()
    board.get_by_role("link", name="Phones, and what they owe").click()
    expect(board.get_by_text("Its phone has it no longer")).to_be_visible()
    manager.read_out("phones, taken back")
    board.get_by_role("link", name="It will not come: Person on Line 1").click()
    board.get_by_text("I have asked by radio: it will not come.").click()
    board.get_by_label("What was said by radio, and by whom").fill("Tarik: pressed by mistake.")
    manager.send("Set it aside")
    manager.go("board", read=False)
    expect(board.get_by_text("A phone reported a hold that has not arrived.")).to_have_count(0)
    assert technician.wrong == manager.wrong == []


def test_what_was_not_checked_holds_its_line_before_it_has_arrived(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    technician = with_key(w, phone_behind(open_window, net.url))
    page = technician.go("sheet", w.line.pk, "cable", read=False)
    net.spoil("refused", path="/sheet/", method="POST")
    look = page.locator("[data-item]:has(input[type=radio])").first
    key = look.get_attribute("data-item") or ""
    fill_in(technician, "cable", **{key: "cannot_check"})
    look.locator(".item__note").evaluate("one => (one.open = true)")
    look.locator("textarea").fill("Eis")
    Said(page)
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    technician.go("board", read=False)
    expect(page.locator("#line-1 .mark:visible")).to_have_text("Held on this phone, not sent")

    manager = Hands(w, w.manager, open_window(DESK)).log_in()
    board = manager.go("board", read=False)
    _until(board, "A phone reported something not checked that has not arrived.")
    assert technician.wrong == manager.wrong == []


def _until(board: Any, text: str) -> None:
    for _try in range(40):
        if board.get_by_text(text).count():
            return
        board.wait_for_timeout(250)
        board.reload()
    raise AssertionError(f"{text} is not told on {board.url}")


def _until_phones(page: Any, count: int) -> None:
    for _try in range(40):
        if Phone.objects.count() == count:
            return
        page.wait_for_timeout(250)
    raise AssertionError(f"{Phone.objects.count()} phones are known, not {count}")
