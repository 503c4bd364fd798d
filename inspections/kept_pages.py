"""Which pages a phone may keep for the time without a signal, and whose they are: told in two headers.

``X-Lineworthy-Person`` stands on every page and paper: the reference of who is logged in, ``-`` for nobody. By it the
phone's worker (``static/js/worker.mjs``) knows a page of ours from what a guest network answers in its place.
``X-Lineworthy-Keep`` is ``1`` where a page may be kept; ``again`` where it could be, but says something that is said
once (that a sheet was signed), which would be a lie when it is shown later. ``X-Lineworthy-Until`` stands on a launch
card of today: when its day ends, ISO 8601 in UTC. A paper cannot say itself that it is old, so no other paper is kept.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse

PERSON = "X-Lineworthy-Person"
KEEP = "X-Lineworthy-Keep"
UNTIL = "X-Lineworthy-Until"

# No page that releases, opens or closes: those ask for a password, which only the server can check.
KEPT = frozenset({
    "accounts:keys",
    "inspections:board",
    "inspections:finding",
    "inspections:finding_add",
    "inspections:findings",
    "inspections:hold",
    "inspections:line",
    "inspections:open_finding",
    "inspections:rack",
    "inspections:ride",
    "inspections:sheet",
    "inspections:stopwatch",
    "inspections:today",
    "inspections:walk",
    "inspections:withdraw",
    "reports:paper",
})  # fmt: skip
TYPES = ("text/html", "application/pdf")


class KeptPagesMiddleware:
    """Stands behind the log-in and around everything that adds to a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: Any) -> HttpResponse:
        response = self.get_response(request)
        if response.get("Content-Type", "").partition(";")[0] not in TYPES:
            return response
        user: Any = getattr(request, "user", None)
        is_known = bool(user and user.is_authenticated)
        response[PERSON] = user.ref if is_known else "-"
        if is_known and _may_be_kept(request, response):
            response[KEEP] = "again" if _said_once(request) else "1"
        return response


def _may_be_kept(request: HttpRequest, response: HttpResponse) -> bool:
    match = request.resolver_match
    return (
        request.method == "GET"
        and match is not None
        and match.view_name in KEPT
        and not request.GET
        and response.status_code == 200
        and "no-store" not in response.get("Cache-Control", "")
        and (UNTIL in response or response["Content-Type"] != "application/pdf")
    )


def _said_once(request: HttpRequest) -> bool:
    return bool(getattr(getattr(request, "_messages", None), "used", False))
