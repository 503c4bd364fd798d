"""A sample of the record drawn by lot, and how complete the record of its days is."""

from __future__ import annotations

from datetime import date
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from courses.calendar import local_day
from engineering.reliability_words import Note
from reports.access import history_of
from reports.complete import complete_of
from reports.forms import FaultsForm, SampleForm
from reports.sample import Asked, as_csv, bound_of, newest_entry, refusal, sample_of, span
from reports.season import first_day

KEPT = ("what", "first", "last", "share", "size", "seed")


@require_safe
def sample(request: HttpRequest, course: UUID) -> HttpResponse:
    """Ask what to draw; what was drawn stands in the address, with the newest entry of that moment in it."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    newest = newest_entry(where)
    today = local_day(at, where.zone, where.day_change_hour)
    asked = "seed" in request.GET
    first = max(first_day(where) or today, date(today.year, 1, 1))
    form = SampleForm(
        request.GET if asked else None,
        newest=newest,
        initial={"first": first, "last": today, "what": "sheets", "share": 5},
    )
    context = {"course": where, "form": form}
    if not asked:
        return render(request, "reports/sample.html", {**context, "complete": complete_of(where, first, today, at=at)})
    if not form.is_valid():
        return render(request, "reports/sample.html", context, status=400)
    if form.cleaned_data["upto"] is None:
        return redirect(f"{reverse('reports:sample', args=[where.pk])}?{_address(request, max(newest, 0))}")
    wanted = _wanted(form)
    context["complete"] = complete_of(where, wanted.first, wanted.last, at=at)
    found = sample_of(where, wanted, size=form.cleaned_data["size"], percent=form.cleaned_data["share"])
    if isinstance(found, Note):
        return render(request, "reports/sample.html", {**context, "refused": refusal(found)})
    faults = FaultsForm(request.GET if "looked" in request.GET else None, drawn=found.size)
    context |= {
        "found": found,
        "wanted": wanted,
        "span": span(wanted.first, wanted.last),
        "address": _address(request, wanted.upto),
        "kept": [(name, request.GET[name]) for name in (*KEPT, "upto") if request.GET.get(name)],
        "faults": faults,
    }
    if faults.is_bound and faults.is_valid():
        context["bound"] = bound_of(found.drawn.lot, faults.cleaned_data["looked"], faults.cleaned_data["faults"])
    return render(request, "reports/sample.html", context, status=200 if not faults.errors else 400)


@require_safe
def sample_table(request: HttpRequest, course: UUID) -> HttpResponse:
    """The same draw as a table; with ``whole=1`` every record that could have been drawn, in the order of the draw."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    form = SampleForm(request.GET, newest=newest_entry(where))
    if form.is_valid() and form.cleaned_data["upto"] is None:
        return redirect(f"{reverse('reports:sample', args=[where.pk])}?{_address(request, max(form.newest, 0))}")
    if not form.is_valid():
        return render(request, "reports/sample.html", {"course": where, "form": form}, status=400)
    wanted = _wanted(form)
    found = sample_of(where, wanted, size=form.cleaned_data["size"], percent=form.cleaned_data["share"])
    if isinstance(found, Note):
        return render(
            request, "reports/sample.html", {"course": where, "form": form, "refused": refusal(found)}, status=400
        )
    whole = request.GET.get("whole") == "1"
    table = "".join(as_csv(where, wanted, found, whole=whole))
    response = HttpResponse(table, content_type="text/csv; charset=utf-8; header=present")
    name = f"sample-{wanted.what}-{wanted.first.isoformat()}-{wanted.last.isoformat()}{'-all' if whole else ''}.csv"
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response


def _wanted(form: SampleForm) -> Asked:
    data = form.cleaned_data
    return Asked(data["what"], data["first"], data["last"], data["upto"], data["seed"])


def _address(request: HttpRequest, upto: int) -> str:
    """Return the query that draws the same again."""
    given = [(name, request.GET[name]) for name in KEPT if request.GET.get(name)]
    return urlencode([*given, ("upto", upto)])
