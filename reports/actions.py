"""Papers: drawn once from what was signed, kept under their hash, bound to the history. Asked again, the kept one comes."""

from __future__ import annotations

from django.db import transaction

from accounts.deeds import Deed
from inspections.actions import record_paper
from inspections.models import Paper, SignOff
from ledger.actions import lock
from reports.papers.day_sheet import draw_day_sheet
from reports.resolve import day_sheet_data, photo_bytes


@transaction.atomic
def issue_day_sheet(sign_off: SignOff, *, deed: Deed) -> Paper:
    """Draw and keep the day sheet of one revision, or return the one that is kept. It is never drawn again."""
    course = sign_off.day.course
    lock(course.operator.log)
    kept = Paper.objects.filter(sign_off=sign_off, kind=Paper.Kind.DAY_SHEET).first()
    if kept is not None:
        return kept
    data = day_sheet_data(sign_off)
    pdf = draw_day_sheet(data, photos=lambda sha256: photo_bytes(course, sha256))
    number = f"{data['date']}/{sign_off.revision}"
    entry = record_paper(
        course, kind=Paper.Kind.DAY_SHEET, number=number, pdf=pdf, date=data["date"], sign_off=sign_off,
        deed=deed.part(f"day-sheet:{sign_off.pk}"),
    )  # fmt: skip
    return Paper.objects.get(course=course, seq=entry.seq)
