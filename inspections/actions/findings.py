"""Findings: opened by hand or by taking something out of service, worked, looked at again, released by another."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, note
from accounts.policy import Right
from courses.actions import fit
from courses.models import Component, Course, Place
from courses.queries import setup_at
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.models import Day, Finding, Ride
from inspections.owing import photo_owed
from inspections.picture import Picture
from ledger.models import Entry

LONGEST_WATCH = timedelta(days=30)  # judgement: what is left longer wants repair or a limit, not another month
LONGEST_RULING = timedelta(days=90)  # judgement
HEAVY_SLOTS = ("primary", "emergency", "cable", "end-")  # hold stored energy or carry the rider


def day_of_deed(picture: Picture, deed: Deed) -> Day:
    return day_for_deed(picture.course, picture.date, opens_at=picture.opens_at, deed=deed)


def fresh(finding: Finding, deed: Deed) -> Finding:
    """Return the finding as it stands now, its history locked; refuse if it is released already.

    Raises AlreadyRecorded for a deed that was received before.
    """
    course: Course = finding.course
    begin(course, deed)
    finding = Finding.objects.select_related("course__operator__log", "place", "component").get(pk=finding.pk)
    if finding.state != Finding.State.OPEN:
        raise Refused("released", _("This finding was released already."))
    return finding


def about(finding: Finding, picture: Picture, day: Day) -> dict[str, Any]:
    return {
        "day": str(day.pk),
        "date": picture.date.isoformat(),
        "place": str(finding.place_id),
        "finding": str(finding.pk),
    }


@transaction.atomic
def open_finding(
    picture: Picture,
    place: Place,
    *,
    title: str,
    severity: str,
    text: str = "",
    component: Component | None = None,
    slot: str = "",
    is_watch: bool = False,
    photos: tuple[str, ...] = (),
    deed: Deed,
) -> Entry:
    """Open a finding by hand."""
    course = picture.course
    demand(deed, course.operator_id, Right.WITHDRAW)
    if not title.strip():
        raise Refused("title-needed", _("Say in a few words what was found."))
    begin(course, deed)  # before anything is committed: sent twice at once, the second finds the first
    opened = {"severity": severity, "is_watch": is_watch, "out_of_service": False, "title": title.strip()}
    # How serious it is is what its person claims, and signs.
    claimed = {"title": title.strip(), "severity": severity, "is_watch": is_watch or None}
    return _opened(
        picture, place, opened, component=component, slot=slot, text=text, photos=photos, deed=deed, extra=claimed
    )


@transaction.atomic
def take_out_of_service(
    picture: Picture,
    place: Place,
    *,
    title: str,
    component: Component | None = None,
    slot: str = "",
    key: str = "",
    severity: str = "critical",
    text: str = "",
    photos: tuple[str, ...] = (),
    tag_number: str = "",
    owed: dict[str, str] | None = None,
    clause: str = "",
    limit: str = "",
    typed: str = "",
    deed: Deed,
) -> Entry:
    """Take something out of service at once, with or without a reading. Nothing stands between a person and this.

    Photo, note and tag number are asked for and may be owed. Doing it twice for the same thing returns a new entry
    only where something else was taken out: the second call is refused with the finding that stands.
    """
    course = picture.course
    demand(deed, course.operator_id, Right.WITHDRAW)
    begin(course, deed)
    same = Finding.objects.filter(
        place=place, state="open", out_of_service=True, key=key, component=component, slot=slot
    )
    if same.exists() and (key or component or slot):
        raise Refused("out-already", _("This is out of service already."))
    debts = dict(owed or {})
    for name, given in (("photo", photos), ("note", text.strip()), ("tag", tag_number.strip())):
        if not given:
            debts.setdefault(name, "owed")
    if why := photo_owed(course.operator_id, photos):
        debts["photo"] = why
    opened: dict[str, Any] = {
        "severity": severity,
        "out_of_service": True,
        "title": title,
        "key": key,
        "clause": clause,
        "limit": limit,
        "owed": debts,
        "needs_ride": slot.startswith(("primary", "emergency")),
    }
    return _opened(
        picture,
        place,
        opened,
        component=component,
        slot=slot,
        text=text,
        photos=photos,
        deed=deed,
        # What is taken out is what a person claims, and signs: it stands in the act, not only in what follows from it.
        extra={
            "slot": slot,
            "component": str(component.pk) if component else "",
            "tag_number": tag_number.strip(),
            "typed": typed,
        },
    )


def _opened(
    picture: Picture,
    place: Place,
    opened: dict[str, Any],
    *,
    component: Component | None,
    slot: str,
    text: str,
    photos: tuple[str, ...],
    deed: Deed,
    extra: dict[str, Any] | None = None,
) -> Entry:
    day = day_of_deed(picture, deed)
    opened["id"] = str(uuid5(deed.id, "finding"))
    opened["slot"] = slot
    if component is not None and component.tag not in opened["title"]:
        # Whoever reads the finding must know which of twenty lanyards it is.
        opened["title"] = f"{component.label} {component.tag}: {opened['title']}"
    if component is not None:
        opened["component"] = str(component.pk)
    body = {
        "day": str(day.pk),
        "date": picture.date.isoformat(),
        "place": str(place.pk),
        "photos": list(photos),
        "note": note(picture.course.operator.log, text),
        **(extra or {}),
    }
    kept = {name: value for name, value in opened.items() if value not in ("", {}, None)}
    return enter(picture.course, "finding-opened", body, deed=deed, judged={"findings": [kept]})


@transaction.atomic
def add_to_finding(
    picture: Picture,
    finding: Finding,
    *,
    text: str = "",
    photos: tuple[str, ...] = (),
    tag_number: str = "",
    deed: Deed,
) -> Entry:
    """Add a note, a photo or the tag's number: also what was owed when it went out of service."""
    demand(deed, picture.course.operator_id, Right.WITHDRAW)
    finding = fresh(finding, deed)
    if not (text.strip() or photos or tag_number.strip()):
        raise Refused("nothing-added", _("Add a note, a photo or the number of the tag."))
    paid = {name for name, given in (("note", text.strip()), ("photo", photos), ("tag", tag_number.strip())) if given}
    owed = {name: why for name, why in finding.owed.items() if name not in paid}
    if "photo" in finding.owed and (why := photo_owed(picture.course.operator_id, photos)):
        owed["photo"] = why
    body = {
        **about(finding, picture, day_of_deed(picture, deed)),
        "photos": list(photos),
        "tag_number": tag_number.strip(),
        "note": note(picture.course.operator.log, text),
    }
    return enter(picture.course, "finding-note", body, deed=deed, judged={"owed": owed})


