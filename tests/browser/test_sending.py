"""What was signed without a signal arrives once, whatever the network does to it on its way.

The contract is that of accounts.receiving; there is no outside source for it. That only the other side's own word
counts as received is common practice of mail and message queues, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from playwright.sync_api import BrowserContext, Page, expect

from courses.models import StoredFile
from inspections.models import Reading, Sheet
from ledger.models import Entry
from tests.browser.alone import WAITING, again, fill_in, phone_behind, sent, sign, until, with_key
from tests.browser.hands import Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.inspections.test_photos import jpeg

pytestmark = pytest.mark.django_db(transaction=True)
LEFT = "It was received; photos of it still to be sent: 1."
NOT_THERE: list[str | int] = [500, 502, 503, 429, 404, 413, "portal", "refused"]


@pytest.fixture
def hands(w: SimpleNamespace, net: SpoiledNetwork, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    """The technician with a key on the phone, behind the network that can be spoilt."""
    return with_key(w, phone_behind(open_window, net.url))


def filled_in_alone(hands: Hands, net: SpoiledNetwork, section: str = "cable", **but: str) -> Page:
    page = hands.go("sheet", hands.w.line.pk, section, read=False)
    net.spoil("refused")
    fill_in(hands, section, **but)
    return page


def tried_again(net: SpoiledNetwork, page: Page, path: str, method: str = "POST") -> None:
    """Have it tried again, and wait until that came as far as a path."""
    before = net.count(method, path)
    again(page)
    until(page, lambda: net.count(method, path) > before)
    page.wait_for_timeout(100)
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)


@pytest.mark.slow
def test_it_arrives_once_with_its_photo_over_a_network_that_spoils_everything(
    hands: Hands, net: SpoiledNetwork, tmp_path: Path
) -> None:
    page = filled_in_alone(hands, net)
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((2000, 900)))
    look = page.locator("[data-item]:has(input[type=radio])").first
    key = look.get_attribute("data-item")
    look.locator("input[type=file]").set_input_files(photo)
    expect(look.locator("canvas")).to_have_count(1)
    sign(page)
    expect(page.locator("[data-on-phone]")).to_have_text("")  # what is held is no draft any more

    net.mend()
    net.spoil("black hole", path="/phone/hello/")
    tried_again(net, page, "", "GET")
    net.mend()  # ends what hangs
    for mode in NOT_THERE:
        net.spoil(mode, path="/sheet/", method="POST")
        tried_again(net, page, "/sheet/")
        net.mend()
    assert not Sheet.objects.exists()
    for mode in ("lost", "truncated"):  # it is recorded, and the phone does not know
        net.spoil(mode, path="/sheet/", method="POST")
        tried_again(net, page, "/sheet/")
        net.mend()
        until(page, lambda: Sheet.objects.count() == 1)
    assert net.count("POST", "/photo/") == 0  # no photo before its deed
    net.spoil("slow", rate=200_000)
    net.spoil("lost", path="/photo/", method="POST", times=1)
    again(page)
    sent(page)
    assert Sheet.objects.count() == 1
    [sha256] = Reading.objects.get(key=key).photos
    until(page, lambda: StoredFile.objects.filter(sha256=sha256, width=1600).exists())
    expect(page.locator("[data-outbox-waiting]")).to_contain_text(LEFT)  # it is there, and the phone does not know
    again(page)
    expect(page.locator("[data-outbox-waiting]")).to_be_hidden()
    assert net.count("POST", "/photo/") == 2
    line = page.locator("[data-outbox-sent] p")
    expect(line).to_contain_text(f"It stands in the history as entry {Entry.objects.get(kind='sheet').seq}.")
    hands.read_out("received")
    line.get_by_role("link", name="Look at the entry").tap()
    expect(page.locator("main")).to_contain_text("Cable")
    assert hands.wrong == []
    call_command("verify_ledger")


def test_no_photo_holds_up_a_deed_and_it_goes_when_it_can(hands: Hands, net: SpoiledNetwork, tmp_path: Path) -> None:
    """Its requests lead nowhere; the page is closed while one of them hangs; then it goes from another page."""
    page = hands.go("open_finding", read=False)
    net.spoil("refused")
    page.locator("[name=place]").select_option(str(hands.w.line.pk))
    page.locator("[name=title]").fill("Riss am Haken")
    page.locator("label[for^=id_severity]").filter(has_text="Critical").tap()
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((800, 600)))
    page.locator("[name=photo]").set_input_files(photo)
    page.locator("[type=submit][name=send]").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)

    net.mend()
    net.spoil("black hole", path="/photo/", method="POST")
    again(page)
    sent(page)
    entry = Entry.objects.get(kind="finding-opened")
    assert entry.record["judged"]["photos_owed"] == entry.record["act"]["photos"]
    until(page, lambda: net.count("POST", "/photo/") == 1)
    waiting = page.locator("[data-outbox-waiting]")
    expect(waiting).to_contain_text(LEFT)
    page.goto("about:blank")
    page.close()
    hands.page = page = hands.window.new_page()
    hands.go("board", read=False)
    waiting = page.locator("[data-outbox-waiting]")
    expect(waiting).to_contain_text(LEFT)
    expect(waiting.get_by_text(LEFT)).to_be_hidden()  # folded up: the page below is in view
    waiting.get_by_text("Photos still to be sent").tap()
    expect(waiting.get_by_text(LEFT)).to_be_visible()
    assert not StoredFile.objects.exists()
    call_command("verify_ledger")

    net.mend()
    again(page)
    expect(waiting).to_be_hidden()
    [stored] = StoredFile.objects.all()
    assert [stored.sha256] == entry.record["act"]["photos"]
    assert Entry.objects.filter(kind="finding-opened").count() == 1
    call_command("verify_ledger")


def test_what_is_not_taken_is_put_right_on_its_page_and_sent(hands: Hands, net: SpoiledNetwork, tmp_path: Path) -> None:
    """Nothing of it has to be typed again, though the page is opened anew and the server knows nothing of it."""
    w = hands.w
    page = hands.go("rack", w.store.pk, "A", read=False)
    net.spoil("refused")
    page.locator("label:has(input[name=defect])").first.tap()
    page.locator("textarea[name^=note-]").first.fill("Riemen gerissen")
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((800, 600)))
    page.locator("input[type=file]").first.set_input_files(photo)
    expect(page.locator("canvas")).to_have_count(1)
    page.get_by_label("How many did you have in your hands?").fill("2")
    sign(page, "Confirm and sign this rack")
    # Another deed of the same phone that is fine: it is not held up by this one.
    hands.page = page
    [mine] = w.technician.keys.all()
    mine.public, good = b"\x04" + bytes(64), bytes(mine.public)
    mine.save()
    net.mend()
    again(page)
    box = page.locator("[data-outbox]")
    expect(box).to_contain_text("and not taken:")
    assert not Sheet.objects.exists()
    mine.public = good
    mine.save()
    box.get_by_role("button", name="Open its page").tap()
    expect(page.locator("[data-on-phone]")).to_contain_text("Carried on from 08:14")
    expect(page.locator("input[name=defect]").first).to_be_checked()
    expect(page.locator("textarea[name^=note-]").first).to_have_value("Riemen gerissen")
    expect(page.locator("canvas")).to_have_count(1)
    expect(page.get_by_label("How many did you have in your hands?")).to_have_value("2")
    hands.send("Confirm and sign this rack")
    [sheet] = Sheet.objects.all()
    assert [len(one.photos) for one in Reading.objects.filter(mark="defect")] == [1]
    expect(page.locator("[data-outbox]")).to_be_hidden()  # what was not taken has been put right by this
    # Signed with a signal, it is not laid over its page again.
    page = hands.go("rack", w.store.pk, "A", read=False)
    page.wait_for_timeout(300)
    expect(page.locator("input[name=defect]").first).not_to_be_checked()
    assert sheet.signer_ref == w.technician.ref


@pytest.mark.slow
def test_two_pages_and_the_worker_send_it_once_and_the_worker_with_no_page_open(
    hands: Hands, net: SpoiledNetwork
) -> None:
    """The browser says that there is a signal again (Background Sync) by the command that its own tools have for it."""
    page = filled_in_alone(hands, net)
    sign(page)
    other = hands.window.new_page()
    net.mend()
    net.spoil("slow", path="/sheet/", method="POST", rate=20_000)
    before = net.count("POST", "/sheet/")
    other.goto(page.url.replace("/sheet/", "/walk/").split("/walk/")[0] + "/board/")
    again(page)
    again(other)
    expect(other.locator("[data-outbox-sent] p")).to_have_count(1)
    expect(page.locator("[data-outbox-sent] p")).to_have_count(1)  # it heard of it
    assert net.count("POST", "/sheet/") == before + 1
    net.mend()

    other.close()
    page.bring_to_front()  # a page behind another is slow
    page = filled_in_alone(hands, net, "landing")
    sign(page)
    page.goto("about:blank")
    net.mend()
    browser = hands.window.new_cdp_session(page)
    found: list[str] = []
    browser.on("ServiceWorker.workerRegistrationUpdated", lambda said: found.extend(registrations(said, net.url)))
    browser.send("ServiceWorker.enable")
    until(page, lambda: found)
    said = {"origin": net.url, "registrationId": found[0], "tag": "lineworthy-held", "lastChance": False}
    browser.send("ServiceWorker.dispatchSyncEvent", said)
    until(page, lambda: Sheet.objects.count() == 2)
    page = hands.go("board", read=False)
    sent(page)  # said on the next page that is opened
    call_command("verify_ledger")


def registrations(said: dict[str, Any], origin: str) -> list[str]:
    return [one["registrationId"] for one in said["registrations"] if one["scopeURL"].startswith(origin)]
