"""The signed states of the record: what was handed out, and which witnesses saw it when."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from ledger.models import Checkpoint, Countersignature
from ledger.witness.countersigning import whole_note
from reports.access import history_of

PAGE = 50
MOST_DIGITS = 12


@require_safe
def states(request: HttpRequest, course: UUID) -> HttpResponse:
    """The signed states, newest first, fifty to a page; ``?below=SIZE`` begins with the one before that size."""
    where = history_of(request.user, course, at=timezone.now())
    log = where.operator.log_id
    found = Checkpoint.objects.filter(log=log).order_by("-size")
    below = request.GET.get("below", "")
    if below.isascii() and below.isdigit() and len(below) <= MOST_DIGITS:
        found = found.filter(size__lt=int(below))
    shown = list(found[: PAGE + 1])
    older = shown[PAGE - 1].size if len(shown) > PAGE else None
    shown = shown[:PAGE]
    seen: dict[int, list[Countersignature]] = {one.size: [] for one in shown}
    for answer in Countersignature.objects.filter(log=log, size__in=seen).order_by("size", "witness"):
        seen[answer.size].append(answer)
    rows = [
        {"size": one.size, "at": one.made_at, "seen": seen[one.size], "note": whole_note(one, seen[one.size])}
        for one in shown
    ]
    return render(request, "reports/states.html", {"course": where, "rows": rows, "older": older, "below": below})