@transaction.atomic
def record_work(
    picture: Picture,
    finding: Finding,
    *,
    what: str,
    text: str,
    made_by: str = "",
    energy_released: bool = False,
    locked_out: bool = False,
    photos: tuple[str, ...] = (),
    replacement: Component | None = None,
    keeps_old: bool = False,
    deed: Deed,
) -> Entry:
    """Record a repair, an adjustment or a replacement. Rides made before it no longer count."""
    demand(deed, picture.course.operator_id, Right.WORK)
    finding = fresh(finding, deed)
    heavy = finding.slot.startswith(HEAVY_SLOTS)
    if not text.strip():
        raise Refused("work-needed", _("Say what was done."))
    if heavy and not (energy_released and locked_out):
        raise Refused(
            "energy",
            _(
                "Confirm that stored energy (springs, tension, weights) was released and the line locked out before "
                "the work."
            ),
        )
    if what == "replacement":
        if replacement is None:
            raise Refused("replacement-needed", _("Choose the component that was fitted in its place."))
        _no_weaker(picture, finding.component, replacement)
        fit(replacement, finding.place, finding.slot, deed=deed.part("fit"))
    rides = []
    if heavy and finding.place.kind == Place.Kind.LINE:
        rides = [str(pk) for pk in _todays_rides(picture, finding.place)]
    log = picture.course.operator.log
    detail = {
        "what": what,
        "made_by": note(log, made_by),
        "energy_released": energy_released,
        "locked_out": locked_out,
        "replacement": str(replacement.pk) if replacement else "",
        "keeps_old": keeps_old,
    }
    body = {
        **about(finding, picture, day_of_deed(picture, deed)),
        "photos": list(photos),
        "note": note(log, text),
        "detail": {name: value for name, value in detail.items() if value not in ("", False)},
    }
    entry = enter(
        picture.course,
        "finding-work",
        body,
        deed=deed,
        judged={"needs_ride": finding.needs_ride or (heavy and finding.place.kind == Place.Kind.LINE), "voids": rides},
    )
    if what == "replacement" and keeps_old and finding.component is not None:
        _keep_aside(picture, finding, deed)
    return entry


