"""The thunder clock: two taps tell how far it was, and the wait after the last thunder goes on through a new load.

Distances are held against R-502 (READ-2: 5 s to a mile of 1.6 km; derived from 343 m/s: 30 s are 10.3 km), the 30 s at
which one stops and the 30 minutes that new thunder starts again against R-501 (READ-2). That sound goes through air at
331.3 m/s at freezing and 0.606 m/s faster for each degree is common physics, from memory.
"""

import re
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest
from django.templatetags.static import static
from playwright.sync_api import expect

from tests.ui.page import draw, show

pytestmark = pytest.mark.usefixtures("collected_static")

PAGE = """
{% extends "base.html" %}{% load static %}
{% block main %}{% include "inspections/_thunder.html" with course=course thunder=thunder only %}
<form id="hold">
<select name="line"><option value=""></option><option value="l1">Line 1</option>
<option value="all">All</option></select>
<label><input type="radio" name="cause" value="gust"> Gust</label>
<label><input type="radio" name="cause" value="thunder"> Thunder</label></form>
<button type="submit" form="hold">Hold now</button>{% endblock main %}
{% block scripts %}<script type="module" src="{% static 'js/thunder.mjs' %}"></script>{% endblock scripts %}
"""
CLOCK = {"minutes": 45, "since": None, "over": None}
AT = "2026-06-15T08:42:00Z"


def opened(window, units="metric", at=AT, **more):
    window.clock.install(time=at)
    html = draw(PAGE, course=SimpleNamespace(pk="c1", units=units), thunder=CLOCK | more)
    page = show(window, html)
    if not page.locator("#thunder[open]").count():
        page.get_by_text("Thunder clock").tap()
    return page


def test_two_taps_tell_how_far_it_was_and_that_the_course_is_held(phone):
    page = opened(phone)
    page.get_by_role("button", name="Tap at the flash").tap()
    page.clock.run_for(15_000)
    page.get_by_role("button", name="Tap at the thunder").tap()

    said = page.locator("[data-thunder-said]").text_content()
    seconds, km = re.match(r"(\d+\.\d) s, about (\d+\.\d) km\. 30 seconds or less: hold the course", said).groups()
    assert 15.0 <= float(seconds) <= 16.0
    assert float(km) == pytest.approx(float(seconds) * 0.343, abs=0.1)
    expect(page.locator("[data-thunder-left-said]")).to_contain_text("The 45 minutes are over at")


def test_how_far_thirty_seconds_are_and_which_temperatures_air_has(phone):
    page = opened(phone)
    typed = [("0", False), ("-5,5", False), ("32", True), ("212", True), ("warm", False), ("", True), ("-41", False)]
    found = page.evaluate(
        """async ([script, typed]) => {
          const { celsiusOf, distanceKm } = await import(script);
          const km = distanceKm(30, celsiusOf("", false));
          return [km.toFixed(1), (km / 1.609344).toFixed(1), typed.map(([text, us]) => celsiusOf(text, us))]; }""",
        [static("js/thunder.mjs"), typed],
    )
    assert found == ["10.3", "6.4", [0, -5.5, 0, 20, 20, 20, 20]]


def test_far_away_is_no_all_clear_and_no_flash_is_reason_enough(phone):
    page = opened(phone)
    page.get_by_role("button", name="Tap at the flash").tap()
    page.clock.run_for(31_000)
    page.get_by_role("button", name="Tap at the thunder").tap()
    expect(page.locator("[data-thunder-said]")).to_contain_text("That is no all-clear")

    page.get_by_role("button", name="Thunder, no flash seen").tap()
    expect(page.locator("[data-thunder-said]")).to_have_text(
        "Thunder without a flash seen is enough: hold the course and bring everybody off."
    )


def test_new_thunder_starts_the_wait_again_and_it_goes_on_after_a_load(phone):
    page = opened(phone)
    left = page.locator("[data-thunder-left-said]")
    page.get_by_role("button", name="Thunder, no flash seen").tap()
    heard, over = re.search(r"thunder at (\S+)\. The 45 minutes are over at (\S+):", left.text_content()).groups()
    page.clock.run_for(20 * 60_000)
    expect(left).to_contain_text("25 minutes left")
    page.get_by_role("button", name="Thunder, no flash seen").tap()
    expect(left).to_contain_text("45 minutes left")
    assert heard not in left.text_content()
    assert f"over at {over}:" not in left.text_content()

    page.reload()
    expect(page.locator("#thunder")).to_have_attribute("open", "")
    expect(left).to_contain_text("45 minutes left")
    page.clock.run_for(45 * 60_000)
    expect(left).to_contain_text("That alone opens nothing.")


def test_of_a_hold_and_this_phone_the_later_thunder_counts(phone):
    since = datetime(2026, 6, 15, 8, 30, tzinfo=UTC)
    page = opened(phone, since=since, over=since + timedelta(minutes=45))
    left = page.locator("[data-thunder-left-said]")
    expect(left).to_contain_text("33 minutes left")
    page.get_by_role("button", name="Thunder, no flash seen").tap()
    expect(left).to_contain_text("45 minutes left")


def test_it_goes_by_the_servers_clock_as_far_as_the_phone_knows_it(phone):
    since = datetime(2026, 6, 15, 8, 45, tzinfo=UTC)  # the phone's clock says 08:42 and is ten minutes behind
    page = opened(phone, since=since, over=since + timedelta(minutes=45))
    page.evaluate(
        """async (script) => {
          const { measured } = await import(script);
          await measured(new Date(Date.now() + 600000).toISOString(), Date.now(), Date.now()); }""",
        static("js/clock.mjs"),
    )
    page.reload()
    expect(page.locator("[data-thunder-left-said]")).to_contain_text("38 minutes left")


def test_one_tap_chooses_thunder_and_sends_nothing(phone):
    page = opened(phone)
    assert page.locator("[name=cause]:checked").count() == 0

    page.get_by_role("link", name="Choose below: thunder, whole course").tap()

    assert page.locator("[name=cause][value=thunder]").is_checked()
    expect(page.locator("[name=line]")).to_have_value("all")
    assert page.locator("#thunder > summary").bounding_box()["height"] >= 48
    expect(page.get_by_role("button", name="Hold now")).to_be_focused()


def test_a_flash_without_thunder_is_forgotten(phone):
    page = opened(phone)
    page.get_by_role("button", name="Tap at the flash").tap()
    page.get_by_role("button", name="No thunder came").tap()

    expect(page.get_by_role("button", name="Tap at the flash")).to_be_visible()
    expect(page.locator("[data-thunder-left]")).to_be_hidden()
