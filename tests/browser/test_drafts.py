"""What is typed on a phone is there again: after a reload without a signal, after a dead battery, on a full phone.

The contract is templates/ui/README.md, "Drafts"; there is no outside source for it. That a battery ends a phone in the
middle of a word is common practice of the place, no source.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.templatetags.static import static
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect

from courses.models import StoredFile
from inspections.models import Draft, Sheet
from tests import make
from tests.browser.alone import SIGNED, fill_in, phone_behind, sent, sign, with_key
from tests.browser.hands import SAVED, Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.conftest import BROWSER_FLAGS, PHONE, find_browser
from tests.inspections.test_photos import jpeg
from tests.inspections.test_sheets import LOOK, _add_an_item

pytestmark = pytest.mark.django_db(transaction=True)

# Whether a draft on this phone holds such a text.
WRITTEN = """(text) => new Promise((done) => {
  const opening = indexedDB.open("lineworthy-drafts", 1);
  opening.onsuccess = () => {
    const asked = opening.result.transaction("drafts").objectStore("drafts").getAll();
    const holds = (one) => one.fields?.some(([, value]) => value === text);
    asked.onsuccess = () => { opening.result.close(); done(asked.result.some(holds)); };
  };
})"""


def looks(page: Page) -> Any:
    return page.locator("[data-item]:has(input[type=radio])")


def figures(page: Page) -> Any:
    return page.locator("[data-item] .item__blank input[inputmode]")


def here(page: Page) -> Any:
    return page.locator("[data-on-phone]")


@pytest.mark.slow
def test_what_was_typed_without_a_signal_stands_there_again_and_goes_when_there_is_one(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext], tmp_path: Path
) -> None:
    hands = Hands(w, w.technician, phone_behind(open_window, net.url)).log_in()
    page = hands.go("sheet", w.line.pk, "cable", read=False)
    page.wait_for_timeout(1500)
    page = hands.go("sheet", w.line.pk, "cable", read=False)  # by now it is kept on the phone
    looks(page).nth(0).locator("label:has(input[value=sound])").tap()
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    expect(here(page)).to_have_text("")

    net.spoil("refused")
    looks(page).nth(1).locator("label:has(input[value=defect])").tap()
    looks(page).nth(1).locator(".item__note summary").tap()
    looks(page).nth(1).locator("textarea").fill("Draht gebrochen")
    figures(page).first.fill("11.7")
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((2000, 900)))
    looks(page).nth(1).locator("input[type=file]").set_input_files(photo)
    expect(looks(page).nth(1).locator("canvas")).to_have_count(1)
    looks(page).nth(1).locator("[data-ask]").get_by_role("button", name="Out of service").tap()
    expect(page.locator("[data-ask]")).to_have_count(0)
    expect(here(page)).to_contain_text("Saved on this phone")
    expect(page.locator("[data-saved]")).to_have_text("Not at the server yet, trying again.")
    hands.read_out("typed without a signal")

    page.reload()
    expect(page.locator("html[data-kept]")).to_have_count(1)
    expect(here(page)).to_contain_text("Carried on from")
    expect(looks(page).nth(0).locator("input[value=sound]")).to_be_checked()  # the server has it, this page had it not
    expect(looks(page).nth(1).locator("input[type=radio][value=defect]")).to_be_checked()
    expect(looks(page).nth(1).locator("textarea")).to_have_value("Draht gebrochen")
    expect(looks(page).nth(1).locator("textarea")).to_be_visible()
    expect(figures(page).first).to_have_value("11.7")
    expect(looks(page).nth(1).locator("canvas")).to_have_count(1)
    expect(looks(page).nth(1).locator("[data-answer] .mark")).to_contain_text("Out of service")
    expect(page.locator("[data-ask]")).to_have_count(0)  # what was insisted on is not asked a second time

    net.mend()
    page.reload()
    expect(page.locator("html[data-kept]")).to_have_count(0)
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    expect(here(page)).to_have_text("")
    [draft] = Draft.objects.all()
    key = looks(page).nth(1).get_attribute("data-item")
    assert draft.content[key]["note"] == "Draht gebrochen"
    assert draft.content[key]["mark"] == "defect"
    [sha256] = draft.content[key]["photos"]
    assert StoredFile.objects.get(sha256=sha256).width == 1600
    expect(looks(page).nth(1).locator("[data-photos] img")).to_have_count(1)
    expect(looks(page).nth(1).locator("canvas")).to_have_count(0)
    assert hands.wrong == []


def test_what_the_page_does_not_ask_any_more_is_not_lost(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    """Half a sheet without a signal; meanwhile a colleague signs the section, and then something comes due in it."""
    hands = Hands(w, w.technician, phone_behind(open_window, net.url)).log_in()
    page = hands.go("sheet", w.line.pk, "landing", read=False)
    net.spoil("refused")
    page.locator(f'[id="item-{LOOK}"] label:has(input[value=defect])').tap()
    expect(here(page)).to_contain_text("Saved on this phone")
    page.goto("about:blank")
    make.sign(w, w.line, "landing", by=w.mate, at=timezone.now())
    w.t = lambda _minutes: timezone.now()
    _add_an_item(w, at=0)
    net.mend()

    page = hands.go("sheet", w.line.pk, "landing", read=False)
    expect(page.locator(f'[id="item-{LOOK}"] input[value=defect]')).to_be_checked()
    expect(page.locator("[data-item]")).to_have_count(2)  # what came due, and what was entered here
    assert Draft.objects.get().content[LOOK]["mark"] == "defect"
    page.reload()
    expect(page.locator("[data-item]")).to_have_count(2)
    # What is no part of the day is counted, and not dropped in silence.
    page.evaluate(
        """async ([script, like]) => {
          const { draftsOf, putDrafts } = await import(script);
          const [one] = await draftsOf(like);
          await putDrafts([{ ...one, id: one.id.replace(one.unit, "item:gone"), unit: "item:gone", confirmed: 0,
                             fields: [["mark-gone", "defect"]] }]);
        }""",
        [static("js/drafts.mjs"), f"{w.technician.ref}|{page.evaluate('location.pathname')}|2026-06-15"],
    )
    page.reload()
    expect(page.get_by_text("Entered here before and not asked any more: 1. It stands in no sheet.")).to_be_visible()


@pytest.mark.slow
def test_what_was_answered_on_another_phone_since_is_not_written_over_in_silence(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    hands = Hands(w, w.technician, phone_behind(open_window, net.url)).log_in()
    page = hands.go("sheet", w.line.pk, "cable", read=False)
    net.spoil("refused")
    figures(page).first.fill("3")
    expect(here(page)).to_contain_text("Saved on this phone")
    key = page.locator("[data-item]:has(.item__blank)").first.get_attribute("data-item")
    page.goto("about:blank")
    net.mend()
    other = Hands(w, w.technician, phone_behind(open_window, net.url)).log_in()
    other.go("sheet", w.line.pk, "cable", read=False)
    figures(other.page).first.fill("1")
    figures(other.page).first.press("Enter")
    expect(other.page.locator("[data-saved]")).to_have_text(SAVED)

    page = hands.go("sheet", w.line.pk, "cable", read=False)
    asked = page.locator(".ask", has_text="you answered on this phone: 3. It was not sent")
    expect(asked).to_be_visible()
    expect(figures(page).first).to_have_value("1")
    hands.read_out("asked which counts")
    page.wait_for_timeout(500)
    assert Draft.objects.get().content[key]["text"] == "1"
    asked.get_by_role("button", name="What I answered here").tap()
    expect(figures(page).first).to_have_value("3")
    expect(page.locator("[data-saved]")).to_have_text(SAVED)
    assert Draft.objects.get().content[key]["text"] == "3"
    assert hands.wrong == []


def test_a_full_phone_says_so_and_what_is_typed_stays_on_the_page(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext], tmp_path: Path
) -> None:
    hands = Hands(w, w.technician, phone_behind(open_window, net.url))
    # Before a page asks for room the first time: what is left is looked up once and then counted down.
    browser = hands.window.new_cdp_session(hands.page)
    browser.send("Storage.overrideQuotaForOrigin", {"origin": net.url, "quotaSize": 1000})
    hands.log_in()
    page = hands.go("rack", w.store.pk, "A", read=False)
    page.get_by_label("How many did you have in your hands?").fill("2")
    expect(here(page)).to_contain_text(re.compile("^Not saved: the phone.s storage is full."))
    hands.read_out("full")
    browser.send("Storage.overrideQuotaForOrigin", {"origin": net.url})
    page.get_by_label("Note for the whole rack").fill("Nass")
    expect(here(page)).to_contain_text("Saved on this phone")
    # What is typed is written at once, not when somebody has stopped typing: a battery does not wait.
    page.evaluate("window.setTimeout = () => 0")
    page.get_by_label("Note for the whole rack").press_sequentially(" und kalt")
    page.wait_for_function(WRITTEN, arg="Nass und kalt")
    page.get_by_label("Note for the whole rack").fill("Nass")
    page.wait_for_function(WRITTEN, arg="Nass")
    page.reload()
    expect(page.get_by_label("How many did you have in your hands?")).to_have_value("2")
    expect(page.get_by_label("Note for the whole rack")).to_have_value("Nass")
    # A picture that the browser cannot read is refused in words, not kept as if it were one.
    page.locator("label:has(input[name=defect])").first.tap()
    unread = {"name": "a.heic", "mimeType": "image/heic", "buffer": b"ftyp"}
    page.locator("input[type=file]").first.set_input_files(unread)
    expect(page.locator("[data-photo-said]")).to_contain_text("This browser cannot read this picture")
    assert page.evaluate("document.querySelector('input[type=file]').files.length") == 0
    assert hands.wrong == []


@pytest.mark.slow
def test_a_battery_that_dies_takes_nothing_with_it(
    w: SimpleNamespace, net: SpoiledNetwork, browser: Browser, tmp_path: Path
) -> None:
    profile = tmp_path / "profile"

    def start() -> BrowserContext:
        kind = {**PHONE, "base_url": net.url}
        window = browser.browser_type.launch_persistent_context(
            str(profile), executable_path=find_browser(), args=BROWSER_FLAGS, **kind
        )
        window.set_default_timeout(20_000)
        return window

    hands = with_key(w, start())
    rack = hands.go("rack", w.store.pk, "A", read=False)
    hands.page = hands.window.new_page()
    sheet = hands.go("sheet", w.line.pk, "cable", read=False)
    net.spoil("refused")
    fill_in(hands, "cable")
    sign(sheet)
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((800, 600)))
    rack.bring_to_front()
    rack.locator("label:has(input[name=defect])").first.tap()
    rack.locator("input[type=file]").first.set_input_files(photo)
    expect(rack.locator("canvas")).to_have_count(1)
    rack.locator("textarea[name^=note-]").first.type("Riemen geris")
    expect(here(rack)).to_contain_text("Saved on this phone")
    kill(profile)

    net.mend()
    window = start()
    try:
        hands = Hands(w, w.technician, window)
        window.clock.set_fixed_time(SIGNED)
        hands.log_in()
        sent(hands.page)
        page = hands.go("rack", w.store.pk, "A", read=False)
        expect(page.locator("input[name=defect]").first).to_be_checked()
        expect(page.locator("textarea[name^=note-]").first).to_have_value("Riemen geris")
        expect(page.locator("canvas")).to_have_count(1)
        assert [one.section for one in Sheet.objects.all()] == ["cable"]
    finally:
        window.close()


def kill(profile: Path) -> None:
    """End every process of a browser at once, as a battery does."""
    for folder in Path("/proc").iterdir():
        with contextlib.suppress(OSError, ValueError):
            if str(profile).encode() in (folder / "cmdline").read_bytes():
                os.kill(int(folder.name), signal.SIGKILL)
