"""The page that checks a bundle in the browser finds what the program finds, attack by attack.

Whatever a test of the modules below hands to the program is handed to the page's own modules as well, in a browser, as
of the same instant; level, checks, and every sentence have to be the same, but for the few that are named here.
"""

from __future__ import annotations

import importlib
import re
from base64 import b64encode
from collections.abc import Iterator
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Route

from reports.verifier import verify as v
from tests.verifier import record
from tests.verifier.record import NOW, Bundle

HERE = Path(__file__).parent
MODULES_OF_PAGE = Path(__file__).resolve().parents[2] / "static" / "js" / "verify"
ADDRESS = "http://localhost:9"  # nothing listens there: what the browser asks for is answered from the files
PROGRAM = sha256(Path(v.__file__).read_bytes()).hexdigest()

ALSO = ("test_bundle", "test_forms", "test_keys", "test_people")
TESTED: list[ModuleType] = [
    importlib.import_module(f"tests.verifier.{name}")
    for name in (*sorted(one.stem for one in HERE.glob("test_attacks*.py")), *ALSO)
]
# These change the program itself for the time of a test, which the page cannot know.
PROGRAM_CHANGED = {
    "test_where_the_time_zone_is_not_known_it_is_told",
    "test_too_much_is_refused_before_it_is_unpacked",
    "test_what_is_longer_than_it_can_be_is_not_read_on",
}

for _module in TESTED:
    for _name, _test in list(vars(_module).items()):
        if (
            isinstance(_test, FunctionType)
            and _name.startswith("test_")
            and "check" in _test.__code__.co_names
            and _name not in PROGRAM_CHANGED
        ):
            globals()[f"test_{_module.__name__.rpartition('.')[2].removeprefix('test_')}{_name[4:]}"] = _test


@pytest.fixture(scope="module")
def window(browser: Browser) -> Iterator[Page]:
    """A page with the modules loaded once."""

    def answer(route: Route) -> None:
        name = route.request.url.removeprefix(f"{ADDRESS}/")
        if name:
            route.fulfill(body=(MODULES_OF_PAGE / name).read_text(), content_type="text/javascript")
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
    asked = {"keys": list(keys), "witnesses": list(witnesses), "saved": list(prev), "days": days, "program": PROGRAM}
    found: dict[str, Any] = window.evaluate(
        "look", {"packed": b64encode(packed).decode(), "asked": asked, "now": now.timestamp() * 1000}
    )
    return found


# Where each speaks of itself.
OF_ITSELF = [
    (r"is not the text that this (program|page) knows", "is not the text that is known"),
    (r"in the bundle is not (this program|the program that this page offers)", "in the bundle is not the program"),
]
# Faults in which each tells in its own reader's words why bytes cannot be read.
OWN_REASONS = [
    (r"or is no ZIP file: .*", "or is no ZIP file: (why)"),
    (r"^(Line \d+( of disclosures\.jsonl)?|log/\S+): .*", r"\1: (why)"),
]


def alike(sentence: str, patterns: list[tuple[str, str]]) -> str:
    for pattern, words in patterns:
        sentence = re.sub(pattern, words, sentence, flags=re.DOTALL)
    return sentence


def differences(program: v.Found, page: dict[str, Any]) -> list[str]:
    """Return where they do not agree, as lines."""
    found = []
    for what, one, other in (
        ("level", program.level, page["level"]),
        *((f"checks with {level}", program.checks(level), page[f"{level.lower()}s"]) for level in LEVELS),
    ):
        if one != other:
            found.append(f"{what}: {one} by the program, {other} on the page")
    words = OF_ITSELF + OWN_REASONS
    for check in v.CHECKS:
        said = [[level, alike(sentence, words)] for level, sentence in program.said[check]][: v.MOST_SHOWN]
        told = [[level, alike(sentence, words)] for level, sentence in page["said"][check]]
        if said != told:
            found.append(f"{check}: {program.said[check]} by the program, {page['said'].get(check)} on the page")
    return found


LEVELS = ("FAULT", "limit", "note")


@pytest.fixture(autouse=True)
def both(window: Page, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let every check of a test be made by both."""
    made = []

    def check(data: bytes | Bundle, **asked: Any) -> v.Found:
        asked = {name: one if name in ("days", "now") else list(one) for name, one in asked.items()}
        found = record.check(data, **asked)
        page = in_browser(window, data, **asked)
        assert differences(found, page) == []
        if found.level > 1:  # then no sentence was left out of the comparison: the whole text is the same
            text = " ".join(page["text"].split())
            assert alike(text, OF_ITSELF) == alike(record.told(found), OF_ITSELF)
        made.append(found.level)
        return found

    for module in TESTED:
        monkeypatch.setattr(module, "check", check)
    yield
    assert made
