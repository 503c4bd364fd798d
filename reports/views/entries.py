"""The record itself, entry by entry, for whoever reads the history."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from ledger.models import Entry
from reports.access import history_of
from reports.entries import KINDS, PAGE, content_of, files_of, listed, not_here_yet, told
from reports.owed import arrivals_of, named_before, photo_of, things_of

MOST_DIGITS = 12


@require_safe
def entries(request: HttpRequest, course: UUID) -> HttpResponse:
    """The entries, newest first; a number that is typed in leads to its entry."""
    where = history_of(request.user, course, at=timezone.now())
    number, kind = _number(request.GET.get("number", "")), request.GET.get("kind", "")
    kind = kind if kind in KINDS else ""
    missing = request.GET.get("number", "").strip()
    if number is not None:
        if Entry.objects.filter(log=where.operator.log, seq=number).exists():
            return redirect("reports:entry", course=where.pk, seq=number)
    else:
        missing = ""
    rows = listed(where, below=_number(request.GET.get("from", "")), kind=kind)
    older = rows[-1].seq - 1 if len(rows) == PAGE and rows[-1].seq > 0 else None
    context = {"course": where, "rows": rows, "older": older, "kinds": KINDS.items(), "kind": kind, "missing": missing}
    return render(request, "reports/entries.html", context)


def _number(text: str) -> int | None:
    text = text.strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS else None


@require_safe
def entry(request: HttpRequest, course: UUID, seq: int) -> HttpResponse:
    """One entry: in words, and its stored content with the hash that the next entry names."""
    where = history_of(request.user, course, at=timezone.now())
    log = where.operator.log
    found = Entry.objects.filter(log=log, seq=seq).first() if len(str(seq)) <= MOST_DIGITS else None
    if found is None:
        raise Http404
    laid_out, stands_for = content_of(found)
    photos, papers = files_of(where.operator, found)
    record = found.record
    arrivals = arrivals_of(log, found, {one.sha256: one.stored_at for one in photos})
    context = {
        "course": where,
        "entry": told(where, found),
        "before": seq - 1 if seq else None,
        "after": seq + 1 if Entry.objects.filter(log=log, seq=seq + 1).exists() else None,
        "hash": bytes(found.leaf_hash).hex(),
        "laid_out": laid_out,
        "stands_for": stands_for,
        "photos": [(one, arrivals.get(one.sha256)) for one in photos],
        "papers": papers,
        "awaited": not_here_yet(where.operator, found),
        "owed": things_of(log, record),
        "owed_before": named_before(log, found),
        "photo_of": photo_of(log, record),
    }
    return render(request, "reports/entry.html", context)
