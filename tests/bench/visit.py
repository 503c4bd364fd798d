"""What a phone loads on its first visit: log-in, board and all they need, as it goes over the wire."""

from __future__ import annotations

import os
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlsplit

MOST_KB = 150


def first_visit(w: SimpleNamespace) -> dict[str, Any]:
    """Serve this very installation, log in on a phone, and add up what came. Nothing may come from elsewhere."""
    from playwright.sync_api import sync_playwright

    from tests import make
    from tests.conftest import BROWSER_FLAGS, PHONE, find_browser
    from tests.screenshots import served

    loaded: list[tuple[str, int]] = []
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with served(dict(os.environ)) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find_browser(), args=BROWSER_FLAGS)
        window = browser.new_context(**PHONE)
        window.on("requestfinished", lambda sent: loaded.append((sent.url, weight(sent))))  # the worker's too
        page = window.new_page()
        page.goto(f"{address}/account/login/?next=/course/{w.course.pk}/")
        page.locator("[name=login]").fill(w.manager.email)
        page.locator("[name=password]").fill(make.WORD)
        page.locator("main button[type=submit]").click()
        page.wait_for_url(lambda url: "login" not in url)
        page.wait_for_load_state("networkidle")
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        browser.close()
        elsewhere = sorted({urlsplit(url).netloc for url, _size in loaded if not url.startswith((address, "data:"))})
    return {"kB": round(sum(size for _url, size in loaded) / 1000, 1), "files": len(loaded), "elsewhere": elsewhere}


def weight(sent: Any) -> int:
    sizes = sent.sizes()
    return int(sizes["responseBodySize"] + sizes["responseHeadersSize"])
