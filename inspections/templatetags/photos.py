"""``{% photo course sha256 alt %}``: a photo of the record, or that it was erased, when and by which entry."""

from __future__ import annotations

from typing import Any

from django import template

from courses.models import Course, StoredFile

register = template.Library()
KEPT = "_erased_photos"


@register.inclusion_tag("inspections/_photo.html", takes_context=True)
def photo(context: template.Context, course: Course, sha256: str, alt: str) -> dict[str, Any]:
    """Return what the partial shows. What was erased at an operator is asked for once in a page."""
    # On the request: a partial that is included with "only" has a context of its own, but this one too.
    holder = getattr(context, "request", None) or context
    known: dict[Any, dict[str, Any]] = holder.__dict__.setdefault(KEPT, {})
    if course.operator_id not in known:
        rows = StoredFile.objects.filter(operator_id=course.operator_id, erased_seq__isnull=False)
        known[course.operator_id] = {row.sha256: row for row in rows.only("sha256", "erased_seq", "erased_at")}
    return {"course": course, "sha256": sha256, "alt": alt, "erased": known[course.operator_id].get(sha256)}
