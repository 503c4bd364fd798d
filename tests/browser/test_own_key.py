"""A phone makes a key, signs with it what is done there, and goes on without it once the key was ended."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, expect

from accounts.models import PersonKey
from inspections.models import Finding
from ledger import acts
from ledger.models import Entry
from tests import make
from tests.browser.hands import Hands
from tests.conftest import PHONE
from tests.said import Said


def keys_page(hands: Hands) -> Page:
    address = reverse("accounts:keys", args=[hands.w.operator.pk])
    hands.page.goto(address)
    hands.read_out("keys")
    return hands.page


def signature_of(w: SimpleNamespace, kind: str) -> tuple[dict[str, Any], Entry]:
    entry = Entry.objects.filter(log=w.operator.log, kind=kind).latest("seq")
    return entry.record.get("sig", {}), entry


@pytest.mark.django_db(transaction=True)
@pytest.mark.slow
def test_what_is_done_on_a_phone_is_signed_there(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = Hands(w, w.technician, open_window(PHONE)).log_in()
    page = keys_page(hands)
    expect(page.get_by_text("This device has no key in use.")).to_be_visible()
    page.get_by_label("Your password").fill("not the word")
    hands.send("Make a key on this device")
    assert not PersonKey.objects.exists()
    page.get_by_label("Your password").fill(make.WORD)
    hands.send("Make a key on this device")
    expect(page.get_by_text("This device has a key and signs with it.")).to_be_visible()
    expect(page.get_by_text("this device", exact=True)).to_be_visible()
    key = PersonKey.objects.get(user=w.technician)

    # A sheet, with everything that stands on it.
    hands.sheet(w.line, "cable")
    sig, entry = signature_of(w, "sheet")
    assert sig["key"] == key.key
    assert acts.is_signed(bytes(key.public), sig["sig"], acts.message("sheet", entry.record["act"]))
    # A ride.
    hands.ride("115")
    assert signature_of(w, "ride")[0]["key"] == key.key
    # What is refused comes back with what was typed, and nothing is recorded.
    page = hands.go("withdraw")
    page.locator("[name=code]").fill("XX-99")
    page.locator("[name=title]").fill("Strap frayed")
    page.locator("button[type=submit]").last.tap()
    expect(page.get_by_text("has the code XX-99").last).to_be_visible()
    assert page.input_value("[name=title]") == "Strap frayed"
    assert not Finding.objects.exists()
    # Put right, it is signed like any other.
    page.locator("[name=code]").fill("HA-01")
    with page.expect_navigation():
        page.locator("button[type=submit]").last.tap()
    assert Finding.objects.count() == 1
    assert signature_of(w, "finding-opened")[0]["key"] == key.key
    # What a phone cannot sign alone is not sent without a signal, and not lost.
    page = hands.go("finding_work", Finding.objects.get().pk)
    page.get_by_text("Repair", exact=True).tap()
    page.locator("[name=text]").fill("Sewn anew")
    hands.window.set_offline(True)
    said = Said(page)
    page.locator("button[type=submit]").last.tap()
    page.wait_for_timeout(1500)
    assert said == ["No signal: nothing was sent. What you typed stands here. Press again when there is signal."]
    assert page.input_value("[name=text]") == "Sewn anew"
    assert not Entry.objects.filter(kind="finding-work").exists()
    hands.window.set_offline(False)
    with page.expect_navigation():
        page.locator("button[type=submit]").last.tap()
    assert signature_of(w, "finding-work")[0]["key"] == key.key

    # Ended, the key signs no more: the deed is done all the same, and says that no key signed it.
    page = keys_page(hands)
    page.get_by_role("link", name="End").first.tap()
    page.locator("label", has_text="another device is used now").tap()
    hands.send("End this key")
    assert signature_of(w, "person-key")[0]["key"] == key.key  # it still could sign its own end
    expect(page.get_by_text("This device has no key in use.")).to_be_visible()
    hands.ride("35")
    assert signature_of(w, "ride")[0] == {}
    assert hands.wrong == []
    call_command("verify_ledger")


@pytest.mark.django_db(transaction=True)
def test_a_key_of_one_person_does_not_sign_for_another_on_the_same_phone(
    w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    window = open_window(PHONE)
    hands = Hands(w, w.technician, window).log_in()
    keys_page(hands).get_by_label("Your password").fill(make.WORD)
    hands.send("Make a key on this device")
    window.clear_cookies()
    other = Hands(w, w.mate, window).log_in()
    expect(keys_page(other).get_by_text("This device has no key in use.")).to_be_visible()
    other.rack("A", len(make.RACK_TAGS["A"][1]))
    assert signature_of(w, "sheet")[0] == {}
