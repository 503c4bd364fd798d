"""One whole morning on phones, through the pages alone: walk, out of service, release, signature, hold, history.

Pages are read by axe-core, whose rules follow WCAG 2.2; nothing serious or critical may stand on any of them.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page
from pypdf import PdfReader

from accounts.models import User
from courses.models import Component
from inspections.models import Finding, Hold, Reading, Ride, Sheet, SignOff
from tests import make
from tests.browser.hands import Hands
from tests.conftest import NO_WORKER, PHONE

MOST_TAPS = 25  # for a sheet of 25 items, figures and the signing aside: our own budget, no outside source


@pytest.fixture
def at_phone(w: SimpleNamespace, open_window: Callable[[dict[str, Any]], BrowserContext]) -> Callable[[User], Hands]:
    return lambda person: Hands(w, person, open_window({**PHONE, **NO_WORKER})).log_in()


def download(page: Page, address: str) -> bytes:
    """Fetch with the cookies of the window, as a tap on the link does."""
    answer = page.request.get(address)
    assert answer.ok, f"{address}: {answer.status}"
    return bytes(answer.body())


@pytest.mark.every_database
@pytest.mark.django_db(transaction=True)
def test_a_whole_morning(w: SimpleNamespace, at_phone: Callable[[User], Hands]) -> None:
    technician = at_phone(w.technician)
    walk_the_course(w, technician)
    take_out_of_service(w, technician)
    manager = at_phone(w.manager)
    work_and_release(w, technician, manager)
    sign_the_day(w, manager)
    hold_and_lift(w, technician, manager)
    auditor = at_phone(w.auditor)
    read_the_history(w, auditor)

    assert technician.wrong + manager.wrong + auditor.wrong == []
    call_command("verify_ledger")


def walk_the_course(w: SimpleNamespace, hands: Hands) -> None:
    hands.go("walk")
    due = make.sections(w, at=timezone.now())
    by_hand = {"house", "platform", "cable", "rack:A"}  # one of each kind; the mate signs the rest
    for place, section in due:
        if section not in by_hand:
            make.sign(w, place, section, by=w.mate, at=timezone.now())
        elif section.startswith("rack:"):
            hands.rack("A", len(make.RACK_TAGS["A"][1]), read=True)
        else:
            hands.sheet(place, section, read=True)
        by_hand.discard(section)
    for mass in ("35", "115"):
        hands.ride(mass, read=mass == "35")
    page = hands.go("walk")

    assert page.get_by_text("Not signed").count() == 0
    assert page.get_by_text("Not ridden").count() == 0
    signed = Sheet.objects.filter(day__course=w.course)
    assert {(one.place_id, one.section) for one in signed} == {(place.pk, section) for place, section in due}
    assert signed.filter(signer_ref=w.technician.ref).count() == 4
    assert set(signed.values_list("verdict", flat=True)) <= {"ok", "watch"}
    assert Ride.objects.filter(day__course=w.course, day__date=w.at.date()).count() == 2


def take_out_of_service(w: SimpleNamespace, hands: Hands) -> None:
    """Without any reading, and without photo or note: nothing stands between a person and this."""
    page = hands.go("withdraw")
    spot = page.locator("select[name=spot] option", has_text="PF-1").first.get_attribute("value")
    assert spot is not None
    page.select_option("select[name=spot]", spot)
    page.get_by_label("What is wrong").fill("Anchor eye cracked")
    hands.send("Take out of service")
    hands.read_out("finding")

    found = Finding.objects.get(course=w.course, title__endswith="PF-1: Anchor eye cracked")
    assert found.out_of_service
    assert found.state == "open"
    assert set(found.owed) == {"photo", "note", "tag"}


def work_and_release(w: SimpleNamespace, technician: Hands, manager: Hands) -> None:
    found = Finding.objects.get(course=w.course, title__endswith="PF-1: Anchor eye cracked")
    board = manager.go("board")
    row = board.locator(f"#line-{w.line.number}")
    assert "held" in row.inner_text().lower()
    assert "Anchor eye cracked" in row.inner_text()

    page = technician.go("finding_add", found.pk)
    page.get_by_label("Note").fill("Crack seen at the weld, 4 mm.")
    page.get_by_label("Number of the tag").fill("T-017")
    page.set_input_files("[name=photo]", {"name": "eye.png", "mimeType": "image/png", "buffer": page.screenshot()})
    technician.send("Save")
    page = technician.go("finding_work", found.pk)
    page.locator("input[name=what][value=repair]").check(force=True)
    page.get_by_label("What was done").fill("Eye replaced by the maker's own, torqued to the manual.")
    for tick in ("energy_released", "locked_out"):
        page.locator(f"[name={tick}]").check(force=True)
    technician.send("Save")
    page = technician.go("finding_again", found.pk)
    technician.tap(page.locator("label:has(input[name=mark][value=sound])"))
    technician.send("Save")
    assert page.get_by_text("Somebody else than the person who did the work looks at it again.").is_visible()

    page = manager.go("finding_again", found.pk)
    manager.tap(page.locator("label:has(input[name=mark][value=sound])"))
    manager.send("Save")
    assert page.url.endswith(f"/findings/{found.pk}/"), page.locator("main").inner_text()
    # The person who did the work may not release; the page is not even given to that person.
    answer = technician.page.goto(f"/course/{w.course.pk}/findings/{found.pk}/release/")
    assert answer is not None
    assert answer.status in {403, 404}

    page = manager.go("finding_release", found.pk)
    for tick in ("area", "intact", "clear", "told"):
        page.locator(f"[name={tick}]").check(force=True)
    page.locator("[name=tag_removed_by][value=applier]").check(force=True)
    page.get_by_label("Your password").fill("not my password")
    manager.send("Release")
    found.refresh_from_db()
    assert found.state == "open"
    for tick in ("area", "intact", "clear", "told"):
        assert page.locator(f"[name={tick}]").is_checked(), "a wrong password costs nothing that was entered"
    page.get_by_label("Your password").fill(make.WORD)
    manager.send("Release")
    manager.read_out("finding, released")
    found.refresh_from_db()
    assert found.state == "released"
    assert found.released_by_ref == w.manager.ref


def sign_the_day(w: SimpleNamespace, hands: Hands) -> None:
    # What was worked on is looked at once more; the second sheet lies beside the first.
    for place, section in make.sections(w, at=timezone.now()):
        make.sign(w, place, section, at=timezone.now())
    page = hands.go("reports:sign")
    hands.tap(page.locator(".switch__part.is-open").first)
    page.get_by_label("Your password").fill(make.WORD)
    hands.send("Sign the day")
    hands.read_out("day, signed")
    signed = SignOff.objects.get(day__course=w.course)
    assert signed.lines[str(w.line.pk)]["decision"] == "open"
    assert signed.signer_ref == w.manager.ref
    assert "open" in hands.go("board").locator(f"#line-{w.line.number} .mark").first.inner_text().lower()

    hands.go("reports:day", w.at.date())
    address = hands.page.get_by_role("link", name="Day sheet (PDF)").first.get_attribute("href")
    assert address is not None
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(download(hands.page, address))).pages)
    for word in (w.technician.name, w.manager.name, w.line.name, w.course.name, "Anchor eye cracked"):
        assert word in text, word
    # This course was set up without its town, which the rule asks for: the sheet says so, and misses nothing else.
    assert "1 thing that a daily record must contain is missing" in " ".join(text.split())
    assert "The place of the course is missing." in text


def hold_and_lift(w: SimpleNamespace, technician: Hands, manager: Hands) -> None:
    page = technician.go("hold")
    page.locator("input[name=cause][value=object]").check(force=True)
    page.select_option("select[name=line]", str(w.line.pk))
    technician.send("Hold now")
    hold = Hold.objects.get(course=w.course)
    row = manager.go("board").locator(f"#line-{w.line.number}")
    assert "held" in row.inner_text().lower()
    assert manager.page.get_by_text("Not yet told:").is_visible()

    page = technician.go("lift", hold.pk)
    for where in ("launch", "landing"):
        page = technician.go("lift", hold.pk, read=False)
        page.locator(f"input[name=where][value={where}]").check(force=True)
        page.get_by_label("Who confirmed by radio").fill("Runa Feld")
        technician.send("Enter")
    page = technician.go("lift", hold.pk)
    technician.send("Lift the hold")
    hold.refresh_from_db()
    assert hold.lifted_at is None, "an object is not gone before somebody looked"
    page.locator("[name=looked]").check(force=True)
    technician.send("Lift the hold")
    hold.refresh_from_db()
    assert hold.lifted_at is not None
    manager.go("board")


def read_the_history(w: SimpleNamespace, hands: Hands) -> None:
    hands.go("reports:calendar")
    page = hands.go("reports:day", w.at.date())
    assert page.get_by_text("Anchor eye cracked").first.is_visible()
    cable = Component.objects.get(course=w.course, kind="cable")
    hands.go("reports:component", cable.pk)
    hands.go("reports:day_sheets")
    hands.go("reports:exports")
    day = w.at.date().isoformat()
    table = download(page, f"/course/{w.course.pk}/history/export/readings.csv?first={day}&last={day}")
    rows = list(csv.reader(io.StringIO(table.decode("utf-8-sig"))))
    assert len(rows) - 1 == Reading.objects.filter(day__course=w.course, day__date=day).count()
    answer = page.goto(f"/course/{w.course.pk}/sign/")
    assert answer is not None
    assert answer.status in {403, 404}, "an auditor changes nothing"


@pytest.mark.slow
@pytest.mark.django_db(transaction=True)
def test_a_sound_sheet_takes_one_tap_an_item_and_one_to_sign(
    w: SimpleNamespace, at_phone: Callable[[User], Hands]
) -> None:
    hands = at_phone(w.technician)
    longest = max(make.sections(w, at=timezone.now()), key=lambda one: len(make.answers(w, *one, at=timezone.now())))
    items = make.answers(w, *longest, at=timezone.now())
    typed = [key for key, answer in items.items() if "text" in answer]
    hands.go("sheet", longest[0].pk, longest[1], read=False)
    switches = hands.page.locator("fieldset.item:has(input[type=radio])").count()  # the register answers for itself
    hands.taps = hands.figures = 0
    hands.answer(*longest)
    hands.send("Sign sheet")

    assert Sheet.objects.filter(place=longest[0], section=longest[1]).count() == 1
    assert switches > 20
    assert hands.figures == len(typed)
    assert hands.taps == switches + 1
    assert (hands.taps - 1) / len(items) <= MOST_TAPS / 25
