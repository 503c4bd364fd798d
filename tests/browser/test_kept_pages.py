"""Pages without a signal: there, saying since when, nobody else's, and never taken for ones of now.

The situations are those of a phone in hill country, from memory; there is no outside source for what a kept page says.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.templatetags.static import static
from django.urls import reverse
from playwright.sync_api import BrowserContext, Page, Route, expect

from inspections.models import Hold
from inspections.views import worker
from ledger.models import Entry
from tests import make
from tests.browser.alone import set_clock
from tests.browser.hands import Hands
from tests.browser.spoiled import SpoiledNetwork
from tests.conftest import PHONE

pytestmark = pytest.mark.django_db(transaction=True)
Open = Callable[[dict[str, Any]], BrowserContext]
KEPT = ".kept"


def carrying(w: SimpleNamespace, window: BrowserContext, person: Any = None) -> Hands:
    """Somebody logged in whose phone has the worker."""
    hands = Hands(w, person or w.technician, window).log_in()
    hands.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    return hands


def take_along(hands: Hands) -> Page:
    page = hands.go("today", read=False)
    page.get_by_role("button", name="Take").tap()
    page.locator("[data-along=all]").wait_for()
    return page


@pytest.fixture
def hands(w: SimpleNamespace, open_window: Open) -> Hands:
    return carrying(w, open_window(PHONE))


def test_a_day_taken_along_is_there_without_a_signal(hands: Hands) -> None:
    w = hands.w
    page = hands.go("today")
    say = page.locator("[data-along-say]")
    expect(say).to_have_text(re.compile(r"^[01] of [0-9]+ pages of today are on this phone\.|^Nothing of today"))
    expect(page.locator("[data-along-take]")).to_have_text("Take today along")
    take_along(hands)
    count = page.locator("[data-take]").count()
    expect(say).to_contain_text(f"All {count} pages of today are on this phone, as of 07:3")
    hands.read_out("today, taken along")
    hands.window.set_offline(True)
    for name, more in (("walk", ()), ("sheet", (w.line.pk, "cable")), ("board", ()), ("line", (w.line.pk,))):
        page = hands.go(name, *more, read=False)
        expect(page.locator(KEPT)).to_contain_text("No signal. As of 07:3")
        expect(page.locator(KEPT)).to_contain_text(
            "kept on this phone. What others signed or called since is not on it."
        )
        hands.read_out(f"{name}, kept")
    # A line's status is not told without its time, nor in the tone of one of now.
    hands.go("board", read=False)
    mark = page.locator(".board .mark").first
    expect(mark).to_contain_text("as of 07:3")
    assert mark.evaluate("one => getComputedStyle(one).color") == page.locator(".head__place").evaluate(
        "one => getComputedStyle(one).color"
    ), "the tone of what is beside the point"
    expect(page.locator("[data-refreshed]")).to_contain_text("No answer since 07:3")
    # The return wave tells its sag there: 15.07 s for three returns are 7.73 m (engineering.return_wave, READ there).
    hands.go("stopwatch", w.line.pk, read=False)
    page.locator("[name=time]").first.fill("15.07")
    page.get_by_role("button", name="What does it say?").tap()
    expect(page.locator("[data-sag-said]")).to_contain_text("Sag at mid-span 7.73 m ± 0.15 m, by this phone.")
    page.locator("[name=time]").first.fill("60")
    page.get_by_role("button", name="What does it say?").tap()
    expect(page.locator("[data-sag-said]")).to_contain_text(re.compile(r"A sag of [0-9.]+ % of the span, over 6 %"))
    # Nor does a form promise what only a signal can keep.
    hands.go("hold", read=False)
    expect(page.get_by_text("It counts at once.")).to_be_hidden()
    expect(page.get_by_text("Call it by radio first.")).to_be_visible()
    # What is not there says so and leads to what is.
    page.goto(reverse("courses:setup", args=[w.course.pk]))
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    hands.read_out("no signal")
    page.locator("[data-kept-pages]").get_by_role("link", name="Today's inspection").tap()
    expect(page.locator(KEPT)).to_be_visible()
    page.goto("/")
    expect(page.get_by_text("The day is on this phone.")).to_be_visible()
    page.locator(".buttons").get_by_role("link", name="Today's inspection").tap()
    expect(page.locator(KEPT)).to_be_visible()
    # And a form for paper is not answered by the one for the spot.
    page.goto(reverse("inspections:walk", args=[w.course.pk]) + "?paper=1")
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    hands.window.set_offline(False)
    hands.go("walk", read=False)
    expect(page.locator(KEPT)).to_be_hidden()
    assert hands.wrong == []


def test_a_copy_of_yesterday_says_so(hands: Hands) -> None:
    page = take_along(hands)
    set_clock(hands, datetime.now(UTC) + timedelta(days=1))
    hands.window.set_offline(True)
    hands.go("walk", read=False)
    expect(page.locator(KEPT)).to_contain_text(re.compile("This is Monday.s copy, as of 07:3"))
    assert page.locator(KEPT).evaluate("one => one.classList.contains('is-old')")
    hands.read_out("walk, yesterday's")
    page = hands.go("today", read=False)
    expect(page.locator("[data-along-say]")).to_contain_text(re.compile("What is on this phone is Monday.s copy"))
    assert hands.wrong == []


@pytest.mark.slow
def test_a_deed_from_a_kept_page_has_a_new_identity_each_time(hands: Hands) -> None:
    """Two holds from one copy of the walk are two holds."""
    take_along(hands)
    hands.window.set_offline(True)
    found = []
    for _time in range(2):
        page = hands.go("walk", read=False)
        expect(page.locator(KEPT)).to_contain_text("As of")
        found.append(page.locator(".stop input[name=deed_id]").input_value())
    assert found[0] != found[1]
    # A sheet keeps its own: signed twice it is one sheet.
    sheets = []
    for _time in range(2):
        page = hands.go("sheet", hands.w.line.pk, "cable", read=False)
        expect(page.locator(KEPT)).to_contain_text("As of")
        sheets.append(page.locator("form[data-act=act] input[name=deed_id]").input_value())
    assert sheets[0] == sheets[1]


@pytest.mark.parametrize("answer", [
    {"status": 200, "content_type": "text/html", "body": "<html><title>Guest network</title><h1>Welcome</h1></html>"},
    pytest.param({"status": 302, "headers": {"Location": "/elsewhere/"}}, marks=pytest.mark.slow),
    pytest.param({"status": 503, "content_type": "text/html", "body": "<h1>Down</h1>"}, marks=pytest.mark.slow),
], ids=["portal", "redirect", "503"])  # fmt: skip
@pytest.mark.slow
def test_what_answers_in_place_of_the_server_is_not_taken_for_it(hands: Hands, answer: dict[str, Any]) -> None:
    take_along(hands)
    came: list[str] = []

    def reply(route: Route) -> None:
        came.append(route.request.url)
        route.fulfill(**answer)

    hands.window.route("**/*", reply)  # what the worker asks for goes this way too
    page = hands.page
    page.goto(reverse("inspections:walk", args=[hands.w.course.pk]))
    assert came
    expect(page.locator(KEPT)).to_contain_text("No signal. As of 07:3")
    expect(page.get_by_role("heading", name="Today's inspection")).to_be_visible()
    hands.window.unroute("**/*")
    # It was not kept in the page's place either.
    hands.window.set_offline(True)
    hands.go("walk", read=False)
    expect(page.locator(KEPT)).to_contain_text("No signal. As of 07:3")


def names(page: Page) -> list[str]:
    return list(page.evaluate("caches.keys()"))


def test_logging_out_empties_the_phone_and_another_person_has_none_of_it(hands: Hands) -> None:
    w = hands.w
    page = take_along(hands)
    assert f"lineworthy-pages-{w.technician.ref}" in names(page)
    page.goto(reverse("account_logout"))
    hands.send("Log out")
    assert [one for one in names(page) if "-pages-" in one] == []
    hands.window.set_offline(True)
    page.goto(reverse("inspections:walk", args=[w.course.pk]))
    expect(page.get_by_text("No page is kept on this phone for whoever is logged in.")).to_be_visible()
    hands.window.set_offline(False)
    # Somebody logs in whose colleague forgot to log out: the session is another's from one moment to the next.
    hands.log_in()
    take_along(hands)
    hands.window.clear_cookies()
    other = carrying(w, hands.window, w.mate)
    other.go("findings", read=False)
    expect(other.page.locator("h1")).to_have_text("Findings")
    assert [one for one in names(other.page) if "-pages-" in one] in ([f"lineworthy-pages-{w.mate.ref}"], [])
    hands.window.set_offline(True)
    other.page.goto(reverse("inspections:walk", args=[w.course.pk]))
    expect(other.page.get_by_role("heading", name="No signal")).to_be_visible()


@pytest.mark.slow
def test_a_newer_worker_waits_until_nothing_is_being_filled_in(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    w = hands.w
    take_along(hands)
    page = hands.go("sheet", w.line.pk, "cable", read=False)
    field = page.locator("main input[type=radio]").first
    page.locator("main label:has(input[type=radio])").first.tap()
    expect(field).to_be_checked()
    monkeypatch.setattr(worker, "_version", lambda language: "another")
    other = hands.window.new_page()
    other.goto(reverse("inspections:board", args=[w.course.pk]))
    waits = "navigator.serviceWorker.getRegistration().then((one) => one.update()).then(() => true)"
    other.evaluate(waits)
    until(other, lambda: bool(other.evaluate(WAITING)))
    # Another page is opened while the sheet is: it goes on waiting, and the sheet is as it was.
    other.goto(reverse("inspections:findings", args=[w.course.pk]))
    other.wait_for_timeout(3500)
    assert other.evaluate(WAITING)
    assert field.is_checked()
    page.close()
    other.goto(reverse("inspections:board", args=[w.course.pk]))
    until(other, lambda: not other.evaluate(WAITING))
    assert "lineworthy-shell-another" in names(other)
    assert len([one for one in names(other) if "-shell-" in one]) == 2, (
        "the one before stays for pages that name its files"
    )
    hands.window.set_offline(True)
    other.goto(reverse("inspections:walk", args=[w.course.pk]))
    expect(other.locator(KEPT)).to_contain_text("As of 07:3")


def test_nobodys_pages_are_shown_until_the_server_says_who_logged_in(
    w: SimpleNamespace, net: SpoiledNetwork, open_window: Open
) -> None:
    """A log-in ran out; a colleague logs in where the signal is too weak for the page that comes after."""
    hands = carrying(w, open_window({**PHONE, "base_url": net.url}))
    page = hands.go("walk", read=False)
    page.wait_for_function("async () => Boolean(await caches.match(location.href))")
    hands.window.clear_cookies()
    walk = reverse("inspections:walk", args=[w.course.pk])
    page.goto(reverse("account_login") + f"?next={walk}")
    net.spoil("black hole", path="/walk/", method="GET", times=1)
    page.get_by_label("Email").fill(w.mate.email)
    page.get_by_label("Password").fill(make.WORD)
    page.get_by_role("button", name="Log in").tap(no_wait_after=True)
    until(page, lambda: net.count("GET", "/walk/") == 2)
    page.wait_for_timeout(3500)  # longer than the worker waits for a page that it has
    net.mend()
    expect(page.get_by_role("heading", name="No signal")).to_be_visible()
    page.goto(walk)
    assert page.evaluate("document.documentElement.dataset.person") == w.mate.ref
    expect(page.locator(KEPT)).to_be_hidden()


KEEP_PAPER = """async ([script, until, served, here]) => {
  const { keep, kept } = await import(script);
  const headers = { "Content-Type": "application/pdf", Date: served, ...(until && { "X-Lineworthy-Until": until }) };
  await keep("somebody", "/paper/", new Response("%PDF", { headers }));
  const real = Date.now;
  Date.now = () => real() + here;
  const found = Boolean(await kept("somebody", "/paper/"));
  Date.now = real;
  return found;
}"""


def test_a_paper_is_shown_on_its_day_alone_whatever_the_phones_clock_says(hands: Hands) -> None:
    """A launch card cannot say itself that it is old. How long its day lasts, the server's two times say."""
    served, end, hour = "Mon, 15 Jun 2020 15:00:00 GMT", "2020-06-16T01:00:00Z", 3600000

    def is_shown(until: str, after: int) -> bool:
        return bool(hands.page.evaluate(KEEP_PAPER, [static("js/keeping.mjs"), until, served, after]))

    assert is_shown(end, 9 * hour)
    assert not is_shown(end, 10 * hour)
    assert not is_shown(end, -hour), "the phone's clock was set back"
    assert not is_shown("", 0), "kept before its day was told"


