"""A whole inspection without a signal, from the car park to the car park: nothing is lost, all of it is in the history.

What the record must say of it is held to the same day with a signal, on a course that is the other's twin, and to the
auditor's program. That a phone dies in the middle of a sheet, and that the first network on the way back is a guest
network or one that loses answers, is common practice of the place, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.templatetags.static import static
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from courses.models import Component, Place, StoredFile
from inspections import actions
from inspections.facts import line_statuses
from inspections.models import Draft, Finding, FindingStep, Reading, Sheet
from ledger import acts
from ledger.models import Entry
from reports.bundle import begin_bundle
from tests import make
from tests.browser.alone import again, fill_in, until
from tests.browser.battery import Phone
from tests.browser.spoiled import SpoiledNetwork
from tests.browser.test_kept_pages import take_along
from tests.browser.test_own_key import keys_page
from tests.inspections.test_photos import jpeg
from tests.verifier.record import Bundle, log_key_text
from tests.verifier.test_program import run

pytestmark = pytest.mark.django_db(transaction=True)
SECONDS = timedelta(seconds=4)  # two whole seconds that are cut off, and what it takes to ask the server's time
CRACK, LOOSE, SCRATCH = "Draht gebrochen", "Riemen gerissen", "Kratzer am Geländer"
FIRST = {"hold", "finding-opened"}  # may overtake what waits: they only worsen
HELD = "async (script) => (await (await import(script)).held()).map(({id, kind, order}) => [id, kind, order])"
KNOWN = "async (script) => (await import(script)).offset()"


@dataclass
class Day:
    """What somebody does without a signal. ``done``: (identity, kind, when by the server's clock), in that order."""

    w: SimpleNamespace
    phone: Phone
    net: SpoiledNetwork
    photo: Path
    done: list[tuple[str, str, datetime]] = field(default_factory=list)

    @property
    def page(self) -> Page:
        return self.phone.hands.page

    def go(self, name: str, *more: Any) -> Page:
        page = self.phone.hands.go(name, *more, read=False)
        expect(page.locator("html[data-kept]")).to_have_count(1)  # there is no network that could have given it
        return page

    def sign(self, label: str) -> None:
        self.page.get_by_role("button", name=label, exact=True).last.tap()
        until(self.page, lambda: len(self.held()) > len(self.done))
        at, (*before, (name, kind, _order)) = timezone.now(), self.held()
        assert [one for one, _kind, _order in before] == [one for one, _kind, _at in self.done]
        self.done.append((name, kind, at))

    def held(self) -> list[Any]:
        return list(self.page.evaluate(HELD, static("js/held.mjs")))

    def die(self) -> None:
        """The battery dies, and is charged in the car: the log-in ran out meanwhile."""
        self.phone.die()
        self.phone.start().window.clear_cookies()

    # --- the walk
    def sheet(self, place: Place, section: str, **but: str) -> None:
        page = self.go("sheet", place.pk, section)
        fill_in(self.phone.hands, section, place, **but)
        done, of = page.locator("[data-done]"), page.locator("[data-of]").inner_text()
        expect(done).to_have_text(of)  # by the phone's own count
        self.sign("Sign sheet")

    def sheet_with_a_defect(self, place: Place, section: str) -> str:
        """The phone dies over it; it is gone on with where it was left."""
        page = self.go("sheet", place.pk, section)
        look = page.locator("[data-item]:has(input[type=radio])").first
        key = look.get_attribute("data-item") or ""
        look.locator("label:has(input[value=defect])").tap()
        look.locator(".item__note summary").tap()
        look.locator("textarea").fill(CRACK)
        look.locator("input[type=file]").set_input_files(self.photo)
        expect(look.locator("canvas")).to_have_count(1)
        expect(page.locator("[data-on-phone]")).to_contain_text("Saved on this phone")
        self.die()
        page = self.go("sheet", place.pk, section)
        look = page.locator(f'[id="item-{key}"]')
        expect(page.locator("[data-on-phone]")).to_contain_text("Carried on from")
        expect(look.locator("input[value=defect]")).to_be_checked()
        expect(look.locator("textarea")).to_have_value(CRACK)
        expect(look.locator("canvas")).to_have_count(1)
        fill_in(self.phone.hands, section, place, **{key: "defect"})
        self.sign("Sign sheet")
        assert "What is marked as a defect is out of service as soon as this arrives" in self.phone.said[-1]
        return key

    def rack(self, store: Place, slot: str) -> None:
        page = self.go("rack", store.pk, slot)
        page.get_by_label("How many did you have in your hands?").fill(str(len(make.RACK_TAGS[slot][1])))
        self.sign("Confirm and sign this rack")

    def ride(self, line: Place, mass: str) -> None:
        self.phone.hands.w = SimpleNamespace(**{**vars(self.w), "line": line})
        self.go("ride", line.pk)
        self.phone.hands.enter_ride(mass)
        self.sign("Sign this test ride")

    def take_out(self, part: Component) -> None:
        page = self.go("withdraw")
        page.locator("[name=code]").fill(part.tag)
        page.locator("[name=title]").fill(LOOSE)
        self.sign("Take out of service")

    def finding(self, line: Place) -> None:
        page = self.go("open_finding")
        page.locator("[name=place]").select_option(str(line.pk))
        page.locator("[name=title]").fill(SCRATCH)
        page.locator("label[for^=id_severity]").filter(has_text="Minor").tap()
        page.locator("[name=photo]").set_input_files(self.photo)
        page.locator("[type=submit][name=send]").tap()
        until(page, lambda: len(self.held()) > len(self.done))
        name, kind, _order = self.held()[-1]
        self.done.append((name, kind, timezone.now()))


@pytest.fixture
def signed_log(settings: Any, morning: datetime) -> Iterator[None]:
    """A morning on which histories are signed, so that a bundle can be checked to its end."""
    settings.LOG_KEY = log_key_text()
    with time_machine.travel(morning, tick=True):
        yield


@pytest.mark.parametrize("lines", [2, pytest.param(6, marks=pytest.mark.slow)])
def test_a_day_without_a_signal_is_the_day_with_one(
    lines: int, signed_log: None, morning: datetime, net: SpoiledNetwork, browser: Browser, tmp_path: Path
) -> None:
    w = make.ready(lines=lines, on=morning)
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(jpeg((2000, 900)))
    due = make.sections(w, at=timezone.now())
    if lines == 2:  # the mate does the rest before: the whole walk has two minutes of tapping
        own = {(w.line.pk, "cable"), (w.lines[1].pk, "launch"), (w.store.pk, "rack:A")}
        for place, section in due:
            if (place.pk, section) not in own:
                make.sign(w, place, section, by=w.mate, at=timezone.now())
        due = [(place, section) for place, section in due if (place.pk, section) in own]
    phone = Phone(w, w.technician, browser.browser_type, tmp_path / "profile", net.url)
    day = Day(w, phone, net, photo)
    try:
        load(day)
        net.spoil("refused")
        key = walk(day, due)
        come_back(day)
    finally:
        phone.window.close()
    assert phone.complaints == []
    as_recorded(day)
    as_with_a_signal(w, key, lines, morning)
    call_command("verify_ledger")
    vouched_for(w, tmp_path)


def load(day: Day) -> None:
    """At the course house: a key, and the pages of the day."""
    hands = day.phone.hands
    hands.read |= {"log-in", "keys"}  # read by others
    hands.log_in()
    keys_page(hands).get_by_label("Your password").fill(make.WORD)
    hands.send("Make a key on this device")
    page = take_along(hands)
    until(page, lambda: page.evaluate(KNOWN, static("js/clock.mjs")))


def walk(day: Day, due: list[tuple[Place, str]]) -> str:
    """All that is due; the phone dies over a sheet, and over what waits. Returns the key of what is defective."""
    w, key = day.w, ""
    for place, section in due:
        if (place.pk, section) == (w.line.pk, "cable"):
            key = day.sheet_with_a_defect(place, section)
        elif section.startswith("rack:"):
            day.rack(place, section.removeprefix("rack:"))
        else:
            day.sheet(place, section)
    day.take_out(part_of(w.line))
    day.finding(w.lines[1])
    waiting = day.held()
    day.die()
    day.go("walk")
    assert day.held() == waiting
    expect(day.page.locator("[data-outbox] li")).to_have_count(len(waiting))
    said_where_it_matters(day)
    for line in w.lines[1:]:
        for mass in ("35", "115"):
            day.ride(line, mass)
    assert not Sheet.objects.filter(signer_ref=w.technician.ref).exists()
    return key


def said_where_it_matters(day: Day) -> None:
    """What waits is on the rows that it is about: a page of the morning must not go on as if nothing were signed."""
    w, page = day.w, day.page
    expect(page.locator("[data-left]")).to_contain_text(f"{len(w.lines)} left to do, besides what is signed on this")
    expect(page.locator(".stage .mark.is-mine").first).to_have_text(re.compile(r"^Signed on this phone \d\d:\d\d, not"))
    expect(page.locator("[data-next]")).to_have_text(f"Next: test ride, {w.line}")
    expect(page.locator("[data-mine-lines]")).to_contain_text(f"Held on this phone, not sent: {w.line}, {w.lines[1]}.")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    day.go("board")
    for line in w.lines[:2]:
        expect(page.locator(f"#line-{line.number} .mark:visible")).to_have_text("Held on this phone, not sent")
    day.go("ride", w.line.pk)
    out = page.get_by_text("You have taken something of this line out of service: no ballast is sent.")
    expect(out).to_be_visible()
    day.go("ride", w.lines[1].pk)
    before = "Its checks are signed on this phone and go before the ride."
    expect(page.locator("[data-early]")).to_have_text(before, use_inner_text=True)
    expect(out).to_be_hidden()  # what was found there is minor


def part_of(line: Place) -> Component:
    return Component.objects.get(tag=f"BP-{line.number}P1", course=line.course)


SPOILT: list[str | int] = ["lost", 502, "portal", "truncated"]


def come_back(day: Day) -> None:
    """A log-in, and a network that does to what is sent whatever a network can, until it lets all of it through."""
    net = day.net
    net.mend()
    net.spoil("slow", path="/course/", method="POST", rate=400_000)
    for mode in SPOILT:
        net.spoil(mode, path="/course/", method="POST", times=len(day.w.lines) // 2)
    day.phone.hands.read.add("log-in")
    page = day.phone.hands.log_in().page
    for _turn in range(200):
        if not day.held():
            break
        again(page)
        page.wait_for_timeout(150)
    assert day.held() == []
    net.mend()
    page = day.phone.hands.go("board", read=False)
    until(page, lambda: StoredFile.objects.filter(kind="photo").exists())  # photos follow their deeds
    expect(page.locator("[data-outbox-waiting] li")).to_have_count(0)
    rows = [page.locator(f"#line-{line.number}") for line in day.w.lines]
    for row, word in zip(rows, ["Held"] + ["Ready"] * len(rows[1:]), strict=True):
        expect(row.locator(".mark").first).to_have_text(word)
    expect(rows[0]).to_contain_text(LOOSE)
    modes = {mode for method, path, mode in net.seen if method == "POST" and "/course/" in path}
    assert modes >= {*SPOILT, "slow"}


def as_recorded(day: Day) -> None:
    """Each deed stands there once, signed by the key of its person, in its order, at the time at which it was done."""
    w = day.w
    [key] = w.technician.keys.all()
    found = {}
    for name, kind, at in day.done:
        [entry] = Entry.objects.filter(act_id=name)
        record = entry.record
        assert (entry.kind, record["act"]["signer"]["ref"], record["sig"]["key"]) == (kind, w.technician.ref, key.key)
        assert acts.is_signed(bytes(key.public), record["sig"]["sig"], acts.message(kind, record["act"]))
        assert abs(datetime.fromisoformat(record["judged"]["true_at"]) - at) <= SECONDS, (kind, at)
        found[name] = entry.seq
    in_order = [found[name] for name, kind, _at in day.done if kind not in FIRST]
    assert in_order == sorted(in_order)
    kinds = {kind for _name, kind, _at in day.done}
    since = Entry.objects.filter(log=w.operator.log, seq__gte=min(found.values()), kind__in=kinds)
    assert since.count() == len(found)
    assert not Draft.objects.filter(person=w.technician).exists()
    [sha256] = Reading.objects.get(mark="defect").photos
    assert StoredFile.objects.get(sha256=sha256).width == 1600
    [by_hand] = Finding.objects.filter(course=w.course, severity="minor")
    assert FindingStep.objects.get(finding=by_hand, kind="opened").photos == [sha256]  # one picture, kept once


def as_with_a_signal(w: SimpleNamespace, key: str, lines: int, morning: datetime) -> None:
    """The lines stand as on a course where the same was done with a signal."""
    twin = make.ready(lines=lines, on=morning, name="Rook Vale")
    for place, section in make.sections(twin, at=timezone.now()):
        wrong = (place, section) == (twin.line, "cable")
        but = {key: {"mark": "defect", "note": CRACK, "kept": "defect"}} if wrong else {}
        make.sign(twin, place, section, at=timezone.now(), answers=but)
    now, deed = make.picture(twin, timezone.now()), make.deed(twin.technician, at=timezone.now())
    part = part_of(twin.line)
    actions.take_out_of_service(now, twin.line, title=LOOSE, component=part, slot="primary-1", deed=deed)
    deed = make.deed(twin.technician, at=timezone.now())
    actions.open_finding(now, twin.lines[1], title=SCRATCH, severity="minor", deed=deed)
    for line in twin.lines[1:]:
        for mass in ("35", "115"):
            make.ride(twin, line, at=timezone.now(), mass=mass)
    found = told(w)
    assert found == told(twin)
    assert [word for word, *_more in found] == ["held"] + ["ready"] * (lines - 1)


def told(w: SimpleNamespace) -> list[Any]:
    found = []
    for one in line_statuses(make.picture(w, timezone.now())):
        why = sorted((reason.code, reason.params) for reason in one.clearance.reasons)
        found.append((one.word, one.done, one.of, why))
    return found


def vouched_for(w: SimpleNamespace, folder: Path) -> None:
    """What the auditor's program says of the record to take away."""
    data = b"".join(begin_bundle(w.operator, at=timezone.now()).chunks())
    (folder / "bundle.zip").write_bytes(data)
    done = run(folder / "bundle.zip", "--key", Bundle.of(data).key)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
