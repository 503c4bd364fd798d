"""The stopwatch of the return wave: taps on the phone, or times typed in, to the sag with its uncertainty."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from accounts import policy
from accounts.policy import Right
from courses.access import place_for
from courses.advised import advised_setup
from courses.advised import told as waiting_told
from courses.models import Place
from engineering.return_wave import HAND_S
from engineering.units import UNITS, with_unit
from inspections.measures import asked_in, has_unit, in_both
from inspections.picture import Picture
from inspections.stopwatch import TIMES, Told, carried, read_returns, read_times, told
from inspections.views.frame import frame, picture_for


@require_safe
def stopwatch(request: HttpRequest, course: UUID, line: UUID) -> HttpResponse:
    """Times come in the address, so that nothing is stored by looking and a result can be shown to somebody else."""
    picture = picture_for(request, course, Right.INSPECT, at=timezone.now())
    one = place_for(request.user, picture.course, line, Right.INSPECT, at=picture.at)
    setup, waiting = advised_setup(picture.setup, one)
    texts = (request.GET.getlist("time") + [""] * TIMES)[:TIMES]
    times, wrong = read_times(texts)
    returns, wrong_count = read_returns(request.GET.get("returns", "3"))
    mechanics = setup.mechanics(one)
    found: Told | str = ""
    if times and returns and not wrong:
        found = told(picture.course, setup.document(one), mechanics, times, returns)
    context = frame(request, picture, line=one) | {
        "line": one,
        "fields": [(place + 1, text, wrong.get(place, "")) for place, text in enumerate(texts)],
        "returns": request.GET.get("returns", "3"),
        "wrong_count": wrong_count,
        "sag": carried(picture.course, setup.document(one)),
        "told": None if isinstance(found, str) else found,
        "refused": found if isinstance(found, str) else "",
        "hand": HAND_S,
        "can_propose": Right.PROPOSE in policy.rights_of(request.user, picture.course.operator_id, at=picture.at),  # type: ignore[arg-type]
        "cable_c": request.GET.get("cable_c", ""),
        "air_unit": UNITS[asked_in("degC", picture.course.units)].shown.strip(),
        "in_force": _in_force(mechanics, picture.course.units),
        "waiting": waiting_told(picture.course, waiting),
        "propose_url": _propose(request, picture, one, found),
        "sheet_url": _sag_item(picture, one),
        "back_url": reverse("inspections:line", args=[picture.course.pk, one.pk]),
    }
    return render(request, "inspections/stopwatch.html", context)


def _in_force(mechanics: Mapping[str, Any], units: str) -> str:
    """Return the tension as entered with its temperature and day; empty where none is entered."""
    if not all(mechanics.get(name) for name in ("tension_kn", "reference_c", "tension_date")):
        return ""
    return _("%(tension)s at %(warm)s, %(on)s") % {
        "tension": in_both(mechanics["tension_kn"], "kN", units),
        "warm": in_both(mechanics["reference_c"], "degC", units),
        "on": date_format(date.fromisoformat(mechanics["tension_date"]), "j F Y"),
    }


def _propose(request: HttpRequest, picture: Picture, line: Place, found: Told | str) -> str:
    """Return where who may propose enters the tension as that of the line; the cable's temperature goes along."""
    if isinstance(found, str) or not found.plain_kn or found.suspect:
        return ""
    rights = policy.rights_of(request.user, picture.course.operator_id, at=picture.at)  # type: ignore[arg-type]
    if Right.PROPOSE not in rights:
        return ""
    told = [
        ("tension_kn", found.plain_kn), ("half_kn", found.plain_half_kn), ("tension_date", picture.date.isoformat()),
        ("reference_c", _warm(request, picture.course.units)), ("returns", request.GET.get("returns", "3").strip()),
        *(("time", one.strip()) for one in request.GET.getlist("time")[:TIMES] if one.strip()),
    ]  # fmt: skip
    return reverse("courses:mechanics_edit", args=[picture.course.pk, line.pk]) + f"?{urlencode(told)}"


def _warm(request: HttpRequest, units: str) -> str:
    """Return the cable's temperature as typed, with the unit that was asked for where it has none of its own."""
    text = request.GET.get("cable_c", "").strip()
    asked = asked_in("degC", units)
    return text if not text or asked == "degC" or has_unit(text) else with_unit(text, asked)


def _sag_item(picture: Picture, line: Place) -> str:
    """Return where the sag is entered today; empty where it is not asked."""
    item = next((one for one in picture.items(line) if one.get("measures") == "rope.sag"), None)
    section = picture.section(line, item["sheet"]) if item else None
    if item is None or section is None or all(one["key"] != item["key"] for one in section.items):
        return ""
    return reverse("inspections:sheet", args=[picture.course.pk, line.pk, item["sheet"]]) + f"#item-{item['key']}"