def _todays_rides(picture: Picture, line: Place) -> list[UUID]:
    return [
        ride.pk
        for ride in Ride.objects.filter(day__course=picture.course, day__date=picture.date, place=line, voided_by=None)
    ]


def _no_weaker(picture: Picture, old: Component | None, new: Component) -> None:
    """Refuse a replacement of lower breaking force: at least the original strength (R-417, READ)."""
    if old is None:
        return
    before = picture.setup.component_data(old).get("certificate", {}).get("mbf_kn")
    after = setup_at(picture.course, picture.at).component_data(new).get("certificate", {}).get("mbf_kn")
    if before and (not after or float(after) < float(before)):
        raise Refused(
            "weaker",
            _("%(new)s has no certificate with at least the breaking force of %(old)s (%(kn)s kN).")
            % {"new": new.tag, "old": old.tag, "kn": before},
        )


def _keep_aside(picture: Picture, finding: Finding, deed: Deed) -> None:
    # What came off and is kept stays out of service under a finding of its own, wherever it lies.
    store = picture.setup.stores
    if store and finding.component is not None:
        _opened(
            picture,
            store[0],
            {
                "severity": "minor",
                "out_of_service": True,
                "title": _("%(tag)s was taken off and waits for repair") % {"tag": finding.component.tag},
            },
            component=finding.component,
            slot="aside",
            text="",
            photos=(),
            deed=deed.part("aside"),
        )


@transaction.atomic
def decide_watch(picture: Picture, finding: Finding, *, until: date, text: str, deed: Deed) -> Entry:
    """Let a watch stay open until a date, with the manager's reason."""
    demand(deed, picture.course.operator_id, Right.DECIDE_WATCH)
    finding = fresh(finding, deed)
    if not finding.is_watch:
        raise Refused("not-a-watch", _("Only a watch can wait. This is a defect."))
    if not text.strip():
        raise Refused("reason-needed", _("Give the reason for waiting."))
    if not picture.date <= until <= picture.date + LONGEST_WATCH:
        raise Refused("date-too-far", _("Choose a date within %(days)s days.") % {"days": LONGEST_WATCH.days})
    body = {
        **about(finding, picture, day_of_deed(picture, deed)),
        "until": until.isoformat(),
        "note": note(picture.course.operator.log, text),
        "detail": {"until": until.isoformat()},
    }
    return enter(picture.course, "finding-watch", body, deed=deed)


@transaction.atomic
def rule(
    picture: Picture, finding: Finding, *, until: date, text: str, restriction: dict[str, str], deed: Deed
) -> Entry:
    """Rule in writing on a major finding: reason, restriction, until when. On a critical one nobody can."""
    demand(deed, picture.course.operator_id, Right.RULE)
    finding = fresh(finding, deed)
    if finding.severity != "major" or finding.is_watch:
        raise Refused("not-major", _("Only a major finding can be ruled on. A critical one is repaired and released."))
    if not text.strip():
        raise Refused("reason-needed", _("Give the reason of the ruling."))
    if not picture.date <= until <= picture.date + LONGEST_RULING:
        raise Refused("date-too-far", _("Choose a date within %(days)s days.") % {"days": LONGEST_RULING.days})
    detail = {
        "until": until.isoformat(),
        "restriction": {n: v for n, v in restriction.items() if v},
        "reason": note(picture.course.operator.log, text),
    }
    body = {
        **about(finding, picture, day_of_deed(picture, deed)),
        "until": until.isoformat(),
        "note": detail["reason"],
        "detail": {name: value for name, value in detail.items() if value},
    }
    return enter(picture.course, "finding-ruling", body, deed=deed)
