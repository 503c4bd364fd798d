"""What every test may ask for: a database, a clock that stands still, a phone and a desk to look at pages with.

The database is the one of DATABASE_URL: SQLite without it, PostgreSQL under ``python -m tests.pg``.
"""

import contextlib
import os
import shutil
import socket
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from unittest import mock

import hypothesis
import pytest
import time_machine
from playwright.sync_api import Browser, BrowserContext, expect, sync_playwright
from playwright.sync_api import Error as PlaywrightError

BROWSER_NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome", "chrome")
BROWSER_FLAGS = [
    "--no-sandbox",  # needs rights that containers do not give; the pages are our own
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost, EXCLUDE 127.0.0.1",
]
BROWSER_FIXTURES = {"browser", "open_window", "phone", "desk"}

# Not UTC, so that a page which shows the server's time instead of the course's is noticed.
COMMON = {"locale": "en-GB", "timezone_id": "Europe/Vienna", "reduced_motion": "reduce"}
NO_WORKER = {"service_workers": "block"}  # for a window that needs no page without a signal
PHONE = {
    **COMMON,
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "has_touch": True,
    "is_mobile": True,
}
DESK = {**COMMON, "viewport": {"width": 1280, "height": 800}}

# How long one example takes says nothing beside a browser on two cores. A build draws the same examples every time.
hypothesis.settings.register_profile("here", deadline=None)
hypothesis.settings.register_profile("build", deadline=None, derandomize=True, print_blob=True)
hypothesis.settings.load_profile("build" if os.environ.get("CI") else "here")


# How long a page may take on a machine that has other work too: it costs time only where a test fails.
expect.set_options(timeout=20_000)


# --- the run

# Files that take a worker longer than any other, by CPU time.
LONGEST = {
    "tests/test_access.py",
    "tests/inspections/test_band.py",
    "tests/inspections/test_demo.py",
    "tests/reports/test_day_file.py",
    "tests/upgrade/test_upgrade.py",
    "tests/verifier/test_page_agrees.py",
}
FAILED = pytest.StashKey[bool]()


def find_browser() -> str | None:
    return next(filter(None, map(shutil.which, BROWSER_NAMES)), None)


def pytest_report_header(config: pytest.Config) -> list[str]:
    from django.conf import settings

    return [
        f"database: {settings.DATABASES['default']['ENGINE'].rpartition('.')[2]}",
        f"browser: {find_browser() or 'none found, so browser tests cannot run'}",
    ]


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> Iterator[None]:
    for item in items:  # before -m selects
        if BROWSER_FIXTURES & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.browser)
    yield
    # Files are dealt out whole and in this order: first the longest, then as pytest-django sorts what asks a database,
    # last the many short ones without, so that both workers end together.
    items.sort(key=lambda item: item.nodeid.partition("::")[0] not in LONGEST)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    report = yield
    if report.when == "call":
        item.stash[FAILED] = report.failed
    return report


@pytest.fixture(scope="session", autouse=True)
def only_loopback() -> Iterator[None]:
    """Refuse every connection to another machine, so that no test depends on one."""
    connect, connect_ex, look_up = socket.socket.connect, socket.socket.connect_ex, socket.getaddrinfo

    def here(host: Any) -> bool:
        name = host.decode() if isinstance(host, bytes) else host
        return name in (None, "", "localhost", "::1") or str(name).startswith("127.")

    def refuse(host: Any) -> None:
        if not here(host):
            raise PermissionError(f"A test tried to reach {host}; tests stay on this machine.")

    def guarded(original: Callable[..., Any]) -> Callable[..., Any]:
        def call(self: socket.socket, address: Any) -> Any:
            if self.family in (socket.AF_INET, socket.AF_INET6):
                refuse(address[0])
            return original(self, address)

        return call

    def guarded_look_up(host: Any, *arguments: Any, **keywords: Any) -> Any:
        refuse(host)
        return look_up(host, *arguments, **keywords)

    with (
        mock.patch.object(socket.socket, "connect", guarded(connect)),
        mock.patch.object(socket.socket, "connect_ex", guarded(connect_ex)),
        mock.patch.object(socket, "getaddrinfo", guarded_look_up),
    ):
        yield


@pytest.fixture(scope="session", autouse=True)
def static_files_listed_once() -> Iterator[None]:
    """List the folder of the static files once in a process, and not for each client that a test makes."""
    from whitenoise import WhiteNoise

    list_files, found = WhiteNoise.update_files_dictionary, {}

    def once(self: WhiteNoise, root: str, prefix: str) -> None:
        if root not in found:
            list_files(self, root, prefix)
            found[root] = dict(self.files)
        self.files.update(found[root])

    with mock.patch.object(WhiteNoise, "update_files_dictionary", once):
        yield


# --- time


@pytest.fixture(scope="session")
def morning() -> datetime:
    """The instant at which the tests' day begins: a Monday, half past seven in central Europe."""
    return datetime(2026, 6, 15, 5, 30, tzinfo=UTC)


