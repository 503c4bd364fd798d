"""Signing and reading on a phone: nothing is wider than the screen, and the day is signed with a thumb."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.test import Client
from django.urls import reverse
from playwright.sync_api import BrowserContext

from courses.models import Component
from inspections.models import SignOff
from tests import make

WIDTH = 390


@pytest.fixture
def w(transactional_db: None, morning: datetime) -> Iterator[SimpleNamespace]:
    """The course of ``make.inspected`` at minute 20 of its morning; the clock runs, because a browser waits."""
    with time_machine.travel(morning + timedelta(minutes=20), tick=True):
        yield make.inspected(lines=1, on=morning)


def enter(window: BrowserContext, live_server: Any, person: Any) -> Any:
    client = Client()
    client.force_login(person)
    name = settings.SESSION_COOKIE_NAME
    window.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])
    return window.new_page()


@pytest.mark.slow
def test_the_day_is_signed_and_read_on_a_phone(w: SimpleNamespace, phone: BrowserContext, live_server: Any) -> None:
    page = enter(phone, live_server, w.manager)
    page.goto(reverse("reports:sign", args=[w.course.pk]))
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDTH
    page.locator(".switch__part.is-open").first.tap()
    page.fill("input[name=password]", make.WORD)
    page.locator("button[form=sign]").tap()
    page.wait_for_url("**/history/day/**")

    signed = SignOff.objects.get(day__course=w.course)
    assert signed.lines[str(w.line.pk)]["decision"] == "open"
    assert page.get_by_role("link", name="Day sheet (PDF)").is_visible()
    component = Component.objects.get(course=w.course, kind="cable")
    for name, more in (
        ("calendar", []),
        ("day", [signed.day.date]),
        ("day_sheets", []),
        ("components", []),
        ("component", [component.pk]),
        ("exports", []),
    ):
        page.goto(reverse(f"reports:{name}", args=[w.course.pk, *more]))
        assert page.evaluate("document.documentElement.scrollWidth") <= WIDTH, name
