"""Today on this phone: what is taken along for a day without a signal. The phone says what of it is there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses.models import Place
from inspections.models import Paper
from inspections.picture import Picture
from inspections.riding import ride_rows
from inspections.stops import stops
from inspections.views.frame import address_of, frame, picture_for
from inspections.views.tag import carried


@dataclass(frozen=True)
class Along:
    """One page that is taken along."""

    title: str
    url: str


@require_safe
def today(request: HttpRequest, course: UUID) -> HttpResponse:
    picture = picture_for(request, course, Right.SEE, at=timezone.now())
    around = frame(request, picture)
    groups = [
        (title, found) for title, pages in _groups(request, picture, around["rights"]) if (found := list(pages))
    ]  # fmt: skip
    labels = carried(request, picture, around["rights"])
    count = sum(len(pages) for _title, pages in groups)
    context = around | {"labels": labels, "groups": groups, "count": count, "at": picture.at}
    return render(request, "inspections/today.html", context)


def _groups(
    request: HttpRequest, picture: Picture, rights: frozenset[Right]
) -> Iterator[tuple[str, Iterator[Along]]]:  # fmt: skip
    yield _("Course"), _of_course(picture, rights)
    if Right.INSPECT in rights:
        rows = [row for stop in stops(picture, request.user) for row in stop.rows]
        yield (
            _("Sheets with their limits and last readings"),
            (Along(_of(row.place, row.title), address_of(request, picture, row)) for row in rows if not row.is_rack),
        )
        yield _("Racks"), (Along(row.title, address_of(request, picture, row)) for row in rows if row.is_rack)
        yield _("Test rides"), (_page(picture, "ride", str(one.line), one.line.pk) for one in ride_rows(picture))
        yield _("Return wave"), (_page(picture, "stopwatch", str(one), one.pk) for one in picture.setup.lines)
    yield _("Lines"), (_page(picture, "line", str(one), one.pk) for one in picture.setup.lines)
    if Right.READ_FINDING in rights:
        yield (
            _("Open findings"),
            (_page(picture, "finding", _at(one.place, one.title), one.pk) for one in picture.open_findings()),
        )
    if Right.WITHDRAW in rights:
        yield (
            _("Adding to open findings"),
            (_page(picture, "finding_add", _at(one.place, one.title), one.pk) for one in picture.open_findings()),
        )
    yield _("Launch cards"), _cards(picture)
    if Right.READ_SETUP in rights:
        keys = reverse("accounts:keys", args=[picture.course.operator_id])
        yield _("Your keys"), iter([Along(_("Keys of my devices"), keys)])


def _of_course(picture: Picture, rights: frozenset[Right]) -> Iterator[Along]:
    yield _page(picture, "today", _("Today on this phone"))
    yield _page(picture, "board", _("Line status"))
    yield _page(picture, "walk", _("Today's inspection"))
    yield _page(picture, "findings", _("Findings"))
    if Right.REPORT in rights:
        yield _page(picture, "hold", _("Hold"))
    if Right.WITHDRAW in rights:
        yield _page(picture, "withdraw", _("Take out of service"))
        yield _page(picture, "open_finding", _("Open a finding"))


def _cards(picture: Picture) -> Iterator[Along]:
    """Yield the launch cards of the sign-off that holds now."""
    if picture.sign_off is None:
        return
    cards = Paper.objects.filter(sign_off=picture.sign_off.pk, kind=Paper.Kind.LAUNCH_CARD).order_by("number")
    for one in cards.select_related("place"):
        line = str(one.place) if one.place else one.number
        yield Along(line, reverse("reports:paper", args=[picture.course.pk, one.pk]))


def _page(picture: Picture, name: str, title: str, *more: Any) -> Along:
    return Along(title, reverse(f"inspections:{name}", args=[picture.course.pk, *more]))


def _of(place: Place, title: str) -> str:
    """Return the title of a sheet, with its place where the title does not say it."""
    return title if place.kind == Place.Kind.LINE or str(place) == title else _at(place, title)


def _at(place: Place, title: str) -> str:
    return _("%(place)s: %(title)s") % {"place": place, "title": title}