@pytest.fixture
def clock(morning: datetime) -> Iterator[time_machine.Traveller]:
    """Stop the clock at `morning`; ``clock.shift(seconds)`` and ``clock.move_to(instant)`` set it on."""
    with time_machine.travel(morning, tick=False) as traveller:
        yield traveller


# --- the database


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Keep SQLite's test database in a file: in memory all threads would share one connection, and nothing could be
    learned about two phones that send at once."""
    from django.db import connections

    for connection in connections.all():
        if connection.vendor == "sqlite":
            connection.settings_dict["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


@pytest.fixture(scope="session")
def django_db_setup(collected_static: Path, append_only_tables_can_be_emptied: None, django_db_setup: None) -> None:
    """Add to pytest-django's set-up what pages and emptied tables need."""


@pytest.fixture(scope="session")
def collected_static() -> Path:
    """Collect the static files as an installation does, so that a name that leads nowhere fails here too."""
    from django.conf import settings
    from django.core.management import call_command

    call_command("collectstatic", interactive=False, verbosity=0)
    return Path(settings.STATIC_ROOT)


@pytest.fixture(scope="session")
def append_only_tables_can_be_emptied() -> Iterator[None]:
    """Let tests with real transactions empty the tables afterwards.

    The history's triggers refuse that, as they must; they are taken away for the moment of emptying alone, never while
    a test runs. Rows in the cache's table are no model's, so they are cleared here too: limits on wrong passwords
    would otherwise count from test to test.
    """
    from django.core.cache import caches
    from django.db import connections
    from django.test import TransactionTestCase

    from ledger import triggers

    empty = TransactionTestCase._fixture_teardown

    def empty_all(self: TransactionTestCase) -> None:
        for connection in connections.all():
            triggers.drop(connection)
        try:
            empty(self)
        finally:
            for connection in connections.all():
                triggers.create(connection)
        for cache in caches.all():
            cache.clear()

    with mock.patch.object(TransactionTestCase, "_fixture_teardown", empty_all):
        yield


# --- the browser


@pytest.fixture(scope="session")
def live_server(django_db_setup: None) -> Iterator[Any]:
    """Run the application for a browser, with whitenoise answering for static files.

    The usual live server puts a handler in front that knows the files by their plain names only and answers 404 for the
    hashed names in the pages.
    """
    from django.contrib.staticfiles import handlers
    from pytest_django.live_server_helper import LiveServer

    with mock.patch.object(handlers, "StaticFilesHandler", lambda application: application):
        server = LiveServer("localhost")
    yield server
    server.stop()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One Chromium for all browser tests of a worker."""
    program = find_browser()
    if program is None:
        reason = f"No browser: none of {', '.join(BROWSER_NAMES)} is on PATH."
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=program, args=BROWSER_FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture
def complaints() -> list[str]:
    """What the browser complained about: script errors, breaches of the content security policy, requests to elsewhere.

    A test fails if any is left at its end; one that provokes a complaint checks it and calls ``complaints.clear()``.
    """
    return []


@pytest.fixture
def open_window(
    browser: Browser, live_server: Any, complaints: list[str], request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[[dict[str, Any]], BrowserContext]]:
    """Return a function that opens a window of a given kind (PHONE, DESK) with cookies and storage of its own."""
    opened: list[BrowserContext] = []
    addresses: list[str] = [live_server.url]  # and those of a network that stands in front of it

    def note_console(message: Any) -> None:
        if "Content Security Policy" in message.text:
            complaints.append(message.text)

    def note_request(sent: Any) -> None:
        if not sent.url.startswith((*addresses, "data:", "blob:", "about:")):
            complaints.append(f"request to {sent.url}")

    def open_one(kind: dict[str, Any]) -> BrowserContext:
        context = browser.new_context(**{"base_url": live_server.url, **kind})
        addresses.append(kind.get("base_url", live_server.url))
        context.set_default_timeout(20_000)
        context.on("weberror", lambda error: complaints.append(str(error.error)))
        context.on("console", note_console)
        context.on("request", note_request)
        opened.append(context)
        return context

    yield open_one
    if request.node.stash.get(FAILED, False):
        pages = [page for context in opened for page in context.pages]
        for number, page in enumerate(pages):
            with contextlib.suppress(PlaywrightError):  # a page that cannot be pictured must not hide the failure
                page.screenshot(path=tmp_path / f"window-{number}.png")
                print(f"The window as it was: {tmp_path / f'window-{number}.png'}")
    for context in opened:
        context.close()
    assert complaints == []


@pytest.fixture
def phone(open_window: Callable[[dict[str, Any]], BrowserContext]) -> BrowserContext:
    """A phone's window, 390 x 844, touched with a finger, that keeps no page."""
    return open_window({**PHONE, **NO_WORKER})


@pytest.fixture
def desk(open_window: Callable[[dict[str, Any]], BrowserContext]) -> BrowserContext:
    """An office window, 1280 x 800, that keeps no page."""
    return open_window({**DESK, **NO_WORKER})
