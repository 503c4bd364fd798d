"""A paper that was drawn: its bytes are stored by hash, and the hash enters the history."""

from __future__ import annotations

from hashlib import sha256

from django.db import transaction

from accounts.deeds import Deed
from courses.actions import store_bytes
from courses.models import Course, Place, StoredFile
from inspections.entering import enter
from inspections.models import Paper, SignOff
from ledger.models import Entry


@transaction.atomic
def record_paper(
    course: Course,
    *,
    kind: str,
    number: str,
    pdf: bytes,
    date: str,
    deed: Deed,
    sign_off: SignOff | None = None,
    place: Place | None = None,
) -> Entry:
    """Keep a PDF as it was drawn and bind it to the history. It is never drawn again."""
    store_bytes(course.operator, pdf, kind=StoredFile.Kind.PAPER, media_type="application/pdf", deed=deed)
    body = {
        "paper_kind": Paper.Kind(kind).value,
        "number": number,
        "date": date,
        "sha256": sha256(pdf).hexdigest(),
        "size": len(pdf),
        "sign_off": str(sign_off.pk) if sign_off else "",
        "place": str(place.pk) if place else "",
    }
    return enter(course, "paper", body, deed=deed)
