"""The way from a line's papers to a calibrated computation: its steps in order, each with whether it is done.

What is entered counts as done as soon as it is proposed; that a second person confirmed it is a step of its own, after
the mechanics and once more after a calibration.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.policy import Right
from courses.mechanics_gaps import mechanics_gaps, missing_of_line
from courses.models import Course, Place, Version
from engineering.envelope_notes import RIDES_NEEDED

MEASURED_HERE = frozenset({"stopwatch", "gauge", "sag"})  # of ``courses.mechanics_shape.TENSION_HOW``


class Step(NamedTuple):
    """One step: what it is, what there is to say of it, whether it is done, and where it is done."""

    words: str
    more: str
    is_done: bool
    needs: Right
    url: str


def steps_of(
    course: Course, line: Place, document: Mapping[str, Any], versions: Sequence[Version], *, speeds: int
) -> list[Step]:
    """Return the steps of a line.

    ``document`` is the line's data; ``versions`` are those of its mechanics, newest first; ``speeds`` is the number of
    its normal ballast rides with an arrival speed.
    """
    kept = [one for one in versions if one.refused_at is None]
    content: Mapping[str, Any] = kept[0].content if kept else {}
    calibrated = [one for one in kept if one.content.get("calibration", {}).get("on")]
    here = [course.pk, line.pk]
    ridden = ngettext(
        "%(n)s test ride with an arrival speed so far; a calibration needs %(needed)s, with several weights.",
        "%(n)s test rides with an arrival speed so far; a calibration needs %(needed)s, with several weights.",
        speeds,
    ) % {"n": speeds, "needed": RIDES_NEEDED}
    return [
        Step(
            _("Line data"), _("Brakes, drop, cable, what is posted, and the instrument for the arrival speed."),
            not missing_of_line(document), Right.READ_SETUP, reverse("courses:place", args=here),
        ),
        Step(
            _("Mechanics"), _("From the papers of designer, rope and brakes."),
            bool(content) and not mechanics_gaps(document, content, {}), Right.PROPOSE,
            reverse("courses:mechanics_edit", args=here),
        ),
        Step(_("Second person"), "", any(one.confirmed_at for one in kept), Right.READ_SETUP, _waits(course, kept)),
        Step(
            _("Return wave"), _("Or another measurement of the tension, entered in the mechanics."),
            content.get("tension_how") in MEASURED_HERE, Right.INSPECT, reverse("inspections:stopwatch", args=here),
        ),
        Step(
            _("Ballasts"), ridden, speeds >= RIDES_NEEDED, Right.INSPECT, reverse("inspections:ride", args=here),
        ),
        Step(
            _("Calibrate"), _("From these rides the drag of what rolls on this line."), bool(calibrated),
            Right.READ_SETUP, reverse("reports:calibration", args=here),
        ),
        Step(
            _("Second person"), "", any(one.confirmed_at for one in calibrated), Right.READ_SETUP,
            _waits(course, calibrated),
        ),
    ]  # fmt: skip


def _waits(course: Course, versions: Sequence[Version]) -> str:
    """Return the version that waits to be confirmed, else all that wait on the course."""
    waits = next((one for one in versions if one.confirmed_at is None), None)
    if waits is None:
        return reverse("courses:proposals", args=[course.pk])
    return reverse("courses:proposal", args=[course.pk, waits.pk])
