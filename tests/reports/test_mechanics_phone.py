"""What if, on a phone: the answer follows the keys without a mouse, and comes without script too."""

from __future__ import annotations

import re
from collections.abc import Iterator
from copy import deepcopy
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from inspections.demo.mechanics import MECHANICS
from tests import make
from tests.conftest import PHONE
from tests.reports.test_history_phone import WIDTH, enter


@pytest.fixture
def w(transactional_db: None, morning: datetime) -> Iterator[SimpleNamespace]:
    with time_machine.travel(morning + timedelta(minutes=20), tick=True):
        w = make.ready(lines=1, on=morning)
        make.settle(w, "mechanics", deepcopy(MECHANICS[2]), place=w.line)
        yield w


def asked(w: SimpleNamespace) -> str:
    return reverse("reports:mechanics", args=[w.course.pk, w.line.pk]) + "?weight=90&wind=1&air=15&launch=1.5"


def arrival(page: Page) -> float:
    text = page.locator("#ride .figure", has_text="Arrival speed").locator(".figure__value").inner_text()
    return float(re.sub(r"[^0-9.]", "", text))


def test_answer_follows_the_keys(w: SimpleNamespace, phone: BrowserContext, live_server: Any) -> None:
    page = enter(phone, live_server, w.technician)
    page.goto(asked(w))
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDTH
    before = arrival(page)
    slide = page.get_by_label("Head wind in m/s, by moving")
    assert slide.input_value() == "1"

    for _ in range(20):
        slide.press("ArrowRight")
    expect(page.locator("#id_wind")).to_have_value("3")
    expect(page).to_have_url(re.compile(r"wind=3(&|$)"))
    expect(page.locator("#given")).to_contain_text("3.0 m/s head wind")

    assert arrival(page) < before
    assert page.locator("[data-whatif-short]").inner_text() == page.locator("#ride").get_attribute("data-short")
    assert page.get_by_role("status").inner_text() == page.locator("#ride").get_attribute("data-short")
    page.reload()
    assert page.locator("#id_wind").input_value() == "3"


def test_impossible_figure_takes_the_answer_away(w: SimpleNamespace, phone: BrowserContext, live_server: Any) -> None:
    page = enter(phone, live_server, w.technician)
    page.goto(asked(w))
    page.locator("#id_weight").fill("400")
    page.locator("#id_weight").blur()
    expect(page.locator("[data-whatif-all]")).to_contain_text("Rider weight: From 25 to 150 kg.")
    expect(page.locator(".chart__svg, .map__svg, .figure")).to_have_count(0)
    page.locator("#id_weight").fill("80")
    page.locator("#id_weight").blur()
    expect(page.locator(".map__svg")).to_have_count(1)


def test_no_answer_leaves_nothing_of_other_figures(w: SimpleNamespace, phone: BrowserContext, live_server: Any) -> None:
    page = enter(phone, live_server, w.technician)
    page.goto(asked(w))
    phone.set_offline(True)
    page.get_by_label("Emergency brake alone").check()
    expect(page.locator("[data-whatif-all]")).to_have_text("No answer. What stood here was of other figures.")


def test_without_script_the_form_asks(w: SimpleNamespace, open_window: Any, live_server: Any) -> None:
    page = enter(open_window({**PHONE, "java_script_enabled": False}), live_server, w.technician)
    page.goto(asked(w))
    assert page.locator("input[type=range]").first.is_hidden()
    page.locator("#id_weight").fill("70")
    page.get_by_role("button", name="Compute").tap()
    page.wait_for_url(re.compile("weight=70"))
    assert page.locator("#id_weight").input_value() == "70"
    assert page.locator(".map__svg").count() == 1
