"""Labels to print: chosen on a page, drawn as a file. Drawn anew each time: they are no record."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses.access import course_for
from courses.queries import Setup, setup_at
from inspections.tags import token_of
from reports.blank import paper_size
from reports.label_form import LabelForm
from reports.labels import labels_of
from reports.papers.label_sheet import Label, code_on, draw_labels
from reports.papers.label_sizes import SIZES
from reports.papers.style import MM

MOST = 1000
LEGIBLE = 0.3 * MM  # what an office printer and a phone manage at all; judgement


@require_safe
def labels(request: HttpRequest, course: UUID) -> HttpResponse:
    """Ask which labels, and say how many they are; the same address with ``?size=…`` looks at a choice."""
    setup = _setup(request, course)
    asked = "size" in request.GET
    usual = "letter-30" if paper_size(setup.course.units) == "letter" else "a4-21"
    form = LabelForm(setup, request.GET if asked else None, initial={"size": usual})
    return _asked(request, setup, form)


@require_safe
def label_sheet(request: HttpRequest, course: UUID) -> HttpResponse:
    """The labels as a file; what cannot be drawn comes back with the question."""
    setup = _setup(request, course)
    form = LabelForm(setup, request.GET)
    if not form.is_valid():
        return _asked(request, setup, form, status=400)
    found = _found(request, setup, form)
    size = SIZES[form.cleaned_data["size"]]
    if not found:
        form.add_error(None, _("There is no such part or place. Choose others."))
    elif len(found) > MOST:
        form.add_error(None, _("These are %(count)s labels. Choose at most 1000 at once.") % {"count": len(found)})
    elif (smallest := min(code_on(size, one.address).module for one in found)) < LEGIBLE:
        sentence = _(
            "On labels of this size the squares of the code would be %(mm)s mm, too small to print and to read."
        )
        form.add_error("size", sentence % {"mm": f"{smallest / MM:.2f}"})
    if form.errors:
        return _asked(request, setup, form, status=400)
    return HttpResponse(
        draw_labels(found, size, first=form.cleaned_data["first"]),
        content_type="application/pdf",
        headers={
            "Content-Disposition": 'inline; filename="labels.pdf"',
            "X-Content-Type-Options": "nosniff",
            "Cache-Control": "private, no-store",
        },
    )


def _setup(request: HttpRequest, course: UUID) -> Setup:
    at = timezone.now()
    where = course_for(request.user, course, Right.READ_SETUP, at=at)
    timezone.activate(where.zone)
    return setup_at(where, at)


def _found(request: HttpRequest, setup: Setup, form: LabelForm) -> list[Label]:
    data = form.cleaned_data
    return labels_of(
        setup,
        spots=data["spots"],
        what=data["what"],
        kind=data["kind"],
        codes=data["codes"],
        address=lambda pk: request.build_absolute_uri(reverse("inspections:tag", args=[token_of(pk)])),
    )


def _asked(request: HttpRequest, setup: Setup, form: LabelForm, *, status: int = 200) -> HttpResponse:
    example = request.build_absolute_uri(reverse("inspections:tag", args=[token_of(setup.course.pk)]))
    small = [one.words for one in SIZES.values() if not code_on(one, example).is_coarse]
    context = {"course": setup.course, "form": form, "small": small, "host": request.get_host()}
    return render(request, "reports/labels.html", context, status=status)
