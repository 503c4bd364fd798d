"""Papers as they were drawn, and the blank sheets for a day without phones."""

from __future__ import annotations

import logging
from datetime import datetime
from io import BytesIO
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from pypdf import PdfWriter

from accounts import proof
from accounts.errors import Refused
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for
from courses.actions.files import read_bytes
from courses.calendar import ONE_DAY, day_start, local_day
from courses.models import Course, StoredFile
from inspections.access import finding_for
from inspections.kept_pages import UNTIL
from inspections.models import Paper
from inspections.picture import picture_of
from inspections.views.asking import ask
from reports.access import history_of, paper_for
from reports.actions import STOCK, issue_tag, issue_tag_stock, next_tag_number
from reports.blank import blank_sheets_data
from reports.erasures import erased_files
from reports.forms import TagStockForm
from reports.papers.blank_sheet import draw_blank_sheets

log = logging.getLogger(__name__)
LISTED = 14


@require_safe
def day_sheets(request: HttpRequest, course: UUID) -> HttpResponse:
    """The last fourteen day sheets, newest first."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    return render(request, "reports/day_sheets.html", {"course": where, "papers": _last(where)})


@require_safe
def paper(request: HttpRequest, course: UUID, paper: UUID) -> HttpResponse:
    """Give out the bytes that were drawn. Where they do not fit their hash any more, nothing is given out."""
    at = timezone.now()
    one = paper_for(request.user, course, paper, at=at)
    response = given_out(request, one)
    if one.kind == Paper.Kind.LAUNCH_CARD:
        response["Cache-Control"] = "private, no-cache"  # a browser's own cache would show it on any later day
        if response.status_code == 200 and (until := _counts_until(one, at)):
            response[UNTIL] = until.isoformat().replace("+00:00", "Z")
    return response


def _counts_until(card: Paper, at: datetime) -> datetime | None:
    """Return when the day of a launch card ends, in UTC; None where that is not today."""
    where = card.course
    today = local_day(at, where.zone, where.day_change_hour)
    if card.sign_off is None or card.sign_off.day.date != today:
        return None
    return day_start(today + ONE_DAY, where.zone, where.day_change_hour)


def given_out(request: HttpRequest, one: Paper) -> HttpResponse:
    """Return the bytes of a paper that somebody may read, or the page that says by which entry it was erased."""
    if (erased := erased_files(one.course.operator, [one.sha256]).get(one.sha256)) is not None:
        return render(request, "reports/erased_paper.html", {"erased": erased, "paper": one}, status=410)
    data = _bytes_of(one)
    if data is None:
        raise Http404
    name = f"{one.kind.replace('_', '-')}-{one.number.replace('/', '-r')}.pdf"
    return _pdf(data, name, "private, max-age=31536000, immutable")


def _bytes_of(one: Paper) -> bytes | None:
    """Return the bytes as they were drawn; None where they are gone or do not fit their hash any more."""
    stored = StoredFile.objects.filter(operator=one.course.operator_id, sha256=one.sha256).first()
    if stored is None:
        return None
    try:
        return read_bytes(stored)
    except FileNotFoundError:
        return None
    except ValueError:
        log.exception("The stored paper %s was altered.", one.pk)
        return None


@require_safe
def last_sheets(request: HttpRequest, course: UUID) -> HttpResponse:
    """The last fourteen day sheets as one file, to be kept on computer and phone for the day when all else fails.

    A copy for reading: the sheets themselves, each under its own check value, are the record.
    """
    where = history_of(request.user, course, at=timezone.now())
    found = [(one, data) for one in _last(where) if (data := _bytes_of(one)) is not None]
    if not found:
        raise Http404
    writer = PdfWriter()
    for one, data in found:
        # A sheet's signature is over its own file alone: within another it would be called broken.
        writer.append(
            BytesIO(data), outline_item=f"{one.number} ({one.sha256[:12]})", import_outline=False,
            excluded_fields=["/Annots"],
        )  # fmt: skip
    writer.root_object.pop("/AcroForm", None)
    out = BytesIO()
    writer.write(out)
    newest = found[0][0].number.split("/")[0]
    return _pdf(out.getvalue(), f"last-day-sheets-{newest}.pdf", "private, no-store")


def _last(where: Course) -> list[Paper]:
    """Return every revision of the last fourteen days that have a day sheet, newest first."""
    rows = Paper.objects.filter(course=where, kind=Paper.Kind.DAY_SHEET)
    days = rows.order_by("-sign_off__day__date").values_list("sign_off__day__date", flat=True).distinct()[:LISTED]
    first = min(days, default=None)
    found = rows.filter(sign_off__day__date__gte=first) if first else rows.none()
    return list(found.select_related("course", "sign_off__day").order_by("-sign_off__day__date", "-seq"))


@require_safe
def blank_sheets(request: HttpRequest, course: UUID) -> HttpResponse:
    """Today's sheets to be filled in by hand, with limits and last readings. Drawn anew each time: no record."""
    at = timezone.now()
    where = course_for(request.user, course, Right.INSPECT, at=at)
    timezone.activate(where.zone)
    data = blank_sheets_data(picture_of(where, at=at))
    return _pdf(draw_blank_sheets(data), f"blank-sheets-{data['date']}.pdf", "private, no-store")


@require_http_methods(["GET", "HEAD", "POST"])
def tag_stock(request: HttpRequest, course: UUID) -> HttpResponse:
    """Numbered tags to print beforehand, and the sheets of them that were drawn before."""
    at = timezone.now()
    where = course_for(request.user, course, Right.SIGN_OFF, at=at)
    timezone.activate(where.zone)
    back = reverse("reports:day_sheets", args=[where.pk])
    form = fill(TagStockForm(request.POST if request.method == "POST" else None, back=back), request)

    def do(data: dict[str, Any]) -> str:
        deed = proof.deed(request, at=at, id=data["deed_id"])
        made = issue_tag_stock(where, count=data["count"], deed=deed)
        return reverse("reports:paper", args=[where.pk, made.pk])

    stock = Paper.objects.filter(course=where, kind=Paper.Kind.TAG, number__startswith=STOCK).order_by("-seq")
    context = {"course": where, "stock": stock[:LISTED], "next": f"{next_tag_number(where):04}"}
    return ask(request, form, do, back=back, template="reports/tag_stock.html", context=context)


@require_POST
def tag(request: HttpRequest, course: UUID, finding: UUID) -> HttpResponse:
    """Draw the tag of a finding, or give out the one that was drawn."""
    at = timezone.now()
    where = course_for(request.user, course, Right.WITHDRAW, at=at)
    timezone.activate(where.zone)
    one = finding_for(request.user, where, finding, Right.WITHDRAW, at=at)
    try:
        page = request.build_absolute_uri(reverse("inspections:finding", args=[where.pk, one.pk]))
        made = issue_tag(one, deed=proof.deed(request, at=at), address=page)
    except Refused as refused:
        messages.error(request, refused.sentence)
        return redirect("inspections:finding", course=where.pk, finding=one.pk)
    return redirect("reports:paper", course=where.pk, paper=made.pk)


def _pdf(data: bytes, name: str, caching: str) -> HttpResponse:
    return HttpResponse(
        data,
        content_type="application/pdf",
        headers={
            "Content-Disposition": f'inline; filename="{name}"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": caching,
        },
    )
