"""A phone says hello: who is logged in on it, what it holds; it is told the time, and the token its forms go with."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from inspections.actions.phones import say_hello
from inspections.errors import Refused
from inspections.phones import uuid_of

PHONE = "phone"  # in the session: which phone it is on
LARGEST = 200_000  # bytes of one hello: 200 deeds with their titles and addresses need half of it


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def hello(request: HttpRequest) -> JsonResponse:
    """Answer ``{"person", "csrf", "now"}``, whoever asks; what cannot be taken is told beside it, as ``refused``.

    ``person`` is empty where nobody is logged in any more. ``now`` is to the millisecond, for a phone that measures how
    far its own clock is off.
    """
    at = timezone.now()
    person: Any = request.user if request.user.is_authenticated else None
    refused, status = "", 200
    if request.method == "POST" and person is not None:
        try:
            _take(request, person, at)
        except Refused as why:
            refused, status = why.sentence, 429 if why.code == "phones-many" else 422
    now = at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    told = {"person": person.ref if person else "", "csrf": get_token(request), "now": now}
    response = JsonResponse({**told, "refused": refused} if refused else told, status=status)
    patch_cache_control(response, private=True, no_store=True)
    return response


def _take(request: HttpRequest, person: Any, at: datetime) -> None:
    said = _read(request)
    phone, held = uuid_of(said.get("phone")), said.get("held")
    if phone is None or not isinstance(held, list):
        raise Refused("phone-kind", _("What this phone says cannot be read."))
    say_hello(person, phone, held=held, has=_day(said.get("has")), at=at)
    if request.session.get(PHONE) != str(phone):
        request.session[PHONE] = str(phone)


def _read(request: HttpRequest) -> dict[str, Any]:
    if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST:
        raise Refused("phone-full", _("More is held on this phone than can be told."))
    try:
        said = json.loads(request.body)
    except (ValueError, RecursionError):
        said = None
    return said if isinstance(said, dict) else {}


def _day(text: Any) -> date | None:
    try:
        return date.fromisoformat(text)
    except (TypeError, ValueError):
        return None
