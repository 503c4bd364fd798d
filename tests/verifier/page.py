"""The modules of the page that checks a bundle, loaded once in a browser, and handed what the program is handed."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterator
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route

from reports.verifier import verify as v
from tests.verifier.record import NOW, Bundle

MODULES = Path(__file__).resolve().parents[2] / "static" / "js" / "verify"
ADDRESS = "http://localhost:9"  # nothing listens there: what the browser asks for is answered from the files


@pytest.fixture(scope="module")
def window(browser: Browser) -> Iterator[Page]:
    """A page with the modules loaded once."""

    def answer(route: Route) -> None:
        name = route.request.url.removeprefix(f"{ADDRESS}/")
        if name:
            route.fulfill(body=(MODULES / name).read_text(), content_type="text/javascript")
        else:
            route.fulfill(body="<!doctype html><title>Check</title>", content_type="text/html")

    context = browser.new_context()
    page = context.new_page()
    page.route(f"{ADDRESS}/**", answer)
    page.goto(f"{ADDRESS}/")
    page.evaluate("""async () => {
        const [check, verdict] = await Promise.all([import("/check.mjs"), import("/verdict.mjs")]);
        window.look = async ({ packed, asked, now }) => {
            const bytes = Uint8Array.fromBase64(packed);
            const found = await check.verify(new Blob([bytes]), check.askedOf(asked), { now });
            return {
                level: found.level,
                said: Object.fromEntries(Object.entries(found.said).map(([name, said]) =>
                    [name, said.map(({ level, sentence }) => [level, sentence])])),
                faults: found.checks("FAULT"), limits: found.checks("limit"), notes: found.checks("note"),
                text: verdict.report(found, "bundle.zip"),
            };
        };
    }""")
    yield page
    context.close()


def in_browser(
    window: Page,
    data: bytes | Bundle,
    *,
    keys: Any = (),
    prev: Any = (),
    witnesses: Any = (),
    days: int | None = None,
    now: datetime = NOW,
) -> dict[str, Any]:
    """Check with the page's modules what ``record.check`` checks with the program."""
    packed = data if isinstance(data, bytes) else data.packed()
    program = sha256(Path(v.__file__).read_bytes()).hexdigest()
    asked = {"keys": list(keys), "witnesses": list(witnesses), "saved": list(prev), "days": days, "program": program}
    found: dict[str, Any] = window.evaluate(
        "look", {"packed": b64encode(packed).decode(), "asked": asked, "now": now.timestamp() * 1000}
    )
    return found
