"""Photos that come with a form and are not lost when it comes back: of a sheet of paper, of a piece of gear."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils.translation import gettext as _

from accounts.deeds import Deed
from accounts.signing import came_alone
from courses.models import Course, StoredFile
from inspections.actions.sheets import MAX_PHOTOS
from inspections.owing import following
from inspections.photos import Unusable, store_photo

PAPER, PAPER_KEPT = "paper_photo", "paper_kept"


def paper_of(request: HttpRequest, course: Course, *, deed: Deed) -> str:
    """Return the hash of the photo of the sheet of paper: the one just sent, or the one of a sending before.

    Raises Unusable for a file that is no photo.
    """
    return next(iter(photos_kept(request, course, PAPER, PAPER_KEPT, deed=deed)), "")


def photos_kept(request: HttpRequest, course: Course, name: str, kept: str, *, deed: Deed) -> list[str]:
    """Return the hashes of the photos sent under a name, or else of those that the form says were sent before.

    Asked a second time in the same request it stores nothing anew.
    """
    known: dict[str, list[str]] | None = getattr(request, "_photos_kept", None)
    if known is None:
        known = {}
        request._photos_kept = known  # type: ignore[attr-defined]
    if name not in known:
        files: list[Any] = request.FILES.getlist(name)
        new = [store_photo(course.operator, file, deed=deed).sha256 for file in files]
        known[name] = [*sent_before(request, course, name), *new] or known_photos(course, request.POST.getlist(kept))
    return known[name]


def sent_before(request: HttpRequest, course: Course, name: str) -> list[str]:
    """Return the hashes of the photos of a field that come by themselves: before their form, or after it.

    After it only with a deed that was signed without a signal, and never of a sheet of paper: what is typed in from one
    is only as good as its photo. Raises Unusable where one of them is not here and will not follow: what was signed
    names it, so nothing else may be recorded.
    """
    named = list(dict.fromkeys(request.POST.getlist(f"sent-{name}")))
    if len(named) > MAX_PHOTOS:
        raise Unusable(_("At most %(most)s photos belong to one item.") % {"most": MAX_PHOTOS})
    found = known_photos(course, named) if name == PAPER else photos_named(request, course, named)
    if len(found) != len(named):
        raise Unusable(_("A photo of this is not here, or was erased. Take it again."))
    return found


def photos_named(request: HttpRequest, course: Course, named: list[str]) -> list[str]:
    """Return those of the hashes that are kept, and of a deed that a phone signed alone also those that follow it."""
    here = set(known_photos(course, named))
    if came_alone(request):
        here |= following(course.operator_id, set(named) - here)
    return [one for one in dict.fromkeys(named) if one in here]


def known_photos(course: Course, named: list[str]) -> list[str]:
    """Return those of the hashes that photos of this operator are kept under, each once."""
    named = [one for one in named if one]
    if not named:
        return []
    found = set(
        StoredFile.objects.filter(
            operator_id=course.operator_id, kind=StoredFile.Kind.PHOTO, sha256__in=named, erased_seq=None
        ).values_list("sha256", flat=True)
    )
    return [one for one in dict.fromkeys(named) if one in found]
