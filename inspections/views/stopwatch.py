"""The stopwatch of the return wave: taps on the phone, or times typed in, to the sag with its uncertainty."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from accounts.policy import Right
from courses.access import place_for
from courses.models import Place
from engineering.return_wave import HAND_S
from inspections.picture import Picture
from inspections.stopwatch import TIMES, read_returns, read_times, told
from inspections.views.frame import frame, picture_for


@require_safe
def stopwatch(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    """Times come in the address, so that nothing is stored by looking and a result can be shown to somebody else."""
    picture = picture_for(request, course, Right.INSPECT, at=timezone.now())
    one = place_for(request.user, picture.course, line, Right.INSPECT, at=picture.at)
    setup, texts = picture.setup, (request.GET.getlist("time") + [""] * TIMES)[:TIMES]
    times, wrong = read_times(texts)
    returns, wrong_count = read_returns(request.GET.get("returns", "3"))
    found = told(picture.course, setup.document(one), times, returns) if times and returns and not wrong else ""
    context = frame(request, picture, line=one) | {
        "line": one,
        "fields": [(place + 1, text, wrong.get(place, "")) for place, text in enumerate(texts)],
        "returns": request.GET.get("returns", "3"),
        "wrong_count": wrong_count,
        "told": None if isinstance(found, str) else found,
        "refused": found if isinstance(found, str) else "",
        "hand": HAND_S,
        "sheet_url": _sag_item(picture, one),
        "back_url": reverse("inspections:line", args=[picture.course.pk, one.pk]),
    }
    return render(request, "inspections/stopwatch.html", context)


def _sag_item(picture: Picture, line: Place) -> str:
    """Return where the sag is entered today; empty where it is not asked."""
    item = next((one for one in picture.items(line) if one.get("measures") == "rope.sag"), None)
    if item is None or picture.section(line, item["sheet"]) is None:
        return ""
    return reverse("inspections:sheet", args=[picture.course.pk, line.pk, item["sheet"]]) + f"#item-{item['key']}"
