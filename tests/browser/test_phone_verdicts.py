"""A sheet without a signal: what an answer means is said by the phone at once, in the server's words.

That the words are the server's is held to it on every sheet in tests/inspections/test_phone_rules.py.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, Locator, Route, expect

from inspections.actions.rides import ride_items
from inspections.models import Draft, Finding, Sheet
from tests import make
from tests.browser.alone import SIGNED, fill_in, stand_at, until
from tests.browser.hands import Hands
from tests.browser.test_signed_alone import hands as hands
from tests.conftest import PHONE
from tests.inspections.test_sheets import _tighten
from tests.said import Said

pytestmark = pytest.mark.django_db(transaction=True)
SPRING, LOOK, MARK = "BS-1@primary-1", "TA-06@end-landing", "TA-04M@end-landing"
BY = "By this phone. The server has not answered yet."

# Counts how often a form is read as a whole.
COUNTED = """() => {
  const Fields = FormData;
  window.wholeForms = 0;
  window.FormData = class extends Fields {
    constructor(...form) {
      super(...form);
      window.wholeForms += form.length;
    }
  };
}"""

# Before it is counted for the first time.
TAP_AND_TYPE = """([look, figure, text]) => {
  document.getElementById(`item-${look}`).querySelector("[value=sound]").click();
  const input = document.getElementById(`item-${figure}`).querySelector(".item__blank input");
  input.focus();
  document.execCommand("insertText", false, text);
}"""


@pytest.fixture
def at_sheet(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    hands = Hands(w, w.technician, open_window(PHONE)).log_in()
    stand_at(hands, SIGNED)  # the phone's clock, as the server's stands on the tests' morning
    hands.go("sheet", w.line.pk, "landing", read=False)
    return hands


def item(hands: Hands, key: str) -> Locator:
    return hands.page.locator(f'[id="item-{key}"]')


def typed(hands: Hands, key: str, text: str) -> Locator:
    blank = item(hands, key).locator(".item__blank input")
    blank.fill(text)
    blank.press("Enter")
    return item(hands, key)


def test_without_a_signal_the_phone_judges_and_asks_back(at_sheet: Hands) -> None:
    hands = at_sheet
    page = hands.page
    page.evaluate(COUNTED)
    hands.window.set_offline(True)
    spring = typed(hands, SPRING, "599")
    expect(spring.locator("[data-answer]")).to_contain_text(BY)
    expect(spring.locator(".mark")).to_have_text("OK")
    # Past its limit: asked back large, not checked until it is kept; and nothing is out of service before it arrives.
    typed(hands, SPRING, "560")
    expect(spring.locator("[data-ask]")).to_contain_text(
        "out of service once the server has it. Until then say it by radio."
    )
    expect(spring.locator(".mark")).to_have_text("Not checked")
    spring.get_by_role("button", name="Keep").tap()
    expect(spring.locator(".mark")).to_have_text("Out of service")
    expect(spring.locator("[data-answer]")).to_contain_text("Signed like this it holds Line 1")
    expect(spring.locator("[data-answer]")).to_contain_text("say in the note what is wrong")
    # Unclear: a button for each meaning.
    typed(hands, SPRING, "0,334")
    expect(spring.locator("[data-choose]")).to_have_text(["0.334 mm", "334 mm"])
    item(hands, LOOK).locator("label:has(input[value=cannot_check])").tap()
    expect(item(hands, LOOK).locator("[data-answer]")).to_contain_text("until somebody has checked it")
    hands.read_out("judged by the phone")
    assert hands.wrong == []
    # With a signal the server's answer takes its place.
    typed(hands, SPRING, "598")
    hands.window.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.get_by_text(BY)).to_have_count(0, timeout=20000)
    expect(spring.locator(".mark")).to_have_text("OK")
    assert (
        page.evaluate("window.wholeForms") == 0
    )  # on a slow phone the whole of a long sheet takes longer than a tap may
    assert Draft.objects.get().content[SPRING]["text"] == "598"


def test_a_figure_is_counted_once_its_field_is_left(at_sheet: Hands) -> None:
    hands = at_sheet
    hands.window.set_offline(True)
    hands.page.evaluate(TAP_AND_TYPE, [LOOK, SPRING, "599"])
    expect(item(hands, LOOK).locator(".mark")).to_have_text("OK")
    expect(hands.page.locator("[data-done]")).to_have_text("1")
    item(hands, SPRING).locator(".item__blank input").press("Enter")
    expect(hands.page.locator("[data-done]")).to_have_text("2")


@pytest.mark.slow
def test_a_page_of_another_day_is_not_judged_and_a_kept_one_says_of_when_it_is(at_sheet: Hands) -> None:
    hands = at_sheet
    hands.window.set_offline(True)
    hands.page.evaluate("document.documentElement.dataset.kept = '2026-06-15T05:12:00Z'")
    spring = typed(hands, SPRING, "599")
    expect(spring.locator("[data-answer]")).to_contain_text("By this phone, with the limits as of 07:12.")
    hands.window.clock.set_fixed_time(SIGNED + timedelta(days=1))
    typed(hands, SPRING, "598")
    hands.page.wait_for_timeout(600)  # longer than what is drawn waits for a finger
    expect(spring.locator(".mark")).to_have_count(0)
    expect(spring.locator("[data-answer]")).not_to_contain_text("By this phone")


def test_limits_that_changed_while_the_phone_was_away_are_told_beside_its_own(at_sheet: Hands) -> None:
    hands = at_sheet
    mark = typed(hands, MARK, "0.4")
    expect(mark.locator(".mark")).to_have_text("OK")
    hands.w.t = lambda minutes: hands.w.at.replace(minute=hands.w.at.minute)
    _tighten(hands.w, MARK, "0.3", at=0)
    typed(hands, MARK, "0.45")
    expect(mark.locator("[data-answer]")).to_contain_text("This phone: OK. Server: Not checked. The server's stands.")
    expect(mark.locator("[data-ask]")).to_contain_text("out of service at once")


@pytest.mark.parametrize("key", [SPRING, LOOK])
def test_a_question_of_the_phone_gives_way_to_the_servers(at_sheet: Hands, key: str) -> None:
    """On a network that is slower than the phone, which is the usual one, each of them asks."""
    late: list[Route] = []
    at_sheet.page.route(lambda url: "/sheet/" in url, lambda route: late.append(route))
    one = item(at_sheet, key)
    if key == SPRING:
        typed(at_sheet, SPRING, "560")
    else:
        one.locator("label:has(input[value=defect])").tap()
    asked = one.locator("[data-ask]")
    expect(asked).to_have_count(1)
    expect(one.locator("[data-answer]")).to_contain_text(BY)
    assert "at once" not in asked.inner_text()
    keep = asked.get_by_role("button").first
    keep.focus()
    stood = keep.bounding_box()
    for route in late:
        route.continue_()
    expect(one.locator("[data-answer]")).not_to_contain_text(BY)
    expect(asked).to_have_count(1)
    expect(asked).to_contain_text("out of service at once")
    # Who was about to press a key of the first has it under the finger still.
    expect(keep).to_be_focused()
    now = keep.bounding_box()
    assert stood is not None
    assert now is not None
    assert abs(now["x"] - stood["x"]) + abs(now["y"] - stood["y"]) < 1
    at_sheet.page.unroute_all()
    keep.press("Enter")
    expect(asked).to_have_count(0)
    expect(one.locator("[data-answer]")).not_to_contain_text(BY)
    expect(one.locator(".mark")).to_have_text("Out of service")
    assert Draft.objects.get().content[key]["kept"] == ("560" if key == SPRING else "defect")
    assert Finding.objects.get().key == key


@pytest.mark.slow
def test_a_figure_asked_back_is_answered_before_it_is_signed_alone(hands: Hands) -> None:
    page = hands.go("sheet", hands.w.line.pk, "landing", read=False)
    hands.window.set_offline(True)
    fill_in(hands, "landing")
    spring = typed(hands, SPRING, "560")
    spring.locator("[data-ask]").wait_for()
    said = Said(page)
    page.get_by_role("button", name="Sign sheet").tap()
    until(page, lambda: bool(said))
    assert "Asked back: keep it or retype it." in said[0]
    spring.get_by_role("button", name="Keep").tap()
    expect(spring.locator(".item__note")).to_have_attribute("open", "")
    spring.locator(".item__note textarea, .item__note input").first.fill("Measured twice.")
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox]")).to_contain_text("Call by radio.")
    assert "Signed like this it holds Line 1" in said[-1]
    # It does not come back: what the server would have asked was asked here.
    hands.window.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("[data-outbox-sent] p")).to_have_count(1, timeout=15000)
    assert (Sheet.objects.get().verdict, Finding.objects.get().key) == ("withdraw", SPRING)


@pytest.mark.slow
def test_a_ride_without_a_signal_is_judged_by_the_phone_too(at_sheet: Hands) -> None:
    hands = at_sheet
    hands.go("ride", hands.w.line.pk, read=False)
    hands.window.set_offline(True)
    picture = make.picture(hands.w, timezone.now())
    items = ride_items(picture, picture.setup.places[hands.w.line.pk])
    key = next(one["key"] for one in items if one["measures"] == "stroke.used")
    travel = typed(hands, key, "2.40")
    expect(travel.locator(".mark")).to_have_text("OK")
    typed(hands, key, "7.2")
    expect(travel.locator("[data-ask]")).to_contain_text(
        "out of service when you sign. Without a signal nobody is told by that: say it by radio."
    )
    expect(travel.locator("[data-answer]")).to_contain_text(BY)
