"""Papers as they were drawn, and the blank sheets for a day without phones."""

from __future__ import annotations

import logging
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from accounts import proof
from accounts.errors import Refused
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for
from courses.actions.files import read_bytes
from courses.models import StoredFile
from inspections.access import finding_for
from inspections.models import Paper
from inspections.picture import picture_of
from inspections.views.asking import ask
from reports.access import history_of, paper_for
from reports.actions import STOCK, issue_tag, issue_tag_stock, next_tag_number
from reports.blank import blank_sheets_data
from reports.forms import TagStockForm
from reports.papers.blank_sheet import draw_blank_sheets

log = logging.getLogger(__name__)
LISTED = 14


@require_safe
def day_sheets(request: HttpRequest, course: UUID) -> HttpResponse:
    """The last fourteen day sheets, newest first."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    found = (
        Paper.objects.filter(course=where, kind=Paper.Kind.DAY_SHEET).select_related("sign_off__day").order_by("-seq")
    )
    return render(request, "reports/day_sheets.html", {"course": where, "papers": found[:LISTED]})


@require_safe
def paper(request: HttpRequest, course: UUID, paper: UUID) -> HttpResponse:
    """Give out the bytes that were drawn. Where they do not fit their hash any more, nothing is given out."""
    one = paper_for(request.user, course, paper, at=timezone.now())
    stored = StoredFile.objects.filter(operator=one.course.operator_id, sha256=one.sha256).first()
    if stored is None:
        raise Http404
    try:
        data = read_bytes(stored)
    except FileNotFoundError:
        raise Http404 from None
    except ValueError:
        log.exception("The stored paper %s was altered.", one.pk)
        raise Http404 from None
    name = f"{one.kind.replace('_', '-')}-{one.number.replace('/', '-r')}.pdf"
    return _pdf(data, name, "private, max-age=31536000, immutable")


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
