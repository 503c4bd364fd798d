"""Cold, gloved and in a hurry on a phone: nothing that matters is small, close to its opposite, or cut off.

48 px and 12 px apart are the project's own measure; that targets are large and apart is common practice, no source.
"""

from types import SimpleNamespace
from uuid import uuid4

import pytest
from playwright.sync_api import Locator, expect

from tests.ui.page import draw, show

pytestmark = pytest.mark.usefixtures("collected_static")

LARGE, APART = 48, 12
PAGE = """{% extends "base.html" %}{% block main %}<form class="sheet" id="sheet">{% for item in items %}
{% include "ui/_item.html" with item=item only %}{% endfor %}</form>
{% include "inspections/_out.html" %}{% endblock main %}
{% block bottom_bar %}<section class="bar" aria-label="Sheet"><div class="bar__inner">
{% include "inspections/_stop.html" %}<button class="button button--primary">Sign sheet</button></div></section>
{% endblock bottom_bar %}"""
NAME = "The Fernhollow and Upper Quarry Edge Adventure Zip Lines"


@pytest.fixture
def page(phone):
    line = SimpleNamespace(pk=uuid4(), number=1)
    items = [
        {"key": f"i{n}", "question": "Is it whole?", "answer_name": f"a{n}", "note_name": f"n{n}",
         "photo_name": f"p{n}", "withdraw_value": f"i{n}", "drawing": "lay", "detail": "Look at it."}
        for n in range(5)
    ]  # fmt: skip

    class Course(SimpleNamespace):
        def __str__(self) -> str:
            return NAME

    rights = {"hold", "withdraw"}
    return show(phone, draw(PAGE, items=items, course=Course(pk=uuid4()), rights=rights, lines=[line], stop_line=line))


def box(what: Locator) -> dict[str, float]:
    found = what.bounding_box()
    assert found is not None
    return found


def test_holding_and_taking_out_of_service_are_large_apart_and_unlike(page):
    out = page.get_by_role("button", name="Take out of service until it is released").nth(2)
    hold = page.locator(".stop > summary")
    # The worst that scrolling can do: the item's button just above the bar.
    page.evaluate(
        "([out, bar]) => window.scrollBy(0, out.getBoundingClientRect().bottom - bar.getBoundingClientRect().top)",
        [out.element_handle(), page.locator(".bar").element_handle()],
    )

    above, below = box(out), box(hold)

    assert min(above["height"], below["height"], below["width"]) >= LARGE
    assert below["y"] - (above["y"] + above["height"]) >= APART
    grounds = [one.evaluate("(e) => getComputedStyle(e).backgroundColor") for one in (out, hold)]
    assert grounds[0] == "rgba(0, 0, 0, 0)"
    assert grounds[1] not in {"rgba(0, 0, 0, 0)", "transparent"}


def test_within_an_item_everything_keeps_its_distance_from_taking_out_of_service(page):
    item = page.locator("[data-item=i1]")
    out = box(item.locator(".item__out"))
    for other in (item.locator(".photo"), item.locator(".item__note summary"), item.locator(".switch")):
        near = box(other)
        beside = out["x"] - (near["x"] + near["width"])
        above = out["y"] - (near["y"] + near["height"])
        assert max(beside, above) >= APART
        assert near["height"] >= LARGE


def test_the_menu_of_holds_lies_whole_above_the_bar_and_takes_nothing_out_of_service(page):
    page.locator(".stop > summary").tap()
    menu = page.locator(".stop__sheet")

    assert box(menu)["y"] + box(menu)["height"] <= box(page.locator(".bar"))["y"]
    for target in (*menu.get_by_role("button").all(), *menu.get_by_role("link").all()):
        assert box(target)["height"] >= LARGE
    expect(menu).not_to_contain_text("out of service")


def test_a_long_name_of_a_course_is_never_cut_off(page):
    name = page.locator(".top__course")

    expect(name).to_have_text(NAME)
    assert name.evaluate("(e) => e.scrollWidth <= e.clientWidth && e.scrollHeight <= e.clientHeight")
    assert name.evaluate("(e) => getComputedStyle(e).textOverflow") == "clip"
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
