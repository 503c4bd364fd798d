"""A finding by hand, and what is added to one, signed on a phone without a signal: with its photo, sent once."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.core.management import call_command
from playwright.sync_api import Page, expect

from courses.models import StoredFile
from inspections.models import Finding, FindingStep
from ledger.models import Entry
from tests.browser.alone import WAITING, sent, until
from tests.browser.hands import Hands
from tests.browser.test_signed_alone import hands as hands
from tests.inspections.test_photos import jpeg
from tests.said import Said

pytestmark = pytest.mark.django_db(transaction=True)


def refused(page: Page, said: list[str], sentence: str) -> None:
    """Press the button of the form, and be told that something is missing."""
    before = len(said)
    page.locator("[type=submit][name=send]").tap()
    until(page, lambda: len(said) > before)
    assert sentence in said[-1]
    expect(page.locator("[data-outbox]")).to_be_hidden()


def test_a_finding_and_what_is_added_to_it_are_signed_alone(hands: Hands, tmp_path: Path) -> None:
    w, page = hands.w, hands.page
    said = Said(page)
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((2000, 900)))

    hands.go("open_finding")
    hands.window.set_offline(True)
    refused(page, said, "Choose where it was found.")
    page.locator("[name=place]").select_option(str(w.line.pk))
    refused(page, said, "Say in a few words what was found.")
    page.locator("[name=title]").fill("Riss am Haken")
    refused(page, said, "Say how serious it is.")
    page.locator("label[for^=id_severity]").filter(has_text="Critical").tap()
    page.locator("label[for=id_is_watch]").tap()
    refused(page, said, "take one of the two back")
    page.locator("label[for=id_is_watch]").tap()
    page.locator("[name=photo]").set_input_files(photo)
    page.locator("[type=submit][name=send]").tap()
    expect(page.locator("[data-outbox]")).to_contain_text("Finding: Line 1 Line 1. Signed on this phone at 08:14.")
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    assert page.locator("[name=title]").input_value() == ""
    hands.window.set_offline(False)
    sent(page)
    found = Finding.objects.get()
    assert (found.place_id, found.severity, found.title) == (w.line.pk, "critical", "Riss am Haken")
    [hash_of_it] = FindingStep.objects.get().photos
    until(page, lambda: StoredFile.objects.exists())  # it follows its deed
    assert (StoredFile.objects.get(sha256=hash_of_it).width) == 1600

    hands.go("finding_add", found.pk)
    hands.window.set_offline(True)
    refused(page, said, "Add a note, a photo or the number of the tag.")
    page.locator("[name=photo]").set_input_files(photo)
    page.locator("[type=submit][name=send]").tap()
    expect(page.locator("[data-outbox]")).to_contain_text("Added to: Riss am Haken. Signed on this phone at 07:3")
    hands.window.set_offline(False)
    sent(page)
    assert Entry.objects.get(kind="finding-note").record["act"]["photos"] == [hash_of_it]
    assert {one.record["sig"]["alg"] for one in Entry.objects.filter(kind__startswith="finding-")} == {"es256"}
    assert hands.wrong == []
    call_command("verify_ledger")
