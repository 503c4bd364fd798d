"""The record to take away, and what is needed to check it somewhere else."""

from __future__ import annotations

from hashlib import sha256
from uuid import UUID

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_safe

from accounts.keep import fill
from ledger.models import Entry
from ledger.sealing import keys_of, newest
from ledger.witness.countersigning import kept_of, whole_note
from reports.access import history_of
from reports.bundle import begin_bundle, program
from reports.bundle_form import BundleForm

INSIDE = (
    (
        gettext_lazy("Every entry"),
        gettext_lazy("Exactly as it was stored, with a list for a spreadsheet beside it. Times are in UTC."),
    ),
    (gettext_lazy("Photos and papers"), gettext_lazy("And the sources of limits: whatever an entry names.")),
    (gettext_lazy("Names and notes"), gettext_lazy("As far as they were not erased after their time.")),
    (gettext_lazy("Signed states"), gettext_lazy("Each state of the record that was signed, the newest among them.")),
    (gettext_lazy("How to check it"), gettext_lazy("A page in plain words (in English), and the program.")),
)


@require_http_methods(["GET", "HEAD", "POST"])
def bundle(request: HttpRequest, course: UUID) -> HttpResponseBase:
    """Ask how much, and send it. A POST, because the newest state is signed first if it is not yet."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    form = fill(BundleForm(where, request.POST if request.method == "POST" else None), request)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        made = begin_bundle(where.operator, at=at, first=data["first"], last=data["last"], line=data["line"])
        response = StreamingHttpResponse(made.chunks(), content_type="application/zip")
        return _handed_out(response, made.name)
    log = where.operator.log
    head = newest(log)
    entries = Entry.objects.filter(log=log).count()
    context = {
        "course": where,
        "form": form,
        "inside": INSIDE,
        "head": head,
        "note": whole_note(head, kept_of(head)) if head else "",
        "entries": entries,
        "since": entries - head.size if head else entries,
        "keys": keys_of(log)[::-1],
        "program": sha256(program()).hexdigest(),
    }
    return render(request, "reports/bundle.html", context, status=400 if form.is_bound and form.errors else 200)


@require_safe
def verifier(request: HttpRequest, course: UUID) -> HttpResponseBase:
    """Hand out the program by itself."""
    history_of(request.user, course, at=timezone.now())
    return _handed_out(HttpResponse(program(), content_type="text/x-python; charset=utf-8"), "verify.py")


def _handed_out(response: HttpResponseBase, name: str) -> HttpResponseBase:
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
