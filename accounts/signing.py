"""A deed signed by a key of the person's own: the form is sent twice, first to learn what there is to sign.

The first time, with the header ``X-Lineworthy-Act: prepare``, everything is done as always up to the entry; there
it is given up (``deeds.Prepared``), the transaction is undone, and the answer is the act as it would be recorded. The
browser holds it to what it knows, signs it and sends the form as always, with its signature beside. What is then about
to be recorded must be, byte for byte, what was signed. So that it can be, the time of the deed comes back with it, and
the salts of its commitments come from a seed that is kept for some minutes and then forgotten.

Where a form does not come as far (something is missing, a password wrong), the page that answers it is kept for some
minutes, and the browser is told the address under which it is shown: it comes as any page does, with its scripts. What
was done without an entry of its own is answered with where to go on. Without script, or without a key, nothing of this
happens and the entry has no signature.

Signed is the entry of the deed itself. What is recorded along with it (``Deed.part``: the opening of a day, a part that
is put aside, a paper that is drawn) has no signature, nor has what a figure takes out of service while its sheet is
still being filled in: it takes effect at once, and nothing waits for a key. Such an entry says that no key signed it.

Without a signal a page that carries what its act will say (``inspections.alone``) signs alone: the device makes the
seed of the salts itself, builds the act as the server would, signs it and keeps it until it can be sent. Then it comes
once, with its seed, and is answered as ``accounts.receiving`` says. When it was signed follows from how far the
device's clock was off (``accounts.clock``), and it may then be as old as ``ALONE``, what only worsens as old as
``OLD_PAGE``; where that does not follow it counts as of its arrival, and the day of its page may not be longer past
(``inspections.views.frame``). Such a page builds the act with a signal too, and signs only what the server prepared
byte for byte the same. A device's seed serves the one deed it comes with and is kept nowhere.

Stands innermost, so that what every page is given (messages, headers) is given to these answers too.
"""

from __future__ import annotations

import re
import secrets
import uuid
from collections.abc import Callable
from contextlib import nullcontext
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Any

from django.contrib import messages
from django.core.cache import cache
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.cache import patch_cache_control

from accounts.clock import told_clock, told_time, true_time
from accounts.deeds import Prepared, Signing
from accounts.receiving import HEADER, as_received, is_sending
from ledger import chain, sealing
from ledger.actions import salted_by, seed_of

PREPARE = "prepare"
KEY, SIGNATURE, MADE_AT, SEEN, SEED = "_key", "_sig", "_made_at", "_seen", "_seed"
CLOCK, SENT_AT, PAGE_DATE = "_clock", "_sent_at", "_date"
DEED_ID = "deed_id"
SHOWN = "_shown"
SECONDS = 10 * 60
AHEAD = timedelta(seconds=5)
# How long before its arrival a deed may have been signed without a signal: a day in the hills, a night, and the morning
# after (judgement). A clock that is wrong is told in the record, not refused.
ALONE = timedelta(hours=36)
# How long before a hold or a defect may have been, or the page that it was signed on: whatever is told late, the tree
# lies there until somebody has looked (judgement).
OLD_PAGE = timedelta(days=14)
_SEED = re.compile(r"[0-9a-f]{64}")
_STATE = re.compile(r"([0-9]{1,15}):([0-9a-f]{64})")


def is_preparing(request: HttpRequest) -> bool:
    """Tell whether a request only asks for what there is to sign."""
    return request.method == "POST" and request.headers.get(HEADER) == PREPARE


def is_alone(request: HttpRequest) -> bool:
    """Tell whether the device of a deed has built the act itself, with a seed of its own."""
    return bool(request.POST.get(SIGNATURE) and _SEED.fullmatch(request.POST.get(SEED, "")))


def came_alone(request: HttpRequest) -> bool:
    """Tell whether a request brings a deed that its device signed before, alone.

    The header by itself says nothing: whoever is logged in can send it with a form that nobody signed.
    """
    return is_sending(request) and is_alone(request)


def signing_of(request: HttpRequest, *, at: datetime) -> tuple[Signing | None, datetime | None]:
    """Return how the deed of a request is signed, and when it was made; no time where that cannot be taken."""
    seen = _STATE.fullmatch(request.POST.get(SEEN, ""))
    state = (int(seen[1]), seen[2]) if seen else None
    if is_preparing(request):
        return Signing(state), None
    if not request.POST.get(SIGNATURE):
        return None, None
    made_at = said_at(request)
    true_at = true_at_of(request, at=at)
    is_old = true_at is not None and at - true_at > ALONE
    if made_at is None:
        is_late = True
    elif true_at is not None:
        is_late = at - true_at > OLD_PAGE
    elif is_alone(request):
        # Of a clock that nobody knows how wrong it is the day of the page alone says how old a deed is.
        is_late = page_date(request) is None and abs(at - made_at) > ALONE
    else:
        is_late = not timedelta() <= at + AHEAD - made_at <= timedelta(seconds=SECONDS) + AHEAD
    signing = Signing(
        state, request.POST.get(KEY, ""), request.POST[SIGNATURE], is_late, is_sending(request),
        clock=told_clock(request.POST.get(CLOCK, "")) if is_alone(request) else None,
        true_at=None if is_late else true_at, is_old=is_old,
    )  # fmt: skip
    return signing, None if is_late else made_at