WAITING = "navigator.serviceWorker.getRegistration().then((one) => Boolean(one.waiting))"


def until(page: Page, done: Callable[[], bool]) -> None:
    """Wait for what the page does not show."""
    for _turn in range(400):
        if done():
            return
        page.wait_for_timeout(50)
    assert done()


def test_what_waits_is_sent_with_no_page_open(w: SimpleNamespace, open_window: Open) -> None:
    """As Chromium's Background Sync has it: the browser wakes the worker, which sends what is held."""
    hands = with_key(carrying(w, open_window(PHONE)))
    page = take_along(hands)
    hands.go("walk", read=False)
    hands.window.set_offline(True)
    page.locator(".stop > summary").tap()
    page.get_by_role("button", name="Person on Line 1").tap()
    expect(page.locator("[data-outbox] li")).to_have_count(1)
    page.goto("about:blank")
    hands.window.set_offline(False)
    [running] = hands.window.service_workers
    # Until then something else may still be at it: the page that was left, the browser's own turn.
    until(page, lambda: running.evaluate(SYNC) == "done")
    assert Hold.objects.get().place_id == w.line.pk
    assert Entry.objects.filter(kind="hold").count() == 1


# What the browser does when there is a network again, said to the worker itself.
SYNC = """() => new Promise((done) => {
  const event = new SyncEvent("sync", { tag: "lineworthy-held" });
  event.waitUntil = (sending) => sending.then(() => done("done"), (error) => done(String(error)));
  self.dispatchEvent(event);
})"""


def with_key(hands: Hands) -> Hands:
    page = hands.page
    page.goto(reverse("accounts:keys", args=[hands.w.operator.pk]))
    page.get_by_label("Your password").fill(make.WORD)
    hands.send("Make a key on this device")
    return hands
