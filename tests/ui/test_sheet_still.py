"""Nothing moves under a finger: a tap that comes right after a figure hits what it was aimed at.

The contract is templates/ui/README.md, "Autosave"; that targets must not move is common practice, no source.
"""

import pytest
from playwright.sync_api import Page, expect

from tests.ui.page import answer_json, draw, show
from tests.ui.test_sheet_script import ITEMS, SHEET, answer

pytestmark = pytest.mark.usefixtures("collected_static")

LONG = {
    "sentence": "33 mm is within the limit (at most 40 mm, nine tenths of the nominal size as delivered).",
    "clause": "Maker's manual, part 4, table 4.2",
    "last": "31 mm on 14 June",
    "difference": "+2 mm",
}
DOUBT = {"sentence": "Ten times the usual figure.", "keep": "330"}


@pytest.fixture
def sheet(phone) -> Page:
    """A figure first, then a mark, then enough more that the page can scroll."""
    hook, gap = ITEMS
    more = [{**hook, "key": f"more-{n}", "answer_name": f"more-{n}", "note_name": ""} for n in range(6)]
    return show(phone, draw(SHEET, items=[gap, hook, *more]))


def place_of(page: Page, key: str, value: str) -> tuple[float, float]:
    box = page.locator(f"[data-item={key}] .switch__part:has(input[value={value}])").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.mark.parametrize("said", [LONG, {"ask": DOUBT, "verdict": "unknown", "word": "Not checked"}])
def test_the_tap_right_after_a_figure_counts_and_nothing_moves(sheet: Page, said: dict) -> None:
    answer_json(
        sheet, "/test-save/", lambda fields: answer(fields["item"], **(said if fields["item"] == "gap" else {}))
    )
    sheet.get_by_label("Gap", exact=True).press_sequentially("33")
    aimed = place_of(sheet, "hook", "sound")

    sheet.touchscreen.tap(*aimed)

    expect(sheet.locator("[data-item=hook] input[value=sound]")).to_be_checked()
    expect(sheet.locator("[data-item=gap] [data-answer] .mark")).to_be_visible()
    expect(sheet.locator("[data-item=hook] [data-answer] .mark")).to_be_visible()
    assert place_of(sheet, "hook", "sound") == pytest.approx(aimed, abs=1)
    sheet.touchscreen.tap(*place_of(sheet, "hook", "defect"))
    expect(sheet.locator("[data-item=hook] input[value=defect]")).to_be_checked()


def test_the_usual_verdict_of_a_figure_takes_no_more_room_than_was_kept_for_it(sheet: Page) -> None:
    usual = {**LONG, "sentence": "33 mm is within the limit (at most 40 mm)."}
    answer_json(sheet, "/test-save/", lambda fields: answer("gap", **usual))
    item = sheet.locator("[data-item=gap]")
    before = item.bounding_box()["height"]

    sheet.get_by_label("Gap", exact=True).fill("33")
    sheet.get_by_label("Gap", exact=True).blur()

    expect(item.locator(".item__last")).to_be_visible()
    assert item.bounding_box()["height"] == before


def test_the_verdict_of_a_sound_item_takes_no_more_room_than_was_kept_for_it(sheet: Page) -> None:
    clauses = "29 CFR 1926.1413(a)(2)(i)(E); Cal. 8 CCR 5036(a)(1)(E); energy-absorbing line brake, maker's manual"
    answer_json(sheet, "/test-save/", lambda fields: answer("hook", sentence="Found sound.", clause=clauses))
    item = sheet.locator("[data-item=hook]")
    before = item.bounding_box()["height"]

    sheet.touchscreen.tap(*place_of(sheet, "hook", "sound"))

    expect(item.locator("[data-answer] .mark")).to_be_visible()
    assert item.bounding_box()["height"] == before


def test_a_figure_typed_anew_takes_no_field_away_from_the_finger(phone) -> None:
    """Aimed at while the box of what was asked back was still open above it."""
    hook, gap = ITEMS
    more = [{**hook, "key": f"more-{n}", "answer_name": f"more-{n}", "note_name": ""} for n in range(6)]
    other = {**gap, "key": "other", "figure_name": "other", "figure_label": "Other", "note_name": ""}
    page = show(phone, draw(SHEET, items=[hook, gap, other, *more]))
    asks = {"ask": DOUBT, "verdict": "unknown", "word": "Not checked"}
    answer_json(
        page, "/test-save/", lambda fields: answer(fields["item"], **(asks if "330" in fields.values() else {}))
    )
    first, second = (page.locator(f"[data-item={key}] input[inputmode]") for key in ("gap", "other"))
    first.fill("330")
    first.blur()
    expect(page.locator("[data-ask]")).to_be_visible()

    first.tap()
    page.locator("[data-item=gap]").evaluate("one => one.scrollIntoView({ block: 'start' })")
    aimed = second.bounding_box()
    assert aimed is not None
    first.select_text()
    page.keyboard.type("33")
    expect(page.locator("[data-ask]")).to_have_count(0)
    page.touchscreen.tap(aimed["x"] + 20, aimed["y"] + aimed["height"] / 2)
    page.keyboard.type("12")

    expect(second).to_have_value("12")
    expect(first).to_have_value("33")
    expect(page.locator("[data-item=gap] [data-answer] .mark")).to_be_visible()
    expect(page.locator(".ask")).to_have_count(0)
    # The browser itself keeps what is typed into clear of the bar, by a few lines' width at most.
    assert second.bounding_box()["y"] == pytest.approx(aimed["y"], abs=20)
