"""A person with a window: logs in, taps, types, and counts what it takes."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any, ClassVar

from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import BrowserContext, Locator, Page, expect

from accounts.models import User
from courses.models import Place
from tests import make
from tests.axe import violations

BAD = frozenset({"serious", "critical"})  # axe-core's two upper degrees of impact
SEEN = "[innerWidth, matchMedia('(prefers-color-scheme: dark)').matches].join()"
SAVED = re.compile(r"^\s*Saved \d")


@dataclass
class Hands:
    """One person at one window. ``taps`` and ``figures`` count what was done since they were last set to nothing."""

    w: SimpleNamespace
    person: User
    window: BrowserContext
    taps: int = 0
    figures: int = 0
    wrong: list[str] = field(default_factory=list)
    read: ClassVar[set[tuple[str, str]]] = set()  # by whomever of this process: a page takes axe-core a second

    def __post_init__(self) -> None:
        self.page: Page = self.window.new_page()

    # --- to get somewhere
    def log_in(self) -> Hands:
        self.page.goto(reverse("account_login"))
        self.read_out("log-in")
        self.page.get_by_label("Email").fill(self.person.email)
        self.page.get_by_label("Password").fill(make.WORD)
        self.tap(self.page.get_by_role("button", name="Log in"))
        self.page.wait_for_url(lambda url: "login" not in url)
        return self

    def go(self, name: str, *more: Any, read: bool = True) -> Page:
        """Open a page of the course by its name."""
        app = "inspections" if ":" not in name else ""
        address = reverse(f"{app}:{name}" if app else name, args=[self.w.course.pk, *more])
        answer = self.page.goto(address)
        assert answer is not None
        assert answer.status == 200, f"{address}: {answer.status}"
        if read:
            self.read_out(name)
        return self.page

    def read_out(self, name: str) -> None:
        """Note what axe-core finds serious or critical on the page, and a page wider than the window.

        Once a name, width and theme.
        """
        as_seen = (name, self.page.evaluate(SEEN))
        if as_seen in self.read:
            return
        self.read.add(as_seen)
        for found in violations(self.page):
            if found["impact"] in BAD:
                self.wrong.append(f"{name}: {found['id']} at {[node['target'] for node in found['nodes']][:3]}")
        if self.page.evaluate("document.documentElement.scrollWidth > window.innerWidth"):
            self.wrong.append(f"{name}: wider than the window")

    # --- to do something
    def tap(self, what: Locator) -> None:
        self.taps += 1
        what.tap() if self.is_touched else what.click()

    @property
    def is_touched(self) -> bool:
        return bool(self.page.evaluate("navigator.maxTouchPoints > 0"))

    def type(self, where: Locator, text: str) -> None:
        self.figures += 1
        where.fill(text)

    def send(self, label: str) -> None:
        """Tap a button that sends a form, and wait for the page that comes after."""
        with self.page.expect_navigation():
            self.tap(self.page.get_by_role("button", name=label, exact=True))

    # --- the walk
    def answer(self, place: Place, section: str, *, but: dict[str, str] | None = None) -> None:
        """Answer every item of the sheet that is open: sound, figures as a new course has them; ``but`` says a mark.

        Waits until the server has answered for all of it.
        """
        good = make.answers(self.w, place, section, at=timezone.now())
        for key, answer in good.items():
            item = self.page.locator(f'[id="item-{key}"]')
            blanks = item.locator(".item__blank input")
            if blanks.count():
                first, *second = answer["text"].split(" / ")  # a pair of readings has a field for each
                self.type(blanks.first, first)
                for text in second:
                    blanks.last.fill(text)
                blanks.last.press("Enter")  # leaves the field
            elif item.locator("input[type=radio]").count():
                mark = (but or {}).get(key, "sound")
                self.tap(item.locator(f"label:has(input[value={mark}])"))
            else:
                continue
            item.locator("[data-answer] .mark").wait_for()  # read before the next one, as a person does
        expect(self.page.locator("[data-saved]")).to_have_text(SAVED, timeout=20000)

    def sheet(self, place: Place, section: str, *, read: bool = False) -> None:
        """Open a sheet, answer it, sign it; the walk comes back."""
        self.go("sheet", place.pk, section, read=read)
        self.answer(place, section)
        if read:
            self.read_out(f"sheet {section}, answered")
        self.send("Sign sheet")
        assert self.page.url.endswith("/walk/"), self.page.locator("main").inner_text()[:600]

    def rack(self, slot: str, count: int, *, read: bool = False) -> None:
        self.go("rack", self.w.store.pk, slot, read=read)
        self.type(self.page.get_by_label("How many did you have in your hands?"), str(count))
        self.send("Confirm and sign this rack")
        assert self.page.url.endswith("/walk/"), self.page.locator("main").inner_text()[:600]

    def ride(self, mass: str, *, read: bool = False) -> None:
        """Send ballast down the line once and enter what was seen."""
        page = self.go("ride", self.w.line.pk, read=read)
        self.enter_ride(mass)
        self.send("Sign this test ride")
        assert page.url.endswith("/walk/"), page.locator("main").inner_text()[:600]

    def enter_ride(self, mass: str) -> None:
        """Enter what was seen on the page of a ride that is open."""
        from inspections.actions.rides import ride_items

        page = self.page
        page.get_by_label("Who said at the landing that it was clear").fill("Runa Feld")
        self.type(page.locator("[name=mass]"), mass)
        self.type(page.locator("[name=wind]"), "2.1")
        for name, value in (("wind_from", "head"), ("state", "dry"), ("reached", "yes")):
            self.tap(page.locator(f"label:has(input[name={name}][value={value}])"))
        for item in ride_items(make.picture(self.w, timezone.now()), self.w.line):
            shown = page.locator(f'[id="item-{item["key"]}"]')
            if shown.locator("input[type=text]").count():
                self.type(shown.locator("input[type=text]"), make.RIDE_FIGURES.get(item["measures"], "0.1"))
            else:
                self.tap(shown.locator("label:has(input[value=sound])"))
