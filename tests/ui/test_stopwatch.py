"""The stopwatch under the thumb: the time between two taps goes into the first empty field, by keyboard too."""

import pytest
from playwright.sync_api import expect

from tests.ui.page import draw, show

pytestmark = pytest.mark.usefixtures("collected_static")

PAGE = """
{% extends "base.html" %}{% load static %}
{% block main %}<form data-stopwatch data-words-start="Tap as you strike" data-words-stop="Tap at the last return">
<div data-stopwatch-box hidden><p data-stopwatch-time>0.00 s</p>
<button type="button" data-stopwatch-tap>Tap as you strike</button></div>
{% for n in "123" %}<label>Time {{ n }} <input name="time"></label>{% endfor %}</form>{% endblock main %}
{% block scripts %}<script type="module" src="{% static 'js/stopwatch.mjs' %}"></script>{% endblock scripts %}
"""


def times(page) -> list[str]:
    return [one.input_value() for one in page.locator("[name=time]").all()]


def test_two_taps_make_one_time_and_two_more_the_next(phone):
    page = show(phone, draw(PAGE))
    page.get_by_label("Time 1").fill("15.07")

    page.get_by_role("button", name="Tap as you strike").tap()
    page.wait_for_timeout(400)
    assert times(page) == ["15.07", "", ""]
    page.get_by_role("button", name="Tap at the last return").tap()

    first, second, third = times(page)
    assert (first, third) == ("15.07", "")
    assert 0.35 <= float(second) <= 3.0
    expect(page.locator("[data-stopwatch-time]")).to_have_text(f"{second} s")
    expect(page.get_by_role("button", name="Tap as you strike")).to_be_visible()


def test_a_key_counts_once_however_long_it_is_held(desk):
    page = show(desk, draw(PAGE))
    page.get_by_role("button", name="Tap as you strike").focus()

    page.keyboard.down("Space")
    page.keyboard.down("Space")  # the browser repeats a held key
    page.keyboard.up("Space")
    assert times(page) == ["", "", ""]
    page.keyboard.press("Enter")

    assert float(times(page)[0]) >= 0
    assert times(page)[1:] == ["", ""]
