"""What a device is told that signed a deed alone and sends it when there is a signal again.

It lets go of what it holds only when it is told, as JSON, the identity of its act and the hash of what stands in the
history under that identity: ``{"id", "seq", "act"}``. A sentence, ``{"refused"}``, means that it was looked at and not
taken; it is kept there for its person to put right. Anything else (a page, a log-in, a server in trouble) counts as no
answer, and is tried again.

A form that is sent in the open is answered with a page. What was typed for it is kept on the device too, until a cookie
beside that page names the deed and its entry.
"""

from __future__ import annotations

from collections.abc import Callable
from hashlib import sha256
from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.translation import gettext as _

from accounts.models import Operator
from ledger import chain
from ledger.models import Entry

HEADER, SEND = "X-Lineworthy-Act", "send"
DEED_ID = "deed_id"
COOKIE, SECONDS = "lineworthy_received", 24 * 3600


def is_sending(request: HttpRequest) -> bool:
    """Tell whether a request brings a deed that was signed before, without a page that waits for the answer."""
    return request.method == "POST" and request.headers.get(HEADER) == SEND


def say_refused(request: HttpRequest, sentence: str) -> None:
    """Note in which sentence a deed was refused, for whoever sent it without looking at a page."""
    request.refused = sentence  # type: ignore[attr-defined]


def as_received(request: HttpRequest, deed: UUID | None, response: HttpResponse) -> HttpResponse:
    """Return what the device is told, after its deed was done or refused as from any page."""
    entry = _own_entry(request, deed)
    if entry is not None:
        act = entry.record["act"]
        told = {"id": act["id"], "seq": entry.seq, "act": sha256(chain.canonical(act)).hexdigest()}
        return JsonResponse(told)
    if response.status_code >= 500 or "json" in response.get("Content-Type", ""):
        return response
    sentence = getattr(request, "refused", "")
    if response.status_code == 403:
        sentence = sentence or _("You may not do this any more. Nothing was recorded.")
    elif response.status_code == 404:
        sentence = sentence or _("What this is about is not there any more. Nothing was recorded.")
    return JsonResponse(
        {"refused": sentence or _("The server did not take it as it is. Open its page and look at it again.")},
        status=422,
    )


class ReceiptMiddleware:
    """Name the entry of a deed beside the page that answers its form; for the page's scripts, so they may read it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if request.method != "POST" or "Location" not in response or not request.user.is_authenticated:
            return response
        deed = _uuid(request.POST.get(DEED_ID, ""))
        entry = _own_entry(request, deed)
        if entry is not None:
            response.set_cookie(
                COOKIE, f"{deed}.{entry.seq}", max_age=SECONDS, samesite="Lax", secure=settings.SESSION_COOKIE_SECURE
            )
        return response


def _own_entry(request: HttpRequest, deed: UUID | None) -> Entry | None:
    """Return what stands in the history under the identity of a deed, where it is this person's."""
    person = request.user
    logs = Operator.objects.filter(roles__user=person.pk).values("log")
    entry = Entry.objects.filter(log__in=logs, act_id=deed).first() if deed else None
    own = entry is not None and entry.record["act"]["signer"]["ref"] == getattr(person, "ref", "")
    return entry if own else None


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
