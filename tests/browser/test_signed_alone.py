"""What is signed on a phone without a signal: said in words, held on the phone, sent once, never under another's name.

The contract between phone and server is ours (accounts.receiving); there is no outside source for it. That an entry may
leave a device only when the server has named it is common practice of mail and message queues, no source.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, Route, expect
from playwright.sync_api import Error as PlaywrightError

from accounts.person_keys import revoke_key
from courses.models import StoredFile
from inspections.models import Draft, Finding, Hold, Reading, Ride, Sheet
from ledger import acts
from ledger.models import Entry
from tests import make
from tests.browser.alone import FORGET, WAITING, fill_in, sent, until, with_key
from tests.browser.hands import Hands
from tests.browser.test_own_key import signature_of
from tests.conftest import PHONE
from tests.inspections.test_photos import jpeg
from tests.said import Said

pytestmark = pytest.mark.django_db(transaction=True)
HELD = "async (script) => (await (await import(script)).held()).map(({ id }) => id)"


@pytest.fixture
def hands(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Hands:
    """The technician with a key on the phone."""
    return with_key(w, open_window(PHONE))


def sign_alone(hands: Hands, section: str = "cable") -> Page:
    """Open a sheet, lose the signal, fill it in and sign it."""
    page = hands.go("sheet", hands.w.line.pk, section, read=False)
    hands.window.set_offline(True)
    fill_in(hands, section)
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    return page


def test_a_sheet_signed_without_a_signal_is_sent_once_from_the_next_page(hands: Hands) -> None:
    w, page = hands.w, sign_alone(hands)
    hands.read_out("held")
    expect(page.get_by_text("1 not sent yet: nobody else knows of it. Call by radio.")).to_be_visible()
    expect(page.get_by_text("Line 1, Cable, signed at 08:14.")).to_be_visible()
    expect(page.get_by_text("Line 1, Cable. Signed on this phone at 08:14.")).to_be_hidden()
    page.get_by_text("What is not sent", exact=True).tap()
    expect(page.get_by_text("It goes by itself when there is a signal.")).to_be_visible()
    expect(page.get_by_text("Line 1, Cable. Signed on this phone at 08:14.")).to_be_visible()
    expect(page.get_by_role("button", name="Sign sheet")).to_be_disabled()
    assert not Sheet.objects.exists()
    # Another page, when there is a signal again: it goes by itself.
    other = hands.window.new_page()
    page.close()
    hands.window.set_offline(False)
    other.goto(reverse("inspections:board", args=[w.course.pk]))
    expect(other.locator("[data-outbox]")).to_contain_text("It stands in the history as entry")
    sig, entry = signature_of(w, "sheet")
    key = w.technician.keys.get()
    assert sig["key"] == key.key
    assert acts.is_signed(bytes(key.public), sig["sig"], acts.message("sheet", entry.record["act"]))
    assert Entry.objects.filter(kind="sheet").count() == 1
    assert not Draft.objects.exists()
    assert hands.wrong == []
    call_command("verify_ledger")


def at_sheet(address: str) -> bool:
    return "/sheet/" in address


def test_an_answer_that_is_lost_is_asked_for_again(hands: Hands) -> None:
    """The server has it, and the phone does not know: it is sent once more, and stands in the history once."""
    page = sign_alone(hands)

    def lose(route: Route) -> None:
        route.fetch()  # it arrives, and is recorded
        with contextlib.suppress(PlaywrightError):  # the page may have given it up meanwhile
            route.abort()

    page.route(at_sheet, lose)
    hands.window.set_offline(False)
    until(page, lambda: Sheet.objects.count() == 1)
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    page.unroute(at_sheet)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    sent(page)
    assert Entry.objects.get(kind="sheet").record["sig"]


# What answers in place of the server, or for it: nothing of it names the act as it was signed.
NO_ANSWER: list[dict[str, Any]] = [
    {"status": 200, "body": "<p>Welcome to our network.</p>", "content_type": "text/html"},
    {"status": 200, "body": "{}", "content_type": "application/json"},
    {"status": 200, "body": '{"id": "another", "seq": 3, "act": ""}', "content_type": "application/json"},
    {"status": 302, "headers": {"Location": "/"}},
    {"status": 500, "body": "<p>Trouble.</p>", "content_type": "text/html"},
    {"status": 503, "body": '{"refused": ""}', "content_type": "application/json"},
    {"status": 429, "body": "null", "content_type": "application/json"},
]


# A hold that was signed after what is held already; and it is taken away again.
LATER = """async (script) => {
  const { held, hold } = await import(script);
  const [sheet] = await held();
  await hold({ ...sheet, id: "later", kind: "hold", order: sheet.order + 1, address: "/sheet/later/" });
}"""
# Not while it is being sent: what sends it would put it back, to say how it went.
NO_LATER = """async ([script, sending]) => {
  const [{ letGo }, { LOCK }] = await Promise.all([import(script), import(sending)]);
  await navigator.locks.request(LOCK, () => letGo("later"));
}"""


def test_nothing_but_its_own_name_counts_as_received(hands: Hands) -> None:
    page = sign_alone(hands)
    came: list[str] = []
    asked: list[str] = []
    answer: dict[str, Any] = {}

    def reply(route: Route) -> None:
        asked.append(route.request.url)
        came.append(route.request.headers["x-lineworthy-act"])
        route.fulfill(**answer)

    page.route(at_sheet, reply)
    answer.update(NO_ANSWER[0])
    page.evaluate(LATER, static("js/held.mjs"))
    hands.window.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    until(page, lambda: bool(came))
    assert asked[0].endswith("/sheet/later/")  # what holds a line goes first
    page.evaluate(NO_LATER, [static("js/held.mjs"), static("js/sending.mjs")])
    came.clear()
    for number, one in enumerate(NO_ANSWER, start=1):
        answer.clear()
        answer.update(one)
        page.evaluate("window.dispatchEvent(new Event('online'))")
        until(page, lambda number=number: len(came) >= number)  # type: ignore[misc]
        page.wait_for_timeout(150)
        expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    assert set(came) == {"send"}
    # What was recorded under its name is something else: it is said, and what was signed stays.
    name = page.evaluate("async (script) => (await (await import(script)).held())[0].id", static("js/held.mjs"))
    answer.clear()
    answer.update(status=200, body=json.dumps({"id": name, "seq": 3, "act": "0" * 64}), content_type="application/json")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("[data-outbox]")).to_contain_text("Something else was recorded from this page before.")
    assert not Sheet.objects.exists()


def test_only_its_own_person_sends_it_and_only_logged_in(
    hands: Hands, open_window: Callable[[dict[str, Any]], BrowserContext]
) -> None:
    w, page = hands.w, sign_alone(hands)
    page.close()
    cookies = hands.window.cookies()
    hands.window.clear_cookies()
    hands.window.set_offline(False)
    other = Hands(w, w.mate, hands.window).log_in()
    other.go("board", read=False)
    expect(other.page.locator("[data-outbox]")).to_contain_text(
        "Signed on this phone by somebody else and not sent yet: 1. It goes when they log in here."
    )
    expect(other.page.locator("[data-outbox]")).not_to_contain_text("Cable")
    assert not Sheet.objects.exists()
    # Its own person again, whose page is open while the log-in runs out: it says so, and keeps it. The other's pages go
    # with the other, as who takes the cookies alone does not tell the worker.
    other.page.goto(reverse("account_logout"))
    other.send("Log out")
    hands.window.clear_cookies()
    hands.window.add_cookies([one for one in cookies if one["name"] != "csrftoken"])
    other.page.close()
    hands.window.route(at_sheet, lambda route: route.abort())
    hands.page = hands.window.new_page()
    hands.go("board", read=False)
    hands.window.clear_cookies()  # before anything may go: a page tries again by itself
    hands.window.unroute(at_sheet)
    hands.page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(hands.page.locator("[data-outbox]")).to_contain_text("Log in again, then it goes.")
    assert not Sheet.objects.exists()
    hands.page.close()
    hands.page = hands.window.new_page()
    hands.log_in()
    sent(hands.page)
    assert Sheet.objects.get().signer_ref == w.technician.ref


def test_what_is_not_taken_stays_with_its_sentence_until_it_is_put_right(hands: Hands) -> None:
    w, page = hands.w, sign_alone(hands, "cable")
    mine = w.technician.keys.get()
    revoke_key(mine, "lost", deed=make.deed(w.manager, at=timezone.now()))
    hands.window.set_offline(False)
    box = page.locator("[data-outbox]")
    expect(box).to_contain_text("and not taken: The key of this device is not known any more.")
    expect(box.get_by_role("button", name="Discard it")).to_be_visible()
    hands.read_out("not taken")
    box.get_by_text("What was typed").tap()
    expect(box.locator("dl")).to_contain_text("Sound")
    # Its form can be used again, and what was typed stands in it on the server too.
    expect(page.get_by_role("button", name="Sign sheet")).to_be_enabled()
    hands.go("sheet", w.line.pk, "cable", read=False)
    assert page.locator("input[type=radio][value=sound]:checked").count()
    said = Said(page)
    box.get_by_role("button", name="Discard it").tap()
    expect(box).to_be_hidden()
    assert said == ["Line 1 Line 1, Cable.\n\nNothing of this was recorded. Discard what was signed on this phone?"]
    assert not Sheet.objects.exists()
    assert hands.wrong == []


@pytest.mark.slow
def test_before_it_is_sent_it_can_be_taken_back(hands: Hands) -> None:
    page = sign_alone(hands)
    page.get_by_text("What is not sent", exact=True).tap()
    page.get_by_role("button", name="Take it back").tap()
    asked = page.get_by_role("alertdialog")
    asked.get_by_role("button", name="Back", exact=True).tap()
    expect(asked).to_have_count(0)
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    page.get_by_role("button", name="Take it back").tap()
    asked.get_by_role("button", name="Take it back").tap()
    expect(page.locator("[data-outbox]")).to_be_hidden()
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)


@pytest.mark.parametrize("arrives", [False, True])
def test_a_hold_is_not_lost_where_the_network_breaks_as_it_is_sent(hands: Hands, arrives: bool) -> None:
    """It was prepared and signed, and the browser shows a page of its own in place of the answer."""
    w, page = hands.w, hands.go("hold", read=False)

    def broken(route: Route) -> None:
        if route.request.method == "GET" or "x-lineworthy-act" in route.request.headers:
            return route.continue_()
        if arrives:
            route.fetch(max_redirects=0)
        return route.abort()

    page.route("**/hold/", broken)
    page.locator("select[name=line]").select_option(str(w.line.pk))
    page.locator("label", has_text="Other reason").tap()
    page.locator("textarea[name=text]").fill("Ast im Seil")
    page.get_by_role("button", name="Hold now").tap()
    until(page, lambda: page.url.startswith("chrome-error:"))
    assert Hold.objects.exists() is arrives
    page.unroute_all()
    hands.go("walk", read=False)
    until(page, Hold.objects.exists)
    hands.go("board", read=False)
    until(page, lambda: page.evaluate(HELD, static("js/held.mjs")) == [])
    assert [one.place_id for one in Hold.objects.all()] == [w.line.pk]
    call_command("verify_ledger")


def test_a_defect_is_asked_back_and_a_photo_goes_with_it(hands: Hands, tmp_path: Path) -> None:
    w = hands.w
    page = hands.go("sheet", w.line.pk, "cable", read=False)
    look = page.locator("[data-item]:has(input[type=radio])").first
    key = look.get_attribute("data-item") or ""
    hands.window.set_offline(True)
    fill_in(hands, "cable", **{key: "defect"})
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((2000, 900)))
    look.locator("input[type=file]").set_input_files(photo)
    said = Said(page)
    page.get_by_role("button", name="Sign sheet").tap()
    until(page, lambda: bool(said))
    assert "Say in the note what the defect is." in said[0]
    expect(page.locator("[data-outbox]")).to_be_hidden()
    look.locator(".item__note").evaluate("one => (one.open = true)")  # as it is already where the phone asks for a word
    look.locator("textarea").fill("Draht gebrochen")
    page.get_by_role("button", name="Sign sheet").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(WAITING)
    assert "What is marked as a defect is out of service as soon as this arrives:" in said[1]
    hands.window.set_offline(False)
    sent(page)
    found = Finding.objects.get(out_of_service=True)
    assert found.key == key
    [photo_hash] = Reading.objects.get(key=key).photos
    until(page, lambda: StoredFile.objects.exists())  # it follows its sheet
    stored = StoredFile.objects.get(sha256=photo_hash)
    assert (stored.width, stored.height) == (1600, 720)
    call_command("verify_ledger")


OTHER_LINE = """() => {
  const one = document.querySelector(".stop button[name=line]");
  const other = Object.assign(one.cloneNode(), { value: "another", ariaLabel: "Person on Line 2" });
  one.after(other);
}"""


def test_holds_racks_and_what_is_taken_out_are_signed_alone_too(hands: Hands) -> None:
    w, page = hands.w, hands.page
    # From the bar of the walk: a person on the line, by one tap, and a second time.
    hands.go("walk", read=False)
    hands.window.set_offline(True)
    page.evaluate(OTHER_LINE)  # as where there is a button for each line
    for time in range(2):
        page.locator(".stop > summary").tap()
        if time:  # a second tap alone does nothing
            expect(page.locator(".stop")).to_contain_text("Signed on this phone at 08:14, not sent yet.")
            expect(page.get_by_role("button", name="Person on Line 1", disabled=True)).to_have_count(1)
            expect(page.get_by_role("button", name="Person on Line 2")).to_be_enabled()
            assert not page.evaluate("document.querySelector('.stop form').inert"), "the other line can be held"
            page.get_by_role("button", name="Enter another").tap()
        button = page.get_by_role("button", name="Person on Line 1")
        place = button.bounding_box()
        assert place is not None
        button.tap()
        expect(page.locator(".stop")).not_to_have_attribute("open", "")
        # Tapped twice in a hurry: where the button was something else is by now, and nothing of that is pressed.
        page.touchscreen.tap(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
        page.wait_for_timeout(800)  # from then on a tap there is another press
        assert page.url.endswith("/walk/")
        expect(page.locator("[data-outbox] li")).to_have_count(time + 1)
    expect(page.locator("[data-outbox-sum]")).to_contain_text("2 not sent yet: nobody else knows of them.")
    expect(page.locator("[data-outbox-sum]")).to_contain_text("Newest: Person on Line 1 Line 1, signed at 08:14.")
    page.get_by_text("What is not sent", exact=True).tap()
    page.get_by_text("What was typed").first.tap()
    expect(page.locator("[data-outbox] dl").first).to_contain_text("Person on the line", ignore_case=True)
    hands.window.set_offline(False)
    sent(page, 2)
    expect(page.locator(".stop")).not_to_contain_text("not sent yet")
    assert [one.place_id for one in Hold.objects.all()] == [w.line.pk] * 2
    # Something taken out of service.
    hands.go("withdraw", read=False)
    hands.window.set_offline(True)
    page.locator("[name=title]").fill("Riemen gerissen")
    said = Said(page)
    page.locator("button[type=submit], input[type=submit]").last.tap()
    until(page, lambda: bool(said))
    assert "Type the code on its tag, or choose what it is." in said[0]
    page.locator("[name=code]").fill("ha 1")
    page.locator("button[type=submit], input[type=submit]").last.tap()
    expect(page.locator("[data-outbox]")).to_contain_text("Take out of service: HA-01")
    assert page.locator("[name=title]").input_value() == ""
    hands.window.set_offline(False)
    sent(page)
    assert Finding.objects.get().component.tag == "HA-01"
    # A rack.
    hands.go("rack", w.store.pk, "A", read=False)
    hands.window.set_offline(True)
    page.get_by_label("How many did you have in your hands?").fill("2")
    page.get_by_role("button", name="Confirm and sign this rack").tap()
    expect(page.locator("[data-outbox]")).to_contain_text(
        "Rack A. Signed on this phone at 07:3"
    )  # as the server has it
    hands.window.set_offline(False)
    sent(page)
    assert Sheet.objects.get().section == "rack:A"
    assert {one.record.get("sig", {}).get("alg") for one in Entry.objects.filter(act_id__in=signed_ids())} == {"es256"}
    call_command("verify_ledger")


@pytest.mark.slow
def test_a_ride_is_signed_with_a_signal_alone(hands: Hands) -> None:
    """It counts as of when it arrives: one from before work on the brake would count as one after it."""
    w, page = hands.w, hands.go("ride", hands.w.line.pk, read=False)
    hands.enter_ride("115")
    before = Ride.objects.count()
    hands.window.set_offline(True)
    page.evaluate(FORGET)  # this phone does not know how far its clock is off
    said = Said(page)
    page.get_by_role("button", name="Sign this test ride").tap()
    until(page, lambda: bool(said))
    assert said[0].startswith("No signal: nothing was sent.")
    assert page.locator("[data-outbox] li").count() == 0
    hands.window.set_offline(False)
    hands.send("Sign this test ride")
    assert Ride.objects.count() == before + 1
    assert signature_of(w, "ride")[0]["key"] == w.technician.keys.get().key


def signed_ids() -> list[Any]:
    return list(Entry.objects.filter(kind__in=["hold", "finding-opened", "sheet"]).values_list("act_id", flat=True))
