"""What was owed when something went out of service from a sheet, and stands on the sheet when it is signed."""

from __future__ import annotations

from django.db import transaction

from accounts.deeds import Deed
from courses.models import Place
from inspections.actions.findings import add_to_finding
from inspections.judging import Judged
from inspections.models import Verdict
from inspections.picture import Picture


@transaction.atomic
def pay_debts(picture: Picture, place: Place, judged: list[Judged], *, deed: Deed) -> None:
    """Add note and photos of a signed sheet to the findings that the person opened before from that sheet.

    ``picture`` is the day as it was before the signing. Part of the deed of signing; nothing is owed twice.
    """
    for one in judged:
        if one.verdict != Verdict.WITHDRAW:
            continue
        for finding in picture.open_findings(place):
            if finding.key != one.item["key"] or finding.opened_by_ref != deed.by.ref:
                continue
            text = one.answer.note.strip() if "note" in finding.owed else ""
            photos = one.answer.photos if "photo" in finding.owed else ()
            if text or photos:
                add_to_finding(picture, finding, text=text, photos=photos, deed=deed.part(f"pay:{finding.pk}"))
