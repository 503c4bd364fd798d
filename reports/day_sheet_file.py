"""From the data of a day sheet to the file that is kept: drawn, made PDF/A-3b with the day's entries in it, signed.

Whatever of it fails, there is a day sheet, and it says on itself what it lacks.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from inspections.models import SignOff
from ledger.models import Checkpoint
from reports.day_entries import PROOF, DayEntries, day_entries
from reports.papers.archive import LEVEL, NotArchivable, archived
from reports.papers.day_sheet import draw_day_sheet
from reports.papers.photos import Photos
from reports.pdf_key import PdfKey, PdfKeyError, configured
from reports.pdf_signing import NotSigned, signed

logger = logging.getLogger(__name__)
Data = dict[str, Any]


def made(data: Data, sign_off: SignOff, state: Checkpoint | None, *, photos: Photos, at: datetime) -> bytes:
    """Return the day sheet of one revision as it is to be kept. ``state``: the signed state of the record it shows."""
    attached = day_entries(sign_off, state)

    def drawn(whose: Data, archive: bool = True) -> bytes:
        told = {"archive": f"PDF/A-{LEVEL}" if archive else "", **_told(attached), **whose}
        return draw_day_sheet(data | {"file": told}, photos=photos)

    key, why = _key(at)
    if key is not None:
        try:
            pdf = archived(drawn({"signed": _whose(key)}), attached.files, at=at)
            return signed(pdf, key, at=at, reason=_reason(data), location=data["course"].get("name", ""))
        except NotSigned:
            logger.exception("The day sheet of %s was not signed as a file.", data["date"])
            why = _("The program that signs it failed.")
        except NotArchivable:
            return _plain(drawn, {"why": _("Only what is made to last is signed.")}, data)
    return _lasting(drawn, {"why": why} if why else {}, attached, data, at)


def _lasting(drawn: Callable[..., bytes], whose: Data, attached: DayEntries, data: Data, at: datetime) -> bytes:
    try:
        return archived(drawn(whose), attached.files, at=at)
    except NotArchivable:
        return _plain(drawn, whose, data)


def _plain(drawn: Callable[..., bytes], whose: Data, data: Data) -> bytes:
    logger.exception("The day sheet of %s did not become PDF/A; it is kept without its entries.", data["date"])
    return drawn(whose, archive=False)


def _key(at: datetime) -> tuple[PdfKey | None, str]:
    """Return what signs at an instant and, where that cannot be, why; both empty where no certificate is set."""
    try:
        key = configured()
        if key is not None:
            key.check(at)
    except PdfKeyError as error:
        logger.error("Day sheets are not signed as files: %s", error)
        return None, str(error)
    return key, ""


def _told(attached: DayEntries) -> Data:
    numbers = attached.numbers
    if not numbers:
        return {"entries": 0}
    proof = any(file.name == PROOF for file in attached.files)
    return {"entries": len(numbers), "first": numbers[0], "last": numbers[-1], "proof": proof}


def _whose(key: PdfKey) -> Data:
    return {
        "name": key.name,
        "issuer": key.issuer,
        "until": key.until.date().isoformat(),
        "self_made": key.is_self_made,
        "fingerprint": key.fingerprint,
    }


def _reason(data: Data) -> str:
    """Return what the signature is for. A person's words stand beside the person's own signature, not here."""
    return _("Day sheet of %(date)s, revision %(revision)s, as it was drawn from the record.") % {
        "date": data["date"], "revision": data["revision"],
    }  # fmt: skip
