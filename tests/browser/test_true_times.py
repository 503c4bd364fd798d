"""A phone whose clock is wrong, without a signal: what it asks, what it signs, and at what time that counts.

The rules are ours (accounts.clock); there is no outside source for them.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from django.templatetags.static import static
from django.utils import timezone
from playwright.sync_api import BrowserContext, expect

from inspections.models import Ride, Sheet
from ledger.models import Entry
from tests import make
from tests.browser.alone import again, fill_in, until, with_key
from tests.browser.hands import Hands
from tests.conftest import PHONE
from tests.said import Said

pytestmark = pytest.mark.django_db(transaction=True)
DAYS = timedelta(days=3, hours=2)


@pytest.fixture
def hands(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    """The technician with a key on a phone whose clock stands three days and two hours behind."""
    hands = with_key(w, open_window(PHONE))
    hands.window.clock.set_fixed_time(timezone.now() - DAYS)
    return hands


def test_a_ride_without_a_signal_counts_at_its_true_time(hands: Hands) -> None:
    w, page = hands.w, hands.page
    make.inspect(w, at=w.at)
    before = Ride.objects.count()
    hands.go("ride", w.line.pk, read=False)
    known = "async (script) => (await import(script)).offset()"
    until(page, lambda: page.evaluate(known, static("js/clock.mjs")))
    hands.window.set_offline(True)
    hands.enter_ride("500")
    page.locator("[name=wind]").fill("30")
    said = Said(hands.page, typed="30,0 m/s")
    sign = page.get_by_role("button", name="Sign this test ride")
    sign.tap()
    until(page, lambda: said)
    assert "500 is far from the posted 35 kg to 115 kg." in said[0]
    assert page.locator("[data-outbox] li").count() == 0
    page.locator("[name=mass]").fill("115")
    sign.tap()
    expect(page.locator("[data-outbox] li")).to_have_count(1)
    assert any("30 is above the 9 m/s of this line and holds it." in one for one in said[1:])
    hour = f"{timezone.now().astimezone(w.course.zone):%H}:"
    expect(page.locator("[data-outbox-sum]")).to_contain_text(f", signed at {hour}")
    expect(page.get_by_role("button", name="Sign this test ride", disabled=True)).to_have_count(1)
    hands.window.set_offline(False)
    again(page)
    until(page, lambda: Ride.objects.count() == before + 1)
    expect(page.locator("[data-outbox-sent]")).to_contain_text(f"Received at {hour}")
    ride, record = Ride.objects.latest("seq"), Entry.objects.filter(kind="ride").latest("seq").record
    assert ride.fields["wind_again"] == "30,0 m/s"
    assert abs(timezone.now() - ride.rode_at) < timedelta(minutes=1)
    assert record["judged"]["true_at"] != record["act"]["made_at"]
    assert abs(record["act"]["clock"]["offset_s"] - DAYS.total_seconds()) < 60
    call_command("verify_ledger")


@pytest.mark.slow
def test_a_clock_that_was_never_measured_is_asked_about_and_marked(hands: Hands) -> None:
    w, page = hands.w, hands.page
    page.route("**/phone/hello/", lambda route: route.abort())
    hands.window.clock.set_fixed_time(timezone.now() - DAYS)
    page.evaluate("indexedDB.deleteDatabase('lineworthy-clock')")
    hands.go("sheet", w.line.pk, "cable", read=False)
    hands.window.set_offline(True)
    fill_in(hands, "cable")
    said = Said(hands.page)
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox] li")).to_have_count(1)
    assert said[0].startswith("This phone's clock says 12 June 2026")
    assert said[0].endswith("this page is of 15 June 2026. Is it the day of this page?")
    page.unroute("**/phone/hello/")
    hands.window.set_offline(False)
    again(page)
    until(page, Sheet.objects.exists)
    record = Entry.objects.filter(kind="sheet").latest("seq").record
    assert record["act"]["date"] == "2026-06-15"
    assert "true_at" not in record["judged"]
    assert "clock" not in record["act"]
    page.goto(f"/course/{w.course.pk}/signed/{Sheet.objects.get().pk}/")
    expect(page.locator("main")).to_contain_text("This phone's clock was never compared, so")
