"""What a form says of its own showing: when, under which versions, with which tag code noted. Signed by the server."""

from __future__ import annotations

from dataclasses import dataclass

from django.core import signing
from django.http import HttpRequest
from django.utils.dateparse import parse_datetime

from inspections.actions.drafts import Opened
from inspections.models import Draft

OPENED = "opened"
_signer = signing.TimestampSigner(salt="inspections.sheet")


@dataclass(frozen=True)
class Shown:
    """``here`` is the tag code that was noted under the log-in of then, which may be another one by now."""

    opened: Opened
    here: dict[str, str]


def shown_as(draft: Draft, here: dict[str, str]) -> str:
    """Return what the form of a draft carries in its field ``opened``."""
    return _signer.sign_object({"at": draft.started_at.isoformat(), "versions": draft.versions, "here": here})


def shown_of(request: HttpRequest) -> Shown | None:
    """Return what a form that was sent says of its showing, if it does."""
    try:
        found = _signer.unsign_object(request.POST.get(OPENED, ""))
    except signing.BadSignature:
        return None
    at = parse_datetime(found["at"])
    return Shown(Opened(at, found["versions"]), found.get("here", {})) if at is not None else None
