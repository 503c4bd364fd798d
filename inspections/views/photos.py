"""Photos by their hash, for whoever may see the course or read its history."""

from __future__ import annotations

from uuid import UUID

from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts import policy
from accounts.policy import Right
from courses.access import course_for, file_for
from courses.actions.files import path_of
from courses.models import Course, StoredFile


@require_safe
def photo(request: HttpRequest, course: UUID, sha256: str) -> HttpResponseBase:
    at = timezone.now()
    found = Course.objects.only("operator_id").filter(pk=course).first()
    if found is None:
        raise Http404
    rights = policy.rights_of(request.user, found.operator_id, at=at)
    right = Right.SEE if Right.SEE in rights else Right.READ_HISTORY
    where = course_for(request.user, course, right, at=at)
    stored = file_for(request.user, where, sha256, right, at=at)
    path = path_of(where.operator_id, stored.sha256)
    if stored.kind == StoredFile.Kind.PHOTO and stored.erased_at is not None:
        about = {"day": date_format(stored.erased_at, "j F Y"), "seq": stored.erased_seq}
        sentence = _("Photo erased on %(day)s, decided by entry %(seq)s.") % about
        return HttpResponse(sentence, status=410, content_type="text/plain; charset=utf-8")
    if stored.kind != StoredFile.Kind.PHOTO or not path.exists():
        raise Http404
    response = FileResponse(path.open("rb"), content_type=stored.media_type)
    # The address is the hash of the bytes, so they never change; they are no business of a shared cache.
    response["Cache-Control"] = "private, max-age=31536000, immutable"
    response["X-Content-Type-Options"] = "nosniff"
    return response
