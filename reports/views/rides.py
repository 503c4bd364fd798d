"""The test rides of one line over the last mornings: how they stand against what was to be expected."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts import policy
from accounts.policy import Right
from courses.access import place_for
from courses.advised import waiting_of
from courses.models import Place
from courses.queries import setup_at
from inspections.control import FINDING_KEY
from inspections.models import Finding
from reports.access import history_of
from reports.ride_charts import page_of


@require_safe
def rides(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    one = place_for(request.user, where, line, Right.READ_HISTORY, at=at)
    if one.kind != Place.Kind.LINE:
        raise Http404
    setup = setup_at(where, at)
    watches = Finding.objects.filter(place=one, state=Finding.State.OPEN, key__startswith=FINDING_KEY)
    page = page_of(setup, setup.places.get(one.pk, one))
    context = {
        "course": where,
        "line": one,
        "page": page,
        "waiting": waiting_of(setup, one) if page.missing else [],
        "watches": list(watches.order_by("seq")),
        "rights": policy.rights_of(request.user, where.operator_id, at=at),
    }
    return render(request, "reports/rides.html", context)
