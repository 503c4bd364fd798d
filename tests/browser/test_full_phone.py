"""What is held on a phone that is full, or since yesterday: it goes, or it stays; nothing of it is lost on the way.

What a browser throws where there is no room, QuotaExceededError: Storage Standard and Indexed Database API 3.0 (from
memory).
"""

from __future__ import annotations

import json
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.templatetags.static import static
from playwright.sync_api import BrowserContext, Page, expect

from inspections.models import Hold
from tests.browser.alone import again, fill_in, until, with_key
from tests.browser.hands import Hands
from tests.conftest import PHONE
from tests.said import Said

pytestmark = pytest.mark.django_db(transaction=True)
HELD = "async (script) => (await (await import(script)).held()).map((one) => one.title)"
HOLDS = "async ([script, deed]) => (await import(script)).hold(deed)"
FULL = """() => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...given) {
    if (this.name === "deeds") throw new DOMException("full", "QuotaExceededError");
    return put.apply(this, given);
  };
}"""


@pytest.fixture
def hands(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    return with_key(w, open_window(PHONE))


PHOTOS = "async (script) => (await (await import(script)).photosHeld()).map((one) => one.title)"
# The first photo of two alone has arrived and is being taken out: its bytes are looked at, and that takes its time.
SLOW = """() => {
  const digest = (window.digest = crypto.subtle.digest.bind(crypto.subtle));
  const fetched = window.fetch.bind(window);
  window.taking = 0;
  window.fetch = async (address, options) => {
    if (!String(address).endsWith("/photo/")) return fetched(address, options);
    if (window.arrived) return Response.json({});
    window.arrived = true;
    return Response.json({ sha256: options.body.get("sha256") });
  };
  crypto.subtle.digest = async (...given) => {
    if (window.arrived) {
      window.taking += 1;
      await new Promise((done) => (window.goOn = done));
    }
    return digest(...given);
  };
}"""


def titles(page: Page) -> list[str]:
    return list(page.evaluate(HELD, static("js/held.mjs")))


def put(on: Page, **deed: Any) -> None:
    """Hold a deed that was signed here before."""
    same = {"typed": [], "fields": [], "tried": True, "refused": "", "order": 0, "made_at": "2026-06-14T06:14:00Z"}
    on.evaluate(HOLDS, [static("js/held.mjs"), same | deed])


def test_a_full_phone_sends_and_what_cannot_go_holds_up_no_hold(hands: Hands) -> None:
    w, page = hands.w, hands.go("walk", read=False)
    hands.window.set_offline(True)
    page.locator(".stop > summary").tap()
    page.get_by_role("button", name="Person on Line 1").tap()
    until(page, lambda: len(titles(page)) == 1)
    # Before it one whose photo the phone has lost.
    put(page, id="d-0", ref=w.technician.ref, kind="hold", title="Before", page="/", act="{}", fields=[["photo", None]])
    page.evaluate(FULL)
    hands.window.set_offline(False)
    again(page)
    until(page, Hold.objects.exists)
    until(page, lambda: titles(page) == ["Before"])


@pytest.mark.slow
def test_what_was_not_taken_yesterday_stays_when_today_is_signed(hands: Hands) -> None:
    w, page = hands.w, hands.go("sheet", hands.w.line.pk, "cable", read=False)
    path = page.evaluate("location.pathname")
    old = {"ref": w.technician.ref, "kind": "sheet", "page": path, "refused": "This was signed too long ago."}
    put(page, **old, id="d-1", title="Of yesterday", act='{"date":"2026-06-14"}')
    put(page, **old, id="d-2", title="Of today", act='{"date":"2026-06-15"}')
    key = page.locator("[data-item]").first.get_attribute("data-item") or ""
    asked, gone = ({"date": "2026-06-15", "readings": [{"key": one}]} for one in (key, "TA-99@gone"))
    put(page, **old, id="d-3", title="Asked again", act=json.dumps(asked))
    put(page, **old, id="d-4", title="Not asked any more", act=json.dumps(gone))
    hands.window.set_offline(True)
    fill_in(hands, "cable")
    page.get_by_role("button", name="Sign sheet").tap()
    until(page, lambda: "Of today" not in titles(page))
    # What the page does not ask any more is in no sheet: a defect would go with it.
    until(page, lambda: {"Of yesterday", "Not asked any more"} <= set(titles(page)) and len(titles(page)) == 3)


@pytest.mark.slow
def test_a_photo_that_was_discarded_is_not_put_back_by_the_one_beside_it(hands: Hands) -> None:
    w, page = hands.w, hands.go("walk", read=False)
    page.evaluate(SLOW)
    hands.window.set_offline(True)
    page.evaluate(
        "async ([script, deed]) => (await import(script)).hold({ ...deed, fields: [1, 2].map((one) => "
        "['photo', { name: `${one}.jpg`, type: 'image/jpeg', bytes: new Uint8Array([one]).buffer }]) })",
        [static("js/held.mjs"), photographed(w)],
    )
    again(page)
    page.get_by_text("Photos still to be sent").tap()
    discard = page.get_by_role("button", name="Discard its photos")
    expect(discard).to_be_visible()
    hands.window.set_offline(False)
    again(page)
    until(page, lambda: page.evaluate("window.taking"))
    Said(page)
    discard.tap()
    page.wait_for_timeout(300)
    page.evaluate("() => { window.crypto.subtle.digest = window.digest; window.goOn(); }")
    until(page, lambda: page.evaluate(PHOTOS, static("js/held.mjs")) == [])
    page.wait_for_timeout(300)
    assert page.evaluate(PHOTOS, static("js/held.mjs")) == []


def photographed(w: SimpleNamespace) -> dict[str, Any]:
    """Return a sheet that was received, without its photos."""
    return {
        "id": "d-3", "ref": w.technician.ref, "kind": "sheet", "title": "Cable", "page": "/", "order": 1, "typed": [],
        "act": json.dumps({"course": str(w.course.pk)}), "received": 7, "refused": "", "tried": True,
        "made_at": "2026-06-15T06:14:00Z",
    }  # fmt: skip
