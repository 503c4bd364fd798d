"""``{% photo course sha256 alt %}``: a photo of the record, or that it was erased, or that it has not come yet."""

from __future__ import annotations

from typing import Any

from django import template

from courses.actions.files import path_of
from courses.models import Course, StoredFile
from inspections.owing import kept_ever

register = template.Library()
KEPT = "_erased_photos"


@register.inclusion_tag("inspections/_photo.html", takes_context=True)
def photo(context: template.Context, course: Course, sha256: str, alt: str) -> dict[str, Any]:
    """Return what the partial shows. What was erased at an operator is asked for once in a page.

    ``is_owed``: it had not come from its phone. Only of one whose bytes lack that is asked for at all.
    """
    # On the request: a partial that is included with "only" has a context of its own, but this one too.
    holder = getattr(context, "request", None) or context
    known: dict[Any, dict[str, Any]] = holder.__dict__.setdefault(KEPT, {})
    if course.operator_id not in known:
        rows = StoredFile.objects.filter(operator_id=course.operator_id, erased_seq__isnull=False)
        known[course.operator_id] = {row.sha256: row for row in rows.only("sha256", "erased_seq", "erased_at")}
    erased = known[course.operator_id].get(sha256)
    lacks = erased is None and not path_of(course.operator_id, sha256).exists()
    is_owed = lacks and not kept_ever(course.operator_id, [sha256])
    return {"course": course, "sha256": sha256, "alt": alt, "erased": erased, "is_owed": is_owed}
