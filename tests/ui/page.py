"""Pages for the tests of the look: real templates, real style and scripts, answers that a test chooses."""

import json
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.template import engines
from django.test import RequestFactory
from playwright.sync_api import BrowserContext, Page, Route

ADDRESS = "/test-page/"
POLICY = "; ".join(
    f"{name} {' '.join(sources)}" for name, sources in settings.CONTENT_SECURITY_POLICY["DIRECTIVES"].items()
)


def draw(source: str, **context: Any) -> str:
    """Draw template text as a page of the application would be, without a request."""
    return engines["django"].from_string(source).render(context)


def show(window: BrowserContext, html: str) -> Page:
    """Open `html` in a window under the application's content security policy."""

    def answer(route: Route) -> None:
        route.fulfill(
            body=html, headers={"Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": POLICY}
        )

    page = window.new_page()
    page.route(lambda url: urlsplit(url).path == ADDRESS, answer)
    page.goto(ADDRESS)
    return page


def answer_json(page: Page, path: str, reply: Callable[[dict[str, str]], tuple[int, Any]]) -> None:
    """Answer POSTs to `path` with what `reply` makes of the fields sent: a status and a JSON value."""

    def answer(route: Route) -> None:
        status, value = reply(fields_of(route))
        route.fulfill(status=status, body=json.dumps(value), headers={"Content-Type": "application/json"})

    page.route(lambda url: urlsplit(url).path == path, answer)


def fields_of(route: Route) -> dict[str, str]:
    """Read the plain fields of a form as the server would."""
    sent = route.request
    request = RequestFactory().generic(
        "POST", ADDRESS, sent.post_data_buffer or b"", content_type=sent.headers["content-type"]
    )
    return {name: request.POST[name] for name in request.POST}
