"""What the page of a test ride carries for a phone to ask back by itself what the server would: ``actions.rides``."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from courses.models import Place
from inspections.actions.rides import COLDEST_C, WARMEST_C
from inspections.band import NO_SIDE_MPS
from inspections.facts import signed_limits
from inspections.figures import number
from inspections.forms.ride import UNIT_OF
from inspections.measures import asked_in, in_both
from inspections.picture import Picture
from inspections.wind_limits import SIDES, posted_winds, ride_limit
from ledger.actions import as_text


def ride_asks(picture: Picture, line: Place) -> dict[str, Any]:
    """Return what is posted of the line and was read today, figures in SI units beside how they are said here.

    ``winds``: the limit by side, from ``side`` m/s on, and the one for a wind of no side. ``lately``: the newest wind
    and air of the course today.
    """
    units, document = picture.course.units, picture.setup.document(line)

    def told(value: Decimal | None, unit: str) -> dict[str, str] | None:
        return None if value is None else {"value": f"{value:f}", "said": in_both(f"{value:f}", unit, units)}

    posted, signed = posted_winds(document), signed_limits(picture, line)
    side = Decimal(str(NO_SIDE_MPS))
    band = [number(document.get(name)) for name in ("mass_min_kg", "mass_max_kg")]
    travel = told(number(document.get("stroke_available_m")), "m")
    return {
        "asked": {name: asked for name, unit in UNIT_OF.items() if (asked := asked_in(unit, units)) != unit},
        "mass": None if None in band else {
            "limits": [f"{value:f}" for value in band if value is not None],
            "said": _(" to ").join(in_both(f"{value:f}", "kg", units) for value in band if value is not None),
        },
        "travel": None if travel is None else {"there": travel["value"], "said": travel["said"]},
        "winds": {
            "side": f"{side:f}",
            "by": {one: told(ride_limit(posted, signed, one, side), "m/s") for one in SIDES if one in posted},
            "least": told(ride_limit(posted, signed, "", side), "m/s"),
        },
        "lately": {"wind": _lately(picture, "wind_mps", "m/s"), "air": _lately(picture, "air_c", "degC")},
    }  # fmt: skip


def _lately(picture: Picture, name: str, unit: str) -> dict[str, str] | None:
    for ride in sorted(picture.rides, key=lambda one: one.rode_at, reverse=True):
        value = number(ride.fields.get(name))
        if value is not None and ride.day.date == picture.date:
            return {
                "value": f"{value:f}",
                "said": in_both(f"{value:f}", unit, picture.course.units),
                "at": f"{ride.rode_at.astimezone(picture.course.zone):%H:%M}",
                "read_at": as_text(ride.rode_at),
            }
    return None


def ride_words() -> dict[str, str]:
    """Return the sentences in which a phone asks, with its own places for figures."""
    return {
        "empty": _("Not answered yet."),
        "why": _("Say in the note why it can't be checked today."),
        "defects": _(
            "The server does not answer. What is marked as a defect is out of service as soon as this arrives:"
        ),
        "clear": _("Name the person at the landing who said it was clear."),
        "mass": _("The weight of the ballast:"),
        "wind": _("The wind:"),
        "wind_from": _("Say from where the wind blows, seen by the rider."),
        "state": _("Say whether the cable is dry or wet."),
        "reached": _("Say whether the ballast reached the landing."),
        "back": _("Confirm that the primary brake was put back."),
        "weigh": _("%(typed)s is far from the posted %(range)s. Weigh the ballast and type it again."),
        "travel": _("%(used)s cannot be: there are %(there)s of brake travel. Read and type it again."),
        "air": _("An air temperature of %(air)s cannot be: it is asked for from %(least)s to %(most)s °C.")
        % {"air": "%(air)s", "least": COLDEST_C, "most": WARMEST_C},
        "other": _("%(air)s is far from the %(other)s read at %(at)s. Read it again; leave it empty if in doubt."),
        "holds": _("%(wind)s is above the %(limit)s of this line and holds it. If it is right, type it again."),
        "tenfold": _("%(wind)s after %(other)s at %(at)s. If it is right, type it again."),
    }
