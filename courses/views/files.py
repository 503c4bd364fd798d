"""Attached sources, given out only to those who may read them."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses.access import course_for, file_for
from courses.actions.files import read_bytes
from courses.models import StoredFile

ENDINGS = {"application/pdf": "pdf", "image/jpeg": "jpg", "image/png": "png"}


@require_safe
@cache_control(private=True, max_age=3600)
def source_file(request: HttpRequest, course: UUID, sha256: str) -> HttpResponse:
    """Give out a source as a download: it is never shown inside a page, whatever its bytes say."""
    at = timezone.now()
    course_ = course_for(request.user, course, Right.READ_HISTORY, at=at)
    stored = file_for(request.user, course_, sha256, Right.READ_HISTORY, at=at)
    if stored.kind != StoredFile.Kind.SOURCE:
        raise Http404
    try:
        data = read_bytes(stored)
    except FileNotFoundError:
        raise Http404 from None
    name = f"source-{stored.sha256[:12]}.{ENDINGS.get(stored.media_type, 'bin')}"
    return HttpResponse(
        data, content_type=stored.media_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"', "X-Content-Type-Options": "nosniff"},
    )  # fmt: skip
