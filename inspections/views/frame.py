"""What the pages of the walk share: the course's day, what stands in the bar under the thumb, where a page leads."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, NoReturn
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from accounts import policy, proof
from accounts.errors import Refused
from accounts.keep import wants_json
from accounts.policy import Right
from accounts.receiving import say_refused
from accounts.signing import ALONE, OLD_PAGE, came_alone, page_date, said_at, true_at_of
from courses.access import course_for
from courses.calendar import local_day
from courses.models import Course, Place
from inspections.alone import hold_pattern
from inspections.lifting import thunder_clock
from inspections.picture import RACK, Picture, picture_of
from inspections.reopening import reopening_of
from inspections.stops import Row, next_after
from ledger.actions import recorded


def picture_for(request: HttpRequest, course: UUID, right: Right, *, at: datetime) -> Picture:
    """Return today's picture of a course, or of the day on which a deed was signed that comes later than that.

    Times on the page are then the course's own.
    """
    where = course_for(request.user, course, right, at=at)
    timezone.activate(where.zone)
    return picture_of(where, at=at, on=signed_on(request, where, at=at, own_page=True))


def signed_on(request: HttpRequest, course: Course, *, at: datetime, own_page: bool = False) -> date | None:
    """Return the course's day of a deed that was signed without a signal and arrives only now; None for all else.

    A sheet of yesterday that comes this morning is one of yesterday, and today's stays open. It is the day on which it
    was really signed; where that is not known, the day of its page, which nobody can have had before. None is of a day
    to come: it would stand there before anybody had looked. Raises PermissionDenied, with the sentence for its phone,
    where it is of a page that is longer past than anything is taken, or, with ``own_page``, of a page of another day:
    a hold counts from whatever page it was called.
    """
    if not came_alone(request):
        return None
    today, first = (local_day(one, course.zone, course.day_change_hour) for one in (at, at - ALONE))
    true_at, of_page = true_at_of(request, at=at), page_date(request)
    really = None if true_at is None else local_day(true_at, course.zone, course.day_change_hour)
    if of_page is not None:
        page = {"page": date_format(of_page, "j F Y")}
        if not (first if own_page else today - OLD_PAGE) <= of_page <= today:
            _refuse(request, _("This is a page of %(page)s, and nothing of that day is taken now.") % page)
        if own_page and really is not None and really != of_page:
            days = page | {"day": date_format(really, "j F Y")}
            _refuse(request, _("This is a page of %(page)s, signed on %(day)s. Sign the page of the day.") % days)
        return of_page
    if really is not None:
        return really if first <= really else None
    made_at = said_at(request)
    if made_at is None or abs(at - made_at) > ALONE:
        return None
    day = local_day(made_at, course.zone, course.day_change_hour)
    return day if day <= today else None


def _refuse(request: HttpRequest, sentence: str) -> NoReturn:
    say_refused(request, sentence)
    raise PermissionDenied(sentence)


def frame(request: HttpRequest, picture: Picture, *, line: Place | None = None) -> dict[str, Any]:
    """Return what every page of the walk needs around its own content: course, day, rights, and the stops in the bar.

    ``stop_id`` is the identity of a hold called from this page, so that a second tap does not call it twice.
    """
    return {
        "course": picture.course,
        "date": picture.date,
        "rights": policy.rights_of(request.user, picture.course.operator_id, at=picture.at),
        "lines": picture.setup.lines,
        "stop_line": line,
        "stop_id": uuid4(),
        "stop_pattern": hold_pattern(picture, request.user),  # type: ignore[arg-type]
        "thunder": thunder_clock(picture.holds, reopening_of(picture.setup.reopening)),
        "here": request.get_full_path(),
        "paper": is_paper(request),
    }


def is_paper(request: HttpRequest) -> bool:
    """Tell whether what is entered here was written on paper first."""
    return request.GET.get("paper") == "1"


def with_paper(request: HttpRequest, address: str) -> str:
    return f"{address}?paper=1" if is_paper(request) else address


def walk_address(request: HttpRequest, picture: Picture) -> str:
    return with_paper(request, reverse("inspections:walk", args=[picture.course.pk]))


def address_of(request: HttpRequest, picture: Picture, row: Row) -> str:
    """Return where the sheet of a row is filled in."""
    page = "inspections:rack" if row.is_rack else "inspections:sheet"
    section = row.section.removeprefix(RACK) if row.is_rack else row.section
    return with_paper(request, reverse(page, args=[picture.course.pk, row.place.pk, section]))


def shown_row(request: HttpRequest, picture: Picture, row: Row, rights: frozenset[Right]) -> dict[str, Any]:
    """Return a row with its addresses: ``url`` is where a tap leads, empty where there is nothing to open.

    ``page`` is that of its sheet, for who may sign there: a phone knows what it signed by that.
    """
    signed = (
        with_paper(request, reverse("inspections:signed", args=[picture.course.pk, row.sheet.pk])) if row.sheet else ""
    )
    page = address_of(request, picture, row) if Right.INSPECT in rights else ""
    return {"row": row, "page": page, "url": page if page and (row.begun or not row.is_done) else signed}


def with_next(request: HttpRequest, picture: Picture, place: Place, section: str, said: str) -> str:
    """Return a sentence with a button to what comes next on the walk; ``picture`` is of before the sheet was signed."""
    found = next_after(picture, request.user, place, section)
    if isinstance(found, Row):
        here = _("Next here: %(title)s") if found.is_near else _("Next: %(title)s")
        return _led(said, address_of(request, picture, found), here % {"title": found.title})
    if found is not None:
        address = with_paper(request, reverse("inspections:ride", args=[picture.course.pk, found.line.pk]))
        return _led(said, address, _("Next: test ride, line %(number)s") % {"number": found.line.number})
    return said


def _led(said: str, address: str, words: str) -> str:
    return format_html('{} <a class="button" href="{}">{}</a>', said, address, words)


def received(request: HttpRequest, picture: Picture) -> HttpResponse | None:
    """Answer a form that is sent a second time: it stands in the history, and nothing new is begun by it."""
    if request.method != "POST":
        return None
    seq = recorded(picture.course.operator.log, proof.deed_id_of(request))
    if seq is None:
        return None
    messages.info(request, _("This was received already, as entry %(seq)s.") % {"seq": seq})
    return redirect(walk_address(request, picture))


def is_received(request: HttpRequest, picture: Picture) -> bool:
    """Tell whether the deed of a form stands in the history already."""
    return recorded(picture.course.operator.log, proof.deed_id_of(request)) is not None


def refused_page(request: HttpRequest, picture: Picture, refused: Refused) -> HttpResponse:
    """Say that something is not possible at all, in a sentence, to a person or to a script."""
    if wants_json(request):
        return JsonResponse({"refused": refused.sentence}, status=409)
    return render(request, "inspections/refused.html", {"course": picture.course, "sentence": refused.sentence})


def next_address(given: QueryDict, otherwise: str) -> str:
    """Return the page of this site that a form names as ``next``, or another."""
    address = str(given.get("next", ""))
    if address.startswith("/") and url_has_allowed_host_and_scheme(address, allowed_hosts=None):
        return address
    return otherwise
