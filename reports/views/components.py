"""The register as it is read years later: search by tag, and the life of one component."""

from __future__ import annotations

from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses import slots
from courses.access import component_for
from courses.calendar import local_day
from courses.models import Component, Placement
from courses.queries import components_of, placements_of
from inspections.wear_record import counts_of
from reports.access import history_of
from reports.blank import paper_size
from reports.life import findings_of, rows_of, series_of, stays
from reports.papers.wear_sheet import draw_wear_sheet
from reports.register import register_of
from reports.service import service_of
from reports.wear import wear_of

LISTED = 200


@require_safe
def components(request: HttpRequest, course: UUID) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    tag, kind = request.GET.get("tag", "").strip()[:30], request.GET.get("kind", "")
    kind = kind if kind in Component.Kind.values else ""
    found = components_of(where, tag=tag, kind=kind)
    shown = found[:LISTED]
    fitted = {
        row.component_id: row
        for row in Placement.objects.filter(component__in=shown, until__isnull=True).select_related("place")
    }
    context = {
        "course": where,
        "tag": tag,
        "kind": kind,
        "kinds": Component.Kind.choices,
        "total": len(found),
        "shown": len(shown),
        "rows": [(one, fitted.get(one.pk)) for one in shown],
    }
    return render(request, "reports/components.html", context)


@require_safe
def component(request: HttpRequest, course: UUID, component: UUID) -> HttpResponse:
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    one = component_for(request.user, where, component, Right.READ_HISTORY, at=at)
    placements = placements_of(one)
    lines = {stay.place_id: stay.place for stay in placements if stay.place.kind == "line"}
    counts = counts_of(lines)
    lived = stays(one, placements, where, counts)
    register = register_of(where, one, lines.values(), at=at)
    series = series_of(*rows_of(one), placements, register.content)
    worn = wear_of(one, placements, counts, where, data=register.version, at=at)
    told = [wear.told for wear in worn.by_key.values()]
    service = service_of(one, placements, counts, where, told, at=at)
    anchors = {item.key: number for number, item in enumerate(series, start=1)}
    counted = [stay.riders for stay in lived if stay.riders is not None]
    context = {
        "course": where,
        "component": one,
        "stays": [(stay, _spot(one, stay.placement.slot)) for stay in lived],
        "riders": sum(counted) if counted else None,
        "series": [(item, worn.by_key.get(item.key)) for item in series],
        "worn": worn,
        "service": service,
        "stands": [(stand, anchors.get(stand.key)) for stand in service.stands] if service else [],
        "dated": [item for item in series if item.dated],
        "register": register,
        "findings": findings_of(one),
    }
    return render(request, "reports/component.html", context)


@require_safe
def component_paper(request: HttpRequest, course: UUID, component: UUID) -> HttpResponse:
    """The wear of a part as PDF, drawn anew each time: it is no paper of the record."""
    at = timezone.now()
    where = history_of(request.user, course, at=at)
    one = component_for(request.user, where, component, Right.READ_HISTORY, at=at)
    placements = placements_of(one)
    lines = {stay.place_id: stay.place for stay in placements if stay.place.kind == "line"}
    register = register_of(where, one, lines.values(), at=at)
    worn = wear_of(one, placements, counts_of(lines), where, data=register.version, at=at)
    data = {
        "course": {"name": where.name, "operator": where.operator.name},
        "part": {"tag": one.tag, "label": one.label},
        "date": local_day(at, where.zone, where.day_change_hour).isoformat(),
        "paper": paper_size(where.units),
        "language": settings.LANGUAGE_CODE,
        "figures": [
            {
                "title": wear.told.figure.text, "first": wear.first, "said": wear.said, "drawings": wear.drawings,
                "rows": [
                    (row.on.isoformat(), row.riders, row.read, row.by_date, row.by_riders) for row in wear.lines
                ],
            }
            for wear in worn.by_key.values()
        ],
    }  # fmt: skip
    response = HttpResponse(draw_wear_sheet(data), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="wear-{one.tag}-{data["date"]}.pdf"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response


def _spot(component: Component, slot: str) -> str:
    """Say where it was fitted; gear lies in a rack, whose bare name would say nothing."""
    rack = component.is_pooled and not slot.startswith(slots.RACK)
    return slots.words_for(slots.RACK + slot if rack else slot)
