"""A filled-in sheet signed on a phone whose processor is six times as slow: from the tap to the page after it.

The same with a key of the person's own, which sends the form twice and signs in between, and without one. The server is
this machine, not slowed down, and there is no radio between: what is measured is the phone's part and the server's.

Run in a process of its own, with a record of its own: ``python -m tests.bench.signing`` prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from time import perf_counter
from types import SimpleNamespace
from typing import Any

from tests.bench.world import catch_up, course, install

SLOWER = 6
SHEETS = 4  # each way


def signed_on_a_slow_phone(w: SimpleNamespace) -> dict[str, Any]:
    """Serve this very installation and sign sheets of today; needs a course whose checklists are in force."""
    from playwright.sync_api import sync_playwright

    from inspections.models import Sheet
    from ledger.models import Entry
    from tests import make
    from tests.conftest import BROWSER_FLAGS, PHONE, find_browser
    from tests.screenshots import served

    now = datetime.now(UTC)
    catch_up(w, now)
    waiting = [
        one for one in make.sections(w, at=now) if make.picture(w, now).section(*one).items
    ][: 2 * SHEETS]  # fmt: skip
    for place, section in waiting:
        make.draft(w, place, section, at=now)
    before = Sheet.objects.count()
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with served(dict(os.environ)) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=BROWSER_FLAGS)
        window = browser.new_context(**PHONE)
        page = window.new_page()
        page.goto(f"{address}/account/login/?next=/course/{w.course.pk}/")
        page.locator("[name=login]").fill(w.technician.email)
        page.locator("[name=password]").fill(make.WORD)
        page.locator("main button[type=submit]").click()
        page.wait_for_url(lambda url: "login" not in url)
        slow = window.new_cdp_session(page)

        def sign(place: Any, section: str) -> float:
            slow.send("Emulation.setCPUThrottlingRate", {"rate": 1})
            page.goto(f"{address}/course/{w.course.pk}/sheet/{place.pk}/{section}/")
            page.wait_for_load_state("networkidle")
            button = page.get_by_role("button", name="Sign sheet", exact=True)
            slow.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            begun = perf_counter()
            button.tap()
            page.wait_for_url("**/walk/", wait_until="load")
            return 1000 * (perf_counter() - begun)

        plain = [sign(*one) for one in waiting[:SHEETS]]
        page.goto(f"{address}/operator/{w.operator.pk}/keys/")
        page.get_by_label("Your password").fill(make.WORD)
        page.get_by_role("button", name="Make a key on this device", exact=True).tap()
        page.get_by_text("This device has a key and signs with it.").wait_for()
        keyed = [sign(*one) for one in waiting[SHEETS:]]
        browser.close()
    newest = Entry.objects.filter(kind="sheet").order_by("-seq")[: len(waiting)]
    return {
        "slower": SLOWER,
        "ms": round(median(keyed)),
        "without_key_ms": round(median(plain)),
        "signed": Sheet.objects.count() - before,
        "of": len(waiting),
        "by_key": sum("sig" in one.record for one in newest),
    }


def main(database: str) -> None:
    with tempfile.TemporaryDirectory(prefix="lineworthy-bench-") as name:
        install(Path(name), database or f"sqlite:///{name}/bench.sqlite3")
        print(json.dumps(signed_on_a_slow_phone(course())))


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "")
