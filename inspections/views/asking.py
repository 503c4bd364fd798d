"""A page with one form of one deed: shown, done once, refused with nothing lost."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from accounts.errors import Refused
from accounts.forms import DeedForm
from accounts.receiving import say_refused
from courses.models import StoredFile
from inspections.photos import Unusable, store_photo
from inspections.views.papers import sent_before
from ledger.errors import AlreadyRecorded


def ask(
    request: HttpRequest,
    form: DeedForm,
    do: Callable[[dict[str, Any]], str],
    *,
    back: str,
    template: str = "inspections/ask.html",
    context: dict[str, Any],
) -> HttpResponse:
    """Show the form, or do the deed and go on. ``do`` returns the address to go to."""
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(do(form.cleaned_data))
        except Refused as refused:
            form.refuse(refused)
        except Unusable as unusable:
            form.add_error("photo" if "photo" in form.fields else None, unusable.sentence)
        except AlreadyRecorded as known:
            messages.info(request, _("This was received already, as entry %(seq)s.") % {"seq": known.seq})
            return redirect(back)
    if request.method == "POST":
        say_refused(request, " ".join(str(one) for found in form.errors.values() for one in found))
    return render(request, template, {**context, "form": form, "back": back})


def photos_of(request: HttpRequest, course: Any, deed: Any, *, name: str = "photo") -> tuple[str, ...]:
    """Store the photos that came with a form and return their hashes. Raises Unusable with a sentence.

    Those that a phone has sent before, each by itself, come as their hashes (``photos.sent``).
    """
    before = sent_before(request, course, name)
    stored: list[StoredFile] = [store_photo(course.operator, file, deed=deed) for file in request.FILES.getlist(name)]
    return (*before, *(one.sha256 for one in stored))
