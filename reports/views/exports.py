"""The history as tables to take away."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from courses import calendar
from courses.models import Course
from reports.access import history_of
from reports.exports import export as lines_of
from reports.forms import RangeForm

USUAL = timedelta(days=29)
TABLES = (
    (
        "readings",
        gettext_lazy("Readings"),
        gettext_lazy("Every answer and figure that was signed, with limit, source, verdict and who read it."),
    ),
    (
        "findings",
        gettext_lazy("Findings"),
        gettext_lazy(
            "By the day they were opened: the work, the second look, how each ended, every step with its person."
        ),
    ),
    ("rides", gettext_lazy("Test rides"), gettext_lazy("Ballast, wind, speed, brake travel, verdict, who signed.")),
    (
        "holds",
        gettext_lazy("Holds"),
        gettext_lazy("By the day they were called: cause, line, who was told, when and on what each was lifted."),
    ),
    (
        "sign-offs",
        gettext_lazy("Sign-offs"),
        gettext_lazy("Every signing of a day: for each line open or closed, its limits, what held it, who signed."),
    ),
)
# The words themselves are the same in every language (``reports.exports.LANGUAGE``); what they mean is translated.
WORDS = (
    ("OK", gettext_lazy("Within its limit, or found sound.")),
    ("Watch", gettext_lazy("Within its limit, but past the point from which it is watched; it may wait until a date.")),
    ("Out of service", gettext_lazy("Past its limit or found defective: not to be used until it is released.")),
    ("Not checked", gettext_lazy("Missing, impossible or not done. It holds the line like a defect.")),
    ("Sound, Defect, Can't check today, Not found", gettext_lazy("What the person answered, before it was judged.")),
    (
        "Critical, Major, Minor",
        gettext_lazy("The class of a finding. A critical one holds its line until it is released; gear holds none."),
    ),
    ("Open", gettext_lazy("Of a finding: nobody has released it. Of a line: it was opened that day.")),
    ("Released", gettext_lazy("Put back into service by a second person, after another look.")),
    ("Retired for good", gettext_lazy("Never put back: marked as unfit or destroyed.")),
    ("Held, Lifted", gettext_lazy("A hold that stands, and one that was ended by the rule of its cause.")),
    ("Closed today", gettext_lazy("The manager decided that this line does not open; a later revision can open it.")),
    (
        "normal, emergency",
        gettext_lazy("A test ride into all brakes, and one on which the emergency brake was tried by itself."),
    ),
    ("not yet told", gettext_lazy("Nobody there confirmed the hold by radio, as far as the record says.")),
    ("yes", gettext_lazy("It is so. An empty cell: it is not so, or there is nothing to say.")),
    (
        "name erased, note erased",
        gettext_lazy("A name or note that was erased after its time; that it stood there can be seen."),
    ),
)


@require_safe
def exports(request: HttpRequest, course: UUID) -> HttpResponse:
    """Ask for the dates; the tables are buttons of one form."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    today = calendar.local_day(at, where.zone, where.day_change_hour)
    form = RangeForm(initial={"first": today - USUAL, "last": today})
    return _asked(request, where, form)


@require_safe
def export(request: HttpRequest, course: UUID, what: str) -> HttpResponseBase:
    """Stream one table as CSV; dates that cannot be read or are turned round come back with the question."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    form = RangeForm(request.GET)
    if not form.is_valid():
        return _asked(request, where, form, status=400)
    first, last = form.cleaned_data["first"], form.cleaned_data["last"]
    name = f"{what}-{first.isoformat()}-{last.isoformat()}.csv"
    response = StreamingHttpResponse(
        (line.encode() for line in lines_of(where, what, first, last)),
        content_type="text/csv; charset=utf-8; header=present",
    )
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response


def _asked(request: HttpRequest, where: Course, form: RangeForm, *, status: int = 200) -> HttpResponse:
    context = {"course": where, "form": form, "tables": TABLES, "words": WORDS}
    return render(request, "reports/exports.html", context, status=status)
