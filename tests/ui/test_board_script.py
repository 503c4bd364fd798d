"""The board that refreshes itself: it stays where one is, and never looks newer than it is."""

import re

import pytest
from playwright.sync_api import expect

from tests.ui.page import draw, show

pytestmark = pytest.mark.usefixtures("collected_static")

BOARD = """
{% extends "base.html" %}{% load static %}
{% block main %}{% include "ui/_refreshed.html" with time="06:00:00" only %}
<div data-refresh="/test-board/" data-every="1">{{ inside|safe }}</div><p class="long"></p>{% endblock main %}
{% block scripts %}<script type="module" src="{% static 'js/board.mjs' %}"></script>{% endblock scripts %}
"""


def inside(state):
    return draw(
        """<ol class="board">{% for number in numbers %}
        {% include "ui/_board_row.html" with number=number name="Line" url="/line/" state=state done=1 of=9 only %}
        {% endfor %}</ol><details id="more"><summary>More</summary>Words</details><a href="/there/">There</a>""",
        state=state,
        numbers=range(1, 13),
    )


@pytest.fixture
def board(desk):
    return show(desk, draw(BOARD, inside=inside("ready")))


def reply(page, body, **keywords):
    page.unroute("**/test-board/")
    headers = {"Content-Type": "text/html", "X-Lineworthy-Person": "p-1"}
    page.route("**/test-board/", lambda route: route.fulfill(body=body, headers=headers, **keywords))


def test_it_refreshes_and_says_when(board):
    reply(board, inside("held"))

    expect(board.locator("#line-1 .mark")).to_have_text("Held")
    expect(board.locator("[data-refreshed]")).to_have_text(
        re.compile(r"^As of \d\d:\d\d:\d\d\. Refreshes by itself\.$")
    )


def test_focus_scroll_and_open_details_stay(board):
    reply(board, inside("ready"))
    board.get_by_text("More").click()
    board.get_by_role("link", name="There").focus()
    board.evaluate("window.scrollTo(0, 300)")
    reply(board, inside("held"))

    expect(board.locator("#line-1 .mark")).to_have_text("Held")

    expect(board.get_by_role("link", name="There")).to_be_focused()
    expect(board.locator("#more")).to_have_attribute("open", "")
    assert board.evaluate("window.scrollY") == 300


def test_an_old_board_says_that_it_is_old(board):
    board.route("**/test-board/", lambda route: route.abort())
    line = board.locator("[data-refreshed]")

    expect(line).to_contain_text("this may be out of date", timeout=10_000)
    expect(line).to_have_attribute("role", "alert")
    expect(board.locator("#line-1 .mark")).to_have_text("Ready")
    # Wherever one looks at it, and its marks have not the tone of now.
    board.evaluate("window.scrollTo(0, 300)")
    expect(line).to_be_in_viewport()
    tone = "(one) => getComputedStyle(one).color"
    assert board.locator("#line-1 .mark").evaluate(tone) == board.locator(".long").evaluate(
        "() => { const one = document.createElement('i'); one.style.color = 'var(--ink-2)'; document.body.append(one);"
        " return getComputedStyle(one).color; }"
    )

    reply(board, inside("held"))
    expect(line).to_contain_text("Refreshes by itself")
    expect(board.locator("html")).not_to_have_attribute("data-stale", "")
    assert board.locator("#line-1 .mark").evaluate(tone) != board.locator(".refreshed").evaluate(tone)
    expect(board.locator("#line-1 .mark")).to_have_text("Held")


def test_without_a_network_it_says_so_at_once(desk):
    board = show(desk, draw(BOARD.replace('data-every="1"', 'data-every="60"'), inside=inside("ready")))
    expect(board.locator("[data-refreshed]")).to_contain_text("Refreshes by itself")

    board.evaluate("window.dispatchEvent(new Event('offline'))")

    expect(board.locator("[data-refreshed]")).to_contain_text("this may be out of date")


def test_a_log_in_page_never_takes_the_boards_place(board):
    board.route("**/test-board/", lambda route: route.fulfill(status=302, headers={"Location": "/people/login/"}))

    expect(board.locator("[data-refreshed]")).to_contain_text("You are logged out")
    expect(board.locator("#line-1 .mark")).to_have_text("Ready")


def test_what_arrived_from_this_phone_is_on_the_board_at_once(desk):
    board = show(desk, draw(BOARD.replace('data-every="1"', 'data-every="60"'), inside=inside("ready")))
    reply(board, inside("held"))

    board.evaluate("new BroadcastChannel('lineworthy-outbox').postMessage({ what: 'received', id: '', page: '' })")

    expect(board.locator("#line-1 .mark")).to_have_text("Held")
