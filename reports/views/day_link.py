"""A day shown to somebody without an account: the manager gives the link, whoever holds it reads."""

from __future__ import annotations

from datetime import date
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from accounts import proof
from accounts.errors import Refused
from accounts.keep import fill
from accounts.policy import Right
from courses.access import course_for
from courses.models import Course
from ledger.errors import AlreadyRecorded
from reports.day_links import DayLink, give_link, read_link, sheets_of
from reports.forms import DayLinkForm
from reports.views.papers import given_out


@require_http_methods(["GET", "HEAD", "POST"])
def day_link(request: HttpRequest, course: UUID, on: date) -> HttpResponse:
    """Ask for whom and for how long; show the link once, because nobody keeps it."""
    at = timezone.now()
    where = course_for(request.user, course, Right.SIGN_OFF, at=at)
    timezone.activate(where.zone)
    form = fill(DayLinkForm(request.POST if request.method == "POST" else None), request)
    context: dict[str, Any] = {"course": where, "on": on, "form": form, "sheets": sheets_of(where, on)}
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        deed = proof.deed(request, at=at, id=data["deed_id"])
        try:
            text = give_link(where, on, days=data["days"], whom=data["whom"], deed=deed)
            context["link"] = request.build_absolute_uri(reverse("reports:linked_day", args=[text]))
            context["until"] = read_link(text, at=at)
        except AlreadyRecorded as known:
            context["known"] = known.seq
        except Refused as refused:
            form.refuse(refused)
    response = render(request, "reports/day_link.html", context)
    response["Cache-Control"] = "private, no-store"  # a form must tell where it comes from, so no more than that
    return response


@login_not_required
@require_safe
def linked_day(request: HttpRequest, text: str) -> HttpResponse:
    """List the sheets of the day that the link is for, with their check values."""
    link, where = _opened(text)
    timezone.activate(where.zone)
    found = sheets_of(where, link.on)
    context = {"shown": where, "on": link.on, "until": link.until, "papers": found, "text": text}
    return _private(render(request, "reports/linked_day.html", context))


@login_not_required
@require_safe
def linked_paper(request: HttpRequest, text: str, paper: UUID) -> HttpResponse:
    link, where = _opened(text)
    one = next((one for one in sheets_of(where, link.on) if one.pk == paper), None)
    if one is None:
        raise Http404
    return _private(given_out(request, one))


def _opened(text: str) -> tuple[DayLink, Course]:
    link = read_link(text, at=timezone.now())
    where = Course.objects.filter(pk=link.course).select_related("operator").first() if link else None
    if link is None or where is None:
        raise Http404
    return link, where


def _private(response: HttpResponse) -> HttpResponse:
    """Keep the link out of caches, of search engines, and of what a browser tells other sites."""
    response["Cache-Control"] = "private, no-store"
    response["X-Robots-Tag"] = "noindex, nofollow"
    response["Referrer-Policy"] = "no-referrer"
    return response
