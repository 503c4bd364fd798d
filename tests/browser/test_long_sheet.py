"""A long sheet on a phone: a tap is shown before anything else is done about it, and only what is near is drawn.

How many milliseconds it takes is measured in tests/bench/offline.py; here it is held to what that rests on. That an
element left out of drawing stays findable, reachable and printed: CSS Containment Level 2, content-visibility (from
memory).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Locator, Request, Route, expect

from inspections.models import Draft, Finding
from tests.browser.alone import until
from tests.browser.hands import SAVED, Hands
from tests.browser.test_phone_verdicts import at_sheet as at_sheet
from tests.browser.test_phone_verdicts import item
from tests.inspections.test_photos import jpeg

pytestmark = pytest.mark.django_db(transaction=True)
LOOK = "TA-06@end-landing"

# What a tap sets going, in its order: a layout that is forced, words that are drawn, a write to the phone, the frame,
# what is sent.
NOTED = """(element) => {
  window.noted = [];
  const on = (owner, name, what) => {
    const own = owner[name];
    owner[name] = function (...given) { window.noted.push(what); return own.apply(this, given); };
  };
  on(Element.prototype, "getBoundingClientRect", "layout");
  on(IDBFactory.prototype, "open", "phone");
  on(IDBDatabase.prototype, "transaction", "phone");
  on(window, "fetch", "sent");
  const drawn = new MutationObserver(() => window.noted.push("drawn"));
  drawn.observe(document.body, { childList: true, characterData: true, subtree: true });
  document.addEventListener("change", () => {
    window.noted = [];
    requestAnimationFrame(() => window.noted.push("frame"));
  }, true);
}"""
HEIGHTS = "() => [...document.querySelectorAll('.item')].map((one) => one.getBoundingClientRect().height)"
DRAWN = "(one) => one.checkVisibility({ contentVisibilityAuto: true })"


def laid_out(hands: Hands) -> Locator:
    expect(hands.page.locator("form.is-laid-out")).to_be_visible()
    return hands.page.locator("form.sheet")


def test_a_tap_is_shown_and_kept_before_it_is_sent(at_sheet: Hands) -> None:
    laid_out(at_sheet)
    at_sheet.page.evaluate(NOTED)
    item(at_sheet, LOOK).locator("label:has(input[value=sound])").tap()
    at_sheet.page.wait_for_function("() => ['frame', 'sent'].every((one) => window.noted.includes(one))")
    noted = at_sheet.page.evaluate("window.noted")
    shown = noted.index("frame")
    assert noted[:shown] == []
    assert noted.index("phone") < noted.index("sent")
    assert "drawn" in noted


def test_an_answer_that_stands_goes_with_the_tap_that_makes_it_old(at_sheet: Hands) -> None:
    laid_out(at_sheet)
    item(at_sheet, LOOK).locator("label:has(input[value=sound])").tap()
    expect(item(at_sheet, LOOK).locator("[data-answer] .is-ok")).to_be_visible()
    old = item(at_sheet, LOOK).evaluate(
        "(one) => (one.querySelector('[value=defect]').click(), one.querySelectorAll('[data-answer] .is-ok').length)"
    )
    assert old == 0


def test_a_tap_that_is_not_sent_yet_holds_the_page_and_two_of_one_moment_are_sent_once(at_sheet: Hands) -> None:
    laid_out(at_sheet)
    asks = """(one) => {
      for (const answer of ["sound", "defect"]) one.querySelector(`[value=${answer}]`).click();
      return !dispatchEvent(new Event("beforeunload", { cancelable: true }));
    }"""
    posts: list[str] = []

    def note(sent: Request) -> None:
        if sent.method == "POST" and "/sheet/" in sent.url:
            posts.append(sent.post_data or "")

    at_sheet.page.on("request", note)
    assert item(at_sheet, LOOK).evaluate(asks)
    expect(item(at_sheet, LOOK).locator("[data-ask]")).to_be_visible()
    expect(at_sheet.page.locator("[data-saved]")).to_have_text(SAVED)
    assert len(posts) == 1, posts
    assert "defect" in posts[0]


def test_a_photo_that_is_slow_to_go_holds_up_no_answer(at_sheet: Hands, tmp_path: Path) -> None:
    """At the edge of a signal a photo takes minutes; what is defect is out of service at once all the same."""
    slow: list[Route] = []

    def answer(route: Route) -> None:
        if b'filename="' in (route.request.post_data_buffer or b""):
            slow.append(route)
        else:
            route.continue_()

    at_sheet.page.route("**/sheet/**", answer)
    one = item(at_sheet, LOOK)
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((800, 600)))
    one.locator("input[type=file]").set_input_files(photo)
    one.locator("label:has(input[value=defect])").tap()
    one.locator("[data-ask]").get_by_role("button", name="Out of service").tap()
    until(at_sheet.page, lambda: Finding.objects.exists())
    expect(one.locator(".mark")).to_have_text("Out of service")
    expect(one.locator("canvas")).to_have_count(1)
    expect(at_sheet.page.locator("[data-saved]")).not_to_have_text(SAVED)
    assert not Draft.objects.get().content[LOOK].get("photos")
    for route in slow:
        route.continue_()
    at_sheet.page.unroute_all()
    expect(at_sheet.page.locator("[data-saved]")).to_have_text(SAVED)
    expect(one.locator("canvas")).to_have_count(0)
    expect(one.locator("[data-photos] img")).to_have_count(1)
    [answered] = Draft.objects.values_list("content", flat=True)
    assert (answered[LOOK]["mark"], len(answered[LOOK]["photos"])) == ("defect", 1)


def test_what_is_far_is_not_drawn_and_nothing_moves_by_it(at_sheet: Hands) -> None:
    form = laid_out(at_sheet)
    page = at_sheet.page
    page.evaluate("scrollTo(0, 0)")
    changed = page.locator(".item:has(input[value=defect])").last
    far = changed.locator(".item__question")
    page.wait_for_function(f"(one) => !({DRAWN})(one)", arg=far.element_handle())
    left_out = page.evaluate(HEIGHTS)
    form.evaluate("(one) => one.classList.remove('is-laid-out')")
    assert page.evaluate(HEIGHTS) == left_out
    form.evaluate("(one) => one.classList.add('is-laid-out')")
    page.wait_for_function(f"(one) => !({DRAWN})(one)", arg=far.element_handle())
    # It is printed, and it is reached by the keyboard.
    page.emulate_media(media="print")
    assert far.evaluate(DRAWN)
    page.emulate_media(media="screen")
    changed.locator("input[value=defect]").focus()
    expect(far).to_be_in_viewport()


def test_what_changes_where_nothing_is_drawn_has_its_height_at_once(at_sheet: Hands) -> None:
    """As an answer that comes late: who scrolls there finds it where it is."""
    laid_out(at_sheet)
    page = at_sheet.page
    page.evaluate("scrollTo(0, 0)")
    changed = page.locator(".item:has(input[value=defect])").last
    far = changed.locator(".item__question").element_handle()
    page.wait_for_function(f"(one) => !({DRAWN})(one)", arg=far)
    before = sum(page.evaluate(HEIGHTS))
    changed.locator("input[value=cannot_check]").evaluate("(one) => one.click()")
    expect(changed.locator("[data-answer] .item__need").first).to_be_attached()
    page.wait_for_function(f"(before) => ({HEIGHTS})().reduce((sum, one) => sum + one) > before", arg=before)
    page.wait_for_function(f"(one) => !({DRAWN})(one)", arg=far)
    page.wait_for_function(f"(before) => ({HEIGHTS})().reduce((sum, one) => sum + one) > before", arg=before)
