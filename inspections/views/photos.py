"""Photos by their hash, for whoever may see the course or read its history; and those a phone sends by themselves."""

from __future__ import annotations

from uuid import UUID

from django.http import FileResponse, Http404, HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from accounts import policy, proof
from accounts.policy import Right
from courses.access import course_for, file_for
from courses.actions.files import path_of
from courses.models import Course, StoredFile
from inspections.actions.photos import bring_photo
from inspections.owing import act_owing
from inspections.photos import Unusable


@require_safe
def photo(request: HttpRequest, course: UUID, sha256: str) -> HttpResponseBase:
    at = timezone.now()
    found = Course.objects.only("operator_id").filter(pk=course).first()
    if found is None:
        raise Http404
    rights = policy.rights_of(request.user, found.operator_id, at=at)
    right = Right.SEE if Right.SEE in rights else Right.READ_HISTORY
    where = course_for(request.user, course, right, at=at)
    if act_owing(where.operator, sha256):
        sentence = _("Photo not here: it had not come from the phone.")
        return HttpResponse(sentence, status=404, content_type="text/plain; charset=utf-8")
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


@require_POST
def sent(request: HttpRequest, course: UUID) -> JsonResponse:
    """Keep a photo that comes by itself, and answer ``{"sha256"}``, or ``{"refused"}`` with a sentence.

    So a phone at the edge of a signal gets one photo through at a time, after the deed that names it. Whoever may
    report at this course brings it, whoever took it: what an entry names is the hash of these very bytes, and nothing
    else is kept under it. ``sha256`` in the form says which photo it is meant to be; another one is not taken. It is
    shown nowhere that no deed names it.
    """
    at = timezone.now()
    where = course_for(request.user, course, Right.REPORT, at=at)
    file = request.FILES.get("photo")
    try:
        if file is None:
            raise Unusable(_("This is not a photo. Use JPEG, PNG, WebP or HEIC."))
        deed = proof.deed(request, at=at)
        stored = bring_photo(where, file, named=request.POST.get("sha256", ""), deed=deed)
    except Unusable as unusable:
        return JsonResponse({"refused": unusable.sentence}, status=422)
    return JsonResponse({"sha256": stored.sha256})