def said_at(request: HttpRequest) -> datetime | None:
    """Return when the device of a request says that its deed was signed, if it says so."""
    return told_time(request.POST.get(MADE_AT, ""))


def true_at_of(request: HttpRequest, *, at: datetime) -> datetime | None:
    """Return when the deed of a request was really signed on a device that signed alone; None where that is unknown."""
    made_at = said_at(request)
    if made_at is None or not is_alone(request):
        return None
    clock, sent_at = told_clock(request.POST.get(CLOCK, "")), told_time(request.POST.get(SENT_AT, ""))
    return true_time(made_at, clock, sent_at=sent_at, at=at)


def page_date(request: HttpRequest) -> date | None:
    """Return the day of the page on which a deed was signed alone, if its device says it."""
    try:
        return date.fromisoformat(request.POST.get(PAGE_DATE, ""))
    except ValueError:
        return None


class SigningMiddleware:
    """Answer with what there is to sign, and give the salts of a deed back when it comes signed."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if (shown := _shown(request)) is not None:
            return _not_kept(shown)
        deed = _deed_of(request)
        if deed is None:
            return self.get_response(request)
        name = f"salts:{request.user.pk}:{deed}"
        seed = _own_seed(request, deed)
        if not is_preparing(request):
            if seed is None:
                seed = cache.get(name)
                cache.delete(name)
            if is_sending(request):
                messages.set_level(request, messages.WARNING)  # what comes next is said to who looks at a page
            with salted_by(seed) if seed else nullcontext():
                response = self.get_response(request)
            if "Location" in response:
                cache.delete(_page_name(request))
            return _not_kept(as_received(request, deed, response)) if is_sending(request) else response
        request.was_kept = True  # type: ignore[attr-defined] # nothing is taken yet: accounts.keep drops nothing
        if seed is None:
            seed = secrets.token_bytes(32)
            cache.set(name, seed, SECONDS)
        with salted_by(seed):
            return _not_kept(_as_told(request, self.get_response(request)))

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer a deed that was only prepared; its transaction was undone by the exception."""
        if not isinstance(exception, Prepared):
            return None
        state = sealing.newest(exception.operator.log)
        own = exception.operator.keys.filter(user=request.user.pk, ended_at=None)
        answer: dict[str, Any] = {
            "kind": exception.kind,
            "act": chain.canonical(exception.act).decode(),
            "log": str(exception.operator.log_id),
            "state": f"{state.size}:{bytes(state.root).hex()}" if state else "",
            "keys": list(own.values_list("key", flat=True)),
        }
        return JsonResponse(answer)


def _as_told(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Return what a browser's script is told where a prepared form was not answered with something to sign."""
    if "json" in response.get("Content-Type", ""):
        return response
    if "Location" in response:
        return JsonResponse({"to": response["Location"]})
    token = secrets.token_urlsafe(16)
    cache.set(_page_name(request), (_about(request, token), response.status_code, response.content), SECONDS)
    query = request.GET.copy()
    query[SHOWN] = token
    return JsonResponse({"to": f"{request.path}?{query.urlencode()}"})


def _not_kept(response: HttpResponse) -> HttpResponse:
    """Let no cache on the way or in the browser keep what a form would record, or the page that answered it."""
    patch_cache_control(response, private=True, no_store=True)
    return response


def _shown(request: HttpRequest) -> HttpResponse | None:
    """Return the page that answered a prepared form of this person at this address, while it is kept."""
    token = request.GET.get(SHOWN, "")
    if request.method != "GET" or not token or not request.user.is_authenticated:
        return None
    about, status, content = cache.get(_page_name(request)) or ("", 0, b"")
    return HttpResponse(content, status=status) if about == _about(request, token) else None


def _page_name(request: HttpRequest) -> str:
    """Return under what the page that answered last is kept: one for each person."""
    return f"shown:{request.user.pk}"


def _about(request: HttpRequest, token: str) -> str:
    return sha256(f"{request.path}\n{token}".encode()).hexdigest()


def _deed_of(request: HttpRequest) -> uuid.UUID | None:
    """Return the identity of a request's deed; None where nothing is signed."""
    if request.method != "POST" or not request.user.is_authenticated:
        return None
    if not (is_preparing(request) or request.POST.get(SIGNATURE)):
        return None
    try:
        return uuid.UUID(request.POST.get(DEED_ID, ""))
    except ValueError:
        return None


def _own_seed(request: HttpRequest, deed: uuid.UUID) -> bytes | None:
    """Return what the salts of a deed come from where its device made the seed, else None."""
    given = request.POST.get(SEED, "")
    return seed_of(bytes.fromhex(given), deed) if _SEED.fullmatch(given) else None
