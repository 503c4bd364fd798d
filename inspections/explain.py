"""Reasons in words and with the address of what they come from: the reading, the finding, the sheet, the hold."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from courses.models import Course, Place
from courses.refusals import figures_in
from engineering.clearance import SENTENCES, Reason
from engineering.sentences import units_of
from inspections.facts import LineStatus
from inspections.picture import RACK, Picture

STATES = {"open": "open", "limits": "open_with_limits", "ready": "ready", "held": "held", "closed": "closed_today"}
BRAKE_OF = {"brake-primary": "primary", "brake-emergency": "emergency"}

# What closes a line as a whole, then what is wrong with it, comes before what only has to be done yet.
CLOSES = ("retired", "not-operating", "hold", "thunder")
WRONG = (
    "finding-critical", "finding-place", "item-withdraw", "brake-primary", "brake-emergency", "brake-hand-fast",
    "ride-failed", "finding-major",
)  # fmt: skip


@dataclass(frozen=True)
class Said:
    """One reason as shown: its sentence, where it leads, and the clause behind it where there is one."""

    sentence: str
    url: str = ""
    clause: str = ""


def sentence_of(reason: Reason, units: str) -> str:
    """Return the reason in the reader's language and in the units of the course. The record keeps it in metric."""
    source = SENTENCES[reason.code]
    return str(_(source)) % figures_in(dict(reason.params), units_of(source), units)


def said(picture: Picture, reason: Reason, *, line: Place | None = None, inspects: bool = False) -> Said:
    """Return a reason with its address and clause.

    With the ``line`` that it is a reason of, the address is the very page on which it is mended: the sheet or the ride
    for a person who inspects, and for others the line with what was signed of it.
    """
    kind, about = reason.ref
    clause, sentence = "", sentence_of(reason, picture.course.units)
    if kind == "item":
        found = next((reading for reading in picture.readings if reading.pk == about), None)
        clause = found.clause if found else ""
        if found is not None and found.sheet_id:
            address = reverse("inspections:signed", args=[picture.course.pk, found.sheet_id]) + f"#{found.key}"
            return Said(sentence, address, clause)
        if found is not None and found.finding:
            return Said(sentence, _address(picture.course, "finding", str(found.finding)), clause)
    if line is not None and (exact := _exact(picture, reason, line, inspects)):
        return Said(sentence, exact, clause)
    if kind == "finding":
        finding = next((finding for finding in picture.findings if str(finding.pk) == about), None)
        clause = finding.clause if finding else ""
    return Said(sentence, _address(picture.course, kind, about), clause)


def _exact(picture: Picture, reason: Reason, line: Place, inspects: bool) -> str:
    """Return the page that mends a reason of a line; empty where the reason itself names one, or there is none."""
    course, (kind, about) = picture.course, reason.ref
    of_line = reverse("inspections:line", args=[course.pk, line.pk])
    if kind in {"sheet", "item"}:
        place_id, _slash, section = about.partition("/")
        address = _sheet(picture, place_id, section, inspects, of_line if place_id == str(line.pk) else "")
        return address + (_anchor(picture, reason, place_id, section) if inspects else "")
    if reason.code.startswith("ride"):
        return reverse("inspections:ride", args=[course.pk, line.pk]) if inspects else of_line
    if reason.code.startswith("brake"):
        return reverse("courses:place", args=[course.pk, line.pk])
    if reason.code == "stranded":
        onward = dict(reason.params)["line"]
        other = next((one for one in picture.setup.lines if str(one) == onward), None)
        return reverse("inspections:line", args=[course.pk, other.pk]) if other else ""
    if reason.code.startswith("wind"):
        for house in picture.setup.houses:
            for item in picture.items(house):
                if str(item.get("measures", "")).startswith("weather.wind"):
                    return _sheet(picture, str(house.pk), str(item["sheet"]), inspects, "")
    return ""


def _anchor(picture: Picture, reason: Reason, place_id: str, section: str) -> str:
    """Return the place on its sheet of an item that nobody answered; the reason names the item in words."""
    place = next((one for one in picture.setup.places.values() if str(one.pk) == place_id), None)
    found = picture.section(place, section) if place and reason.code.startswith("item") else None
    if found is None or found.is_rack:
        return ""
    named = dict(reason.params).get("item", "")
    return next((f"#item-{item['key']}" for item in found.items if named == f"{place}: {item['text']}"), "")


def sheet_address(picture: Picture, place: Place, section: str, *, inspects: bool) -> str:
    """Return where a sheet that is still open is filled in, or looked at by a person who does not inspect."""
    of_line = reverse("inspections:line", args=[picture.course.pk, place.pk]) if place.kind == Place.Kind.LINE else ""
    return _sheet(picture, str(place.pk), section, inspects, of_line)


def _sheet(picture: Picture, place_id: str, section: str, inspects: bool, otherwise: str) -> str:
    course = picture.course
    if not inspects:
        return otherwise or reverse("inspections:walk", args=[course.pk])
    if section.startswith(RACK):
        return reverse("inspections:rack", args=[course.pk, place_id, section.removeprefix(RACK)])
    return reverse("inspections:sheet", args=[course.pk, place_id, section])


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


def reasons_of(picture: Picture, status: LineStatus, *, inspects: bool) -> list[Said]:
    """Return every reason that holds a line, then what narrows it, each with the page that mends it."""
    return [said(picture, reason, line=status.line, inspects=inspects) for reason in told_once(picture, status)]


def held_by(picture: Picture, status: LineStatus) -> list[Reason]:
    """Return the reasons that hold a line, none of them twice."""
    return [one for one in told_once(picture, status) if one in status.clearance.reasons]


def told_once(picture: Picture, status: LineStatus) -> list[Reason]:
    """Return the reasons that hold a line, then what narrows it, none of them twice.

    A reading past its limit and a brake that is not sound are told once, by the finding that is open on them: that is
    where it is worked on.
    """
    found = {(finding.place_id, finding.key) for finding in picture.open_findings() if not finding.is_watch}
    told: list[Reason] = []
    for reason in (*status.clearance.reasons, *status.clearance.cautions):
        if reason.code == "item-withdraw":
            reading = next((one for one in picture.readings if one.pk == reason.ref[1]), None)
            if reading is not None and (reading.place_id, reading.key) in found:
                continue
        if reason.code in BRAKE_OF and any(
            one.slot.startswith(BRAKE_OF[reason.code]) and one.severity == "critical" and not one.is_watch
            for one in picture.open_findings(status.line)
        ):
            continue
        if reason not in told:
            told.append(reason)
    return sorted(told, key=lambda one: _urgency(one, status))


def _urgency(one: Reason, status: LineStatus) -> int:
    if one not in status.clearance.reasons:
        return len(WRONG) + 2
    if one.code in CLOSES:
        return 0
    return 1 + WRONG.index(one.code) if one.code in WRONG else 1 + len(WRONG)


def state_of(status: LineStatus) -> str:
    """Return the name of the shape that stands for a line's status."""
    return STATES[status.word]
