"""What a device is told that signed a deed alone and sends it when there is a signal again.

It lets go of what it holds only when it is told, as JSON, the identity of its act and the hash of what stands in the
history under that identity: ``{"id", "seq", "act"}``. A sentence, ``{"refused"}``, means that it was looked at and not
taken; it is kept there for its person to put right. Anything else (a page, a log-in, a server in trouble) counts as no
answer, and is tried again.
"""

from __future__ import annotations

from hashlib import sha256
from uuid import UUID

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.translation import gettext as _

from accounts.models import Operator
from ledger import chain
from ledger.models import Entry

HEADER, SEND = "X-Lineworthy-Act", "send"


def is_sending(request: HttpRequest) -> bool:
    """Tell whether a request brings a deed that was signed before, without a page that waits for the answer."""
    return request.method == "POST" and request.headers.get(HEADER) == SEND


def say_refused(request: HttpRequest, sentence: str) -> None:
    """Note in which sentence a deed was refused, for whoever sent it without looking at a page."""
    request.refused = sentence  # type: ignore[attr-defined]


def as_received(request: HttpRequest, deed: UUID | None, response: HttpResponse) -> HttpResponse:
    """Return what the device is told, after its deed was done or refused as from any page."""
    person = request.user
    logs = Operator.objects.filter(roles__user=person.pk).values("log")
    entry = Entry.objects.filter(log__in=logs, act_id=deed).first() if deed else None
    if entry is not None and (act := entry.record["act"])["signer"]["ref"] == getattr(person, "ref", ""):
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
