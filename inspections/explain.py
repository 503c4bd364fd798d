"""Reasons in words and with the address of what they come from: the reading, the finding, the sheet, the hold."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from courses.models import Course
from engineering.clearance import SENTENCES, Reason
from inspections.facts import LineStatus
from inspections.picture import Picture

STATES = {"open": "open", "limits": "open_with_limits", "ready": "ready", "held": "held", "closed": "closed_today"}


@dataclass(frozen=True)
class Said:
    """One reason as shown: its sentence, where it leads, and the clause behind it where there is one."""

    sentence: str
    url: str = ""
    clause: str = ""


def sentence_of(reason: Reason) -> str:
    """Return the reason in the reader's language."""
    return str(_(SENTENCES[reason.code])) % dict(reason.params)


def said(picture: Picture, reason: Reason) -> Said:
    """Return a reason with its address and clause."""
    kind, about = reason.ref
    clause = ""
    if kind == "item":
        found = next((reading for reading in picture.readings if reading.pk == about), None)
        clause = found.clause if found else ""
        if found is not None and found.sheet_id:
            address = reverse("inspections:signed", args=[picture.course.pk, found.sheet_id]) + f"#{found.key}"
            return Said(sentence_of(reason), address, clause)
    if kind == "finding":
        finding = next((finding for finding in picture.findings if str(finding.pk) == about), None)
        clause = finding.clause if finding else ""
    return Said(sentence_of(reason), _address(picture.course, kind, about), clause)


def _address(course: Course, kind: str, about: str) -> str:
    if kind == "finding":
        return reverse("inspections:finding", args=[course.pk, about])
    if kind == "hold":
        return reverse("inspections:lift", args=[course.pk, about])
    if kind == "setup":
        return reverse("courses:place", args=[course.pk, about])
    if kind in {"sheet", "item"}:
        return reverse("inspections:walk", args=[course.pk])
    return ""


def reasons_of(picture: Picture, status: LineStatus) -> list[Said]:
    """Return every reason that holds a line, then what narrows it.

    A reading past its limit whose finding is open is told once, by the finding: that is where it is worked on.
    """
    found = {(finding.place_id, finding.key) for finding in picture.open_findings() if not finding.is_watch}
    told = []
    for reason in (*status.clearance.reasons, *status.clearance.cautions):
        if reason.code == "item-withdraw":
            reading = next((one for one in picture.readings if one.pk == reason.ref[1]), None)
            if reading is not None and (reading.place_id, reading.key) in found:
                continue
        told.append(said(picture, reason))
    return told


def state_of(status: LineStatus) -> str:
    """Return the name of the shape that stands for a line's status."""
    return STATES[status.word]
