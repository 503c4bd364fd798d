"""What a phone shows where the network is poor or away: the first page, a kept sheet, the answer to a tap.

The phone's processor is six times as slow as this machine's, or as it is; poor is what browsers' makers call slow 3G
(400 kbit/s, 400 ms for a round trip; from memory). The server is this machine, not slowed down. The browser slows down
what pages do, not their worker.

Run in a process of its own, with a record of its own: ``python -m tests.bench.offline`` prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import chain
from pathlib import Path
from statistics import median, quantiles
from types import SimpleNamespace
from typing import Any

from tests.bench.world import catch_up, course, install

SLOWER, ITEMS = 6, 60
BYTES_PER_S, LATENCY_MS = 400_000 // 8, 400
VISITS, RELOADS, SHEETS, REST_MS = 3, 7, 3, 700
PRESS_MS = 80  # a finger stays on the glass for about as long (common practice, no source)
MOST_PAINT_MS, MOST_RELOAD_MS, MOST_TAP_MS = 3000, 500, 100

PAINTED = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"
LOADED = "performance.getEntriesByType('navigation')[0].loadEventEnd"
IS_KEPT = "async (path) => Boolean(await caches.match(path, { ignoreVary: true }))"
# Each interaction from the finger to the frame after it (Event Timing API, which leaves out what is below 16 ms), and
# from the finger until the verdict stands beside the item.
WATCHED = """() => {
  [window.taps, window.keys] = [new Map(), new Map()];
  window.verdicts = [];
  new PerformanceObserver((list) => {
    for (const { name, interactionId: id, duration } of list.getEntries()) {
      const found = name.startsWith("key") ? window.keys : window.taps;
      if (id) found.set(id, Math.max(duration, found.get(id) ?? 0));
    }
  }).observe({ type: "event", durationThreshold: 16 });
  const since = new Map();
  const lifted = ({ target }) => since.set(target.closest("[data-item]"), performance.now());
  document.addEventListener("pointerup", lifted, true);
  new MutationObserver((changes) => {
    for (const { target, addedNodes } of changes) {
      const item = target.closest("[data-item]");
      if (!since.has(item) || ![...addedNodes].some((one) => one.querySelector?.(".mark"))) continue;
      window.verdicts.push(performance.now() - since.get(item));
      since.delete(item);
    }
  }).observe(document.querySelector("main"), { childList: true, subtree: true });
}"""


def lengthen(w: SimpleNamespace, now: datetime, line: Any, section: str = "landing") -> None:
    """Give a section of a line so many items that a sheet asks for sixty."""
    from tests import make

    picture = make.picture(w, now)
    found = picture.section(line, section)
    assert found is not None
    content = picture.setup.checklist(line).content
    looks = [one for one in content["items"] if one["key"] in {item["key"] for item in found.items}]
    looks = [one for one in looks if one["kind"] == "look"]
    more = []
    for number in range(ITEMS - len(found.items)):
        one = looks[number % len(looks)]
        code = f"MORE-{number + 1}"
        more.append({**one, "code": code, "key": f"{code}@{one['key'].split('@')[1]}"})
    make.settle(w, "checklist", {**content, "items": [*content["items"], *more]}, at=now, place=line)


class Phone:
    """A window of a phone at the served installation, whose network and processor are as a measure needs them."""

    def __init__(self, browser: Any, address: str, cookies: Any = ()) -> None:
        from tests.conftest import PHONE

        self.window = browser.new_context(**PHONE, base_url=address)
        self.window.add_cookies(list(cookies))
        self.page = self.window.new_page()
        self.browser = self.window.new_cdp_session(self.page)

    def slow(self, rate: int) -> None:
        self.browser.send("Emulation.setCPUThrottlingRate", {"rate": rate})

    def poor_network(self) -> None:
        network = {"latency": LATENCY_MS, "downloadThroughput": BYTES_PER_S, "uploadThroughput": BYTES_PER_S}
        self.browser.send("Network.enable")
        self.browser.send("Network.emulateNetworkConditions", {"offline": False, **network})

    def log_in(self, w: SimpleNamespace) -> Phone:
        from tests import make

        self.page.goto(f"/account/login/?next=/course/{w.course.pk}/")
        self.page.locator("[name=login]").fill(w.technician.email)
        self.page.locator("[name=password]").fill(make.WORD)
        self.page.locator("main button[type=submit]").click()
        self.page.wait_for_url(lambda url: "login" not in url)
        self.page.wait_for_load_state("networkidle")
        self.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        return self

    def keep(self, path: str) -> None:
        """Open a page until it is kept on the phone."""
        for _turn in range(20):
            self.page.goto(path)
            self.page.wait_for_load_state("networkidle")
            if self.page.evaluate(IS_KEPT, path):
                return
            self.page.wait_for_timeout(250)
        raise SystemExit(f"{path} is not kept on the phone")


def first_paint(browser: Any, address: str, path: str, cookies: Any = ()) -> int:
    """Return the milliseconds until a page shows something, opened by a phone that has nothing of it yet."""
    times = []
    for _visit in range(VISITS):
        phone = Phone(browser, address, cookies)
        phone.poor_network()
        phone.slow(SLOWER)
        phone.page.goto(path, wait_until="load")
        phone.page.wait_for_timeout(200)
        times.append(phone.page.evaluate(PAINTED))
        phone.window.close()
    assert all(times)
    return round(median(times))


def reloaded(phone: Phone, path: str, rate: int) -> dict[str, int]:
    """Return the milliseconds until a kept page is painted, and until it is there with its scripts, without network."""
    phone.keep(path)
    phone.window.set_offline(True)
    phone.slow(rate)
    painted, loaded = [], []
    for _reload in range(RELOADS):
        phone.page.reload(wait_until="load")
        phone.page.wait_for_timeout(200)
        assert phone.page.locator("html[data-kept]").count()
        painted.append(phone.page.evaluate(PAINTED))
        loaded.append(phone.page.evaluate(LOADED))
    phone.slow(1)
    phone.window.set_offline(False)
    return {"painted_ms": round(median(painted)), "loaded_ms": round(median(loaded))}


def finger(phone: Phone, where: Any) -> None:
    """Touch a place as a finger does, with nothing between that looks first whether it can be touched."""
    page = phone.page
    where.evaluate("(one) => one.scrollIntoView({ block: 'center' })")  # clear of the bar
    page.wait_for_timeout(REST_MS)  # what was drawn for the tap before is not part of this one
    box = where.bounding_box()
    at = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
    phone.browser.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [at]})
    page.wait_for_timeout(PRESS_MS)
    phone.browser.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def tapped(phone: Phone, path: str) -> tuple[int, list[float], list[float], list[float]]:
    """Answer every item of a long sheet without a signal, most by a tap.

    Return how many there are, and in ms what the taps took, the keys, and the verdicts until they stood there.
    """
    page = phone.page
    phone.keep(path)
    phone.window.set_offline(True)
    page.reload()
    page.evaluate(WATCHED)
    phone.slow(SLOWER)
    items = page.locator("form [data-item]")
    count = items.count()
    answers: list[Any] = []
    for number in range(count):
        item = items.nth(number)
        blank = item.locator(".item__blank input")
        if blank.count():
            blank.first.fill("1")
            blank.first.press("Enter")
        elif item.locator("input[type=radio]").count():  # every fifth is a defect, which is asked back
            answer = "defect" if number % 5 == 4 else "sound"
            finger(phone, item.locator(f"label:has(input[value={answer}])"))
            answers.append(item.locator(f"input[value={answer}]"))
    page.wait_for_timeout(1500)
    assert all(answer.is_checked() for answer in answers), "a finger has missed"
    taps, keys, verdicts = page.evaluate("[[...window.taps.values()], [...window.keys.values()], window.verdicts]")
    phone.slow(1)
    phone.window.set_offline(False)
    return count, taps, keys, verdicts


def all_tapped(phone: Phone, paths: list[str]) -> dict[str, Any]:
    """Answer some long sheets, one after the other, and say how long an answer took."""
    counts, *found = zip(*(tapped(phone, path) for path in paths), strict=True)
    taps, keys, verdicts = (list(chain.from_iterable(those)) for those in found)
    return {
        "items": counts[0],
        "sheets": len(counts),
        "taps": len(taps),
        "median_ms": round(median(taps)),
        "p98_ms": round(quantiles(taps, n=50)[-1]),
        "most_ms": round(max(taps)),
        "enter_ms": round(max(keys)),
        "verdict_ms": round(median(verdicts)),
    }


def measure(w: SimpleNamespace) -> dict[str, Any]:
    from playwright.sync_api import sync_playwright

    from tests.conftest import BROWSER_FLAGS, find_browser
    from tests.screenshots import served

    now = datetime.now(UTC)
    catch_up(w, now)
    long = w.lines[-SHEETS:]
    for line in long:
        lengthen(w, now, line)
    up = f"/course/{w.course.pk}/"
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with served(dict(os.environ)) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=BROWSER_FLAGS)
        phone = Phone(browser, address).log_in(w)
        cookies = phone.window.cookies()
        found = {
            "log_in_ms": first_paint(browser, address, "/account/login/"),
            "board_ms": first_paint(browser, address, up, cookies),
            "walk_ms": first_paint(browser, address, f"{up}walk/", cookies),
            "reload": {str(rate): reloaded(phone, f"{up}sheet/{w.lines[1].pk}/landing/", rate) for rate in (1, SLOWER)},
            "taps": all_tapped(phone, [f"{up}sheet/{line.pk}/landing/" for line in long]),
        }
        browser.close()
    return found


def rows(found: dict[str, Any]) -> Iterator[tuple[str, str, str, bool | None]]:
    """Yield what is shown: what, how much, its budget, whether that is kept."""
    first = [found["log_in_ms"], found["board_ms"], found["walk_ms"]]
    yield (
        f"slow 3G, {SLOWER} times as slow: first paint",
        f"log-in {first[0]}, board {first[1]}, walk {first[2]} ms",
        f"≤ {MOST_PAINT_MS} ms",
        max(first) <= MOST_PAINT_MS,
    )
    as_it_is, slow = found["reload"]["1"], found["reload"][str(SLOWER)]
    yield (
        "kept sheet without network: there, painted",
        f"{as_it_is['loaded_ms']}, {as_it_is['painted_ms']} ms",
        f"≤ {MOST_RELOAD_MS} ms",
        as_it_is["loaded_ms"] <= MOST_RELOAD_MS,
    )
    yield f"the same, {SLOWER} times as slow", f"{slow['loaded_ms']}, {slow['painted_ms']} ms", "", None
    taps = found["taps"]
    yield (
        f"sheet of {taps['items']} items, {SLOWER} times as slow: a tap",
        f"median {taps['median_ms']}, 98 % {taps['p98_ms']}, most {taps['most_ms']} ms",
        f"≤ {MOST_TAP_MS} ms",
        taps["p98_ms"] <= MOST_TAP_MS and taps["items"] == ITEMS,
    )
    yield f"the same, {taps['sheets']} sheets", f"{taps['taps']} taps", "", None
    yield "the same, Enter behind a figure", f"most {taps['enter_ms']} ms", "", None
    yield "the same, until its verdict stands there", f"{taps['verdict_ms']} ms (rests 250 of them)", "", None


def main(database: str) -> None:
    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-") as name:
        install(Path(name), database or f"sqlite:///{name}/bench.sqlite3")
        print(json.dumps(measure(course())))


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "")
