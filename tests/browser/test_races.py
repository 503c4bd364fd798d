"""What happens at the same moment on a slow network: an answer and its photo, a signature and a change of the form.

No outside source: nothing that was entered may be lost, and nothing may be drawn of what the server does not have.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Locator, Page, Route, expect

from inspections.models import Draft, Sheet
from ledger.models import Entry
from tests.browser.alone import WAITING, fill_in, until
from tests.browser.hands import SAVED, Hands
from tests.browser.test_drafts import looks
from tests.browser.test_phone_verdicts import LOOK, item
from tests.browser.test_phone_verdicts import at_sheet as at_sheet
from tests.browser.test_signed_alone import hands as hands
from tests.inspections.test_photos import jpeg

pytestmark = pytest.mark.django_db(transaction=True)
CHANGED = "Something was changed while it was being signed"


def is_photo(route: Route) -> bool:
    return b'filename="' in (route.request.post_data_buffer or b"")


def a_photo(folder: Path) -> Path:
    photo = folder / "photo.jpg"
    photo.write_bytes(jpeg((800, 600)))
    return photo


def defect(page: Page, number: int, note: str) -> Locator:
    look = looks(page).nth(number)
    look.locator("label:has(input[value=defect])").tap()
    look.locator(".item__note").evaluate("one => (one.open = true)")
    look.locator("textarea").fill(note)
    return look


def test_a_photo_says_nothing_of_an_answer_that_the_server_does_not_have(at_sheet: Hands, tmp_path: Path) -> None:
    page, one = at_sheet.page, item(at_sheet, LOOK)
    one.locator("label:has(input[value=sound])").tap()
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    late: list[Route] = []
    page.route(
        "**/sheet/**", lambda route: route.continue_() if is_photo(route) else late.append(route)
    )  # the answer hangs, the photo goes
    one.locator("label:has(input[value=defect])").tap()
    expect(one.locator("[data-ask]")).to_be_visible()
    one.locator("input[type=file]").set_input_files(a_photo(tmp_path))
    until(page, lambda: Draft.objects.get().content[LOOK].get("photos"))
    expect(one.locator("[data-photos] img")).to_have_count(1)
    expect(one.locator("[data-answer] .is-ok")).to_have_count(0)
    expect(one.locator("[data-ask]")).to_be_visible()
    expect(page.locator("[data-saved]")).not_to_have_text(SAVED)


@pytest.mark.parametrize("offline", [True, False])
def test_an_answer_that_is_slow_to_come_takes_no_photo_away(hands: Hands, tmp_path: Path, offline: bool) -> None:
    page = hands.go("sheet", hands.w.line.pk, "cable", read=False)
    hands.answer(hands.w.line, "cable")
    slow: list[tuple[Route, Any]] = []

    def answer(route: Route) -> None:
        if route.request.method == "POST" and not is_photo(route) and not slow:
            slow.append((route, route.fetch()))  # the server has it, and its answer is on the way
        else:
            route.continue_()

    page.route("**/sheet/**", answer)
    look = looks(page).first
    look.locator("input[type=file]").set_input_files(a_photo(tmp_path))
    until(page, lambda: bool(slow))
    expect(look.locator("[data-photos] img")).to_have_count(1)
    [(route, response)] = slow
    route.fulfill(response=response)
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    page.unroute_all()
    expect(look.locator("[data-photos] img")).to_have_count(1)
    hands.window.set_offline(offline)
    page.get_by_role("button", name="Sign sheet").tap()
    if offline:
        expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
        hands.window.set_offline(False)
        page.evaluate("window.dispatchEvent(new Event('online'))")
    until(page, Sheet.objects.exists)
    key = looks(page).first.get_attribute("data-item") if offline else None
    readings = Entry.objects.get(kind="sheet").record["act"]["readings"]
    assert [len(one["photos"]) for one in readings if one.get("photos")] == [1]
    assert key is None or [one["key"] for one in readings if one.get("photos")] == [key]


def test_a_photo_that_is_not_taken_stays_on_the_phone(at_sheet: Hands, tmp_path: Path) -> None:
    page, one = at_sheet.page, item(at_sheet, LOOK)
    one.locator("label:has(input[value=sound])").tap()
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    draft = Draft.objects.get()
    draft.content[LOOK]["photos"] = [f"{number:064x}" for number in range(12)]
    draft.save()
    slow: list[Route] = []  # the answer to what is beside the photo comes after it

    def answer(route: Route) -> None:
        if b'filename="' in (route.request.post_data_buffer or b"") or route.request.method == "GET":
            return route.continue_()
        return slow.append(route)

    page.route("**/sheet/**", answer)
    with page.expect_response(lambda told: told.status == 422):
        one.locator("input[type=file]").set_input_files(a_photo(tmp_path))
    until(page, lambda: slow)
    slow[0].continue_()
    expect(page.locator("[data-saved]")).to_contain_text("At most 12 photos")
    assert one.evaluate("one => one.querySelector('input[type=file]').files.length") == 1


def test_what_is_marked_while_it_is_being_signed_is_not_lost(hands: Hands) -> None:
    page = hands.go("sheet", hands.w.line.pk, "cable", read=False)
    fill_in(hands, "cable")
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    page.route("**/sheet/**", lambda route: route.continue_() if route.request.method == "GET" else None)
    page.get_by_role("button", name="Sign sheet").tap()
    page.wait_for_timeout(1000)  # the server is slow, and somebody looks at the page meanwhile
    defect(page, 0, "Draht gebrochen")
    said = page.get_by_role("alertdialog")
    expect(said).to_contain_text(CHANGED)
    said.get_by_role("button", name="Back").tap()
    expect(page.locator("[data-outbox]")).to_be_hidden()
    expect(looks(page).first.locator("input[value=defect]")).to_be_checked()
    hands.window.set_offline(True)  # no need to wait again for a server that is slow
    page.get_by_role("button", name="Sign sheet").tap()
    page.get_by_role("button", name="Sign it: out of service").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)


def test_what_another_tab_marks_while_it_is_asked_is_not_signed_past(hands: Hands) -> None:
    page = hands.go("sheet", hands.w.line.pk, "cable", read=False)
    other = hands.window.new_page()
    other.goto(page.url)
    page.bring_to_front()
    hands.window.set_offline(True)
    fill_in(hands, "cable", **{looks(page).first.get_attribute("data-item") or "": "defect"})
    defect(page, 0, "Draht gebrochen")
    page.get_by_role("button", name="Sign sheet").tap()
    asked = page.get_by_role("alertdialog")
    expect(asked).to_be_visible()
    other.bring_to_front()
    defect(other, 1, "Rost")
    page.bring_to_front()
    expect(looks(page).nth(1).locator("input[value=defect]")).to_be_checked()
    asked.get_by_role("button", name="Sign it: out of service").tap()
    expect(asked).to_contain_text(CHANGED)
    assert json.loads(page.evaluate("JSON.stringify(document.querySelector('form[data-act]').inert)")) is False


def test_a_refused_defect_is_not_let_go_by_a_sheet_that_says_sound(hands: Hands) -> None:
    page = hands.go("sheet", hands.w.line.pk, "cable", read=False)
    hands.window.set_offline(True)
    fill_in(hands, "cable", **{looks(page).first.get_attribute("data-item") or "": "defect"})
    defect(page, 0, "Draht gebrochen")
    page.get_by_role("button", name="Sign sheet").tap()
    page.get_by_role("button", name="Sign it: out of service").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)

    def refuse(route: Route) -> None:
        if route.request.method == "GET":
            route.continue_()
        else:
            route.fulfill(status=422, body='{"refused": "Not so."}', content_type="application/json")

    page.route("**/sheet/**", refuse)
    hands.window.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("[data-outbox]")).to_contain_text("Not so.")
    page.unroute_all()
    page = hands.go("sheet", hands.w.line.pk, "cable", read=False)
    hands.window.set_offline(True)
    fill_in(hands, "cable")
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    expect(page.locator("[data-outbox]")).to_contain_text("Not so.")
