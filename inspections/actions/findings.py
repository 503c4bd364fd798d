"""Findings: opened by hand or by taking something out of service, worked, looked at again, released by another."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, demand_password, note
from accounts.policy import Right
from courses.actions import fit, retire_component
from courses.models import Component, Course, Place
from courses.queries import setup_at
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.judging import Answer, Bench, Judged, stricter
from inspections.models import Day, Finding, FindingStep, Reading, Ride
from inspections.picture import Picture
from ledger.models import Entry

LONGEST_WATCH = timedelta(days=30)  # judgement: what is left longer wants repair or a limit, not another month
LONGEST_RULING = timedelta(days=90)  # judgement
HEAVY_SLOTS = ("primary", "emergency", "cable", "end-")  # hold stored energy or carry the rider
RELEASE_TICKS = ("area", "intact", "clear", "told")  # 29 CFR 1910.147(e)(1),(2), READ-2
TAG_TICKS = ("away", "informed", "knows")  # 29 CFR 1910.147(e)(3), READ


def _day(picture: Picture, deed: Deed) -> Day:
    return day_for_deed(picture.course, picture.date, opens_at=picture.opens_at, deed=deed)


def _fresh(finding: Finding, deed: Deed) -> Finding:
    """Return the finding as it stands now, its history locked; refuse if it is released already.

    Raises AlreadyRecorded for a deed that was received before.
    """
    course: Course = finding.course
    begin(course, deed)
    finding = Finding.objects.select_related("course__operator__log", "place", "component").get(pk=finding.pk)
    if finding.state != Finding.State.OPEN:
        raise Refused("released", _("This finding was released already."))
    return finding


def _about(finding: Finding, picture: Picture, day: Day) -> dict[str, Any]:
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
    opened = {"severity": severity, "is_watch": is_watch, "out_of_service": False, "title": title.strip()}
    return _opened(picture, place, opened, component=component, slot=slot, text=text, photos=photos, deed=deed)


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
        extra={"tag_number": tag_number.strip(), "typed": typed},
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
    day = _day(picture, deed)
    opened["id"] = str(uuid5(deed.id, "finding"))
    opened["slot"] = slot
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
    finding = _fresh(finding, deed)
    if not (text.strip() or photos or tag_number.strip()):
        raise Refused("nothing-added", _("Add a note, a photo or the number of the tag."))
    paid = {name for name, given in (("note", text.strip()), ("photo", photos), ("tag", tag_number.strip())) if given}
    owed = {name: why for name, why in finding.owed.items() if name not in paid}
    body = {
        **_about(finding, picture, _day(picture, deed)),
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
    finding = _fresh(finding, deed)
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
        **_about(finding, picture, _day(picture, deed)),
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
def record_reinspection(picture: Picture, finding: Finding, *, answer: Answer, deed: Deed) -> Entry:
    """Look at it again after the work.

    Judged by the limits it was opened under and by those in force; the stricter counts.
    """
    demand(deed, picture.course.operator_id, Right.WORK)
    finding = _fresh(finding, deed)
    if deed.by.ref in _workers(finding):
        raise Refused("own-work", _("Somebody else than the person who did the work looks at it again."))
    judged = _judge_again(picture, finding, answer)
    if judged is None and answer.mark not in {"sound", "defect"}:
        raise Refused("answer-needed", _("Say whether it was found sound."))
    if judged is not None and judged.question is not None:
        raise Refused("unclear", judged.question.sentence)
    if judged is not None and answer.is_empty:
        raise Refused("answer-needed", _("Enter the new reading."))
    log = picture.course.operator.log
    key = finding.key or "look"
    reading = {
        "key": key,
        "mark": answer.mark,
        "text": answer.text,
        "unit": judged.item["unit"] if judged and answer.text else "",
        "photos": list(answer.photos),
    }
    body = {
        **_about(finding, picture, _day(picture, deed)),
        "photos": list(answer.photos),
        "note": note(log, answer.note),
        "detail": {name: value for name, value in (("mark", answer.mark), ("text", answer.text)) if value},
        "key": key,
        "readings": [{name: value for name, value in reading.items() if value}],
    }
    verdict = judged.verdict if judged else ("ok" if answer.mark == "sound" else "withdraw")
    record: dict[str, Any] = {"verdict": verdict}
    if judged is not None:
        record["readings"] = [judged.as_record()]
    return enter(picture.course, "finding-reinspection", body, deed=deed, judged=record)


def _judge_again(picture: Picture, finding: Finding, answer: Answer) -> Judged | None:
    if not finding.key or finding.key.startswith("gear@"):
        return None
    place = finding.place
    item = next((item for item in picture.items(place) if item["key"] == finding.key), None)
    then = setup_at(picture.course, finding.opened_at)
    if item is None:
        version = then.checklist(place)
        item = next((i for i in (version.content["items"] if version else ()) if i["key"] == finding.key), None)
    if item is None:
        return None
    component = picture.component_of(place, item)
    now = Bench.in_force(picture.setup, place).judge(item, component, answer, picture.date)
    before = Bench(picture.setup, place, then.limits(place), then.criteria).judge(item, component, answer, picture.date)
    return stricter(now, before)


def _steps(finding: Finding, kind: str) -> list[FindingStep]:
    return list(FindingStep.objects.filter(finding=finding, kind=kind).order_by("seq"))


def _workers(finding: Finding) -> set[str]:
    return {step.person_ref for step in _steps(finding, "work")}


def release_hindrances(picture: Picture, finding: Finding, person_ref: str) -> list[str]:
    """Return, in sentences, what stands against this person releasing the finding now."""
    found = []
    workers = _workers(finding)
    if person_ref in workers:
        found.append(_("You did the work on it. Somebody else releases it."))
    if not workers and person_ref == finding.opened_by_ref:
        found.append(_("You opened it. Somebody else releases it."))
    looked = _steps(finding, "reinspection")
    after_work = [step for step in looked if finding.work_seq is None or step.seq > finding.work_seq]
    if not after_work:
        found.append(_("It has not been looked at again yet."))
    elif not _found_good(finding, after_work[-1]):
        found.append(_("The last look at it did not find it in order."))
    if finding.owed:
        names = {"photo": _("a photo"), "note": _("a note"), "tag": _("the number of the tag")}
        found.append(
            _("Still owed: %(what)s.") % {"what": ", ".join(names.get(name, name) for name in sorted(finding.owed))}
        )
    if finding.needs_ride and finding.work_seq is not None and not _ridden_since(picture, finding):
        found.append(_("Brake work counts only after a new test ride with ballast."))
    return found


def _found_good(finding: Finding, step: FindingStep) -> bool:
    readings = Reading.objects.filter(finding=finding.pk, seq=step.seq)
    if readings:
        return all(reading.verdict in {"ok", "watch"} for reading in readings)
    return bool(step.detail.get("mark") == "sound")


def _ridden_since(picture: Picture, finding: Finding) -> bool:
    return (
        Ride.objects.filter(place=finding.place, seq__gt=finding.work_seq, voided_by=None, verdict__in=["ok", "watch"])
        .exclude(fields__kind="emergency")
        .exists()
    )


@transaction.atomic
def release(
    picture: Picture, finding: Finding, *, ticks: frozenset[str], tag_removed_by: str = "", text: str = "", deed: Deed
) -> Entry:
    """Put it back into service. ``tag_removed_by`` is applier or other; for another person three more things hold."""
    demand(deed, picture.course.operator_id, Right.RELEASE)
    demand_password(deed)
    finding = _fresh(finding, deed)
    hindrances = release_hindrances(picture, finding, deed.by.ref)
    if hindrances:
        raise Refused("not-releasable", " ".join(hindrances))
    if not set(RELEASE_TICKS) <= ticks:
        raise Refused("ticks-needed", _("Confirm all four points: area inspected, whole, people clear, everyone told."))
    if finding.out_of_service and deed.by.ref != finding.opened_by_ref:
        if tag_removed_by not in {"applier", "other"}:
            raise Refused("tag-needed", _("Say who took the tag off."))
        if tag_removed_by == "other" and not set(TAG_TICKS) <= ticks:
            raise Refused("tag-ticks-needed", _("Taking off somebody else's tag needs all three confirmations."))
    body = {
        **_about(finding, picture, _day(picture, deed)),
        "note": note(picture.course.operator.log, text),
        "detail": {"ticks": sorted(ticks), "tag_removed_by": tag_removed_by or "applier"},
    }
    entry = enter(picture.course, "finding-release", body, deed=deed)
    _retire_replaced(finding, deed)
    return entry


def _retire_replaced(finding: Finding, deed: Deed) -> None:
    """Retire the part that was replaced, unless the person who did the work said that it is kept for repair."""
    replaced = [step for step in _steps(finding, "work") if step.detail.get("replacement")]
    old = finding.component
    if replaced and old is not None and old.retired_at is None and not replaced[-1].detail.get("keeps_old"):
        retire_component(old, why=finding.title, destroyed=True, deed=deed.part("retire"))


@transaction.atomic
def close_by_retiring(picture: Picture, finding: Finding, *, text: str, destroyed: bool, deed: Deed) -> Entry:
    """Close a finding by retiring its component for good: it is marked unfit or destroyed, and never fitted again.

    Only for pooled gear and for parts that lie aside: on a line something must be fitted in its place first.
    """
    demand(deed, picture.course.operator_id, Right.RELEASE)
    demand_password(deed)
    finding = _fresh(finding, deed)
    component = finding.component
    if component is None or not (component.is_pooled or finding.slot == "aside"):
        raise Refused("not-retirable", _("Fit another component first; this place cannot stay empty."))
    if component.retired_at is None:
        retire_component(component, why=finding.title, destroyed=destroyed, deed=deed.part("retire"))
    body = {
        **_about(finding, picture, _day(picture, deed)),
        "note": note(picture.course.operator.log, text),
        "detail": {"retired": True},
    }
    return enter(picture.course, "finding-release", body, deed=deed)


@transaction.atomic
def decide_watch(picture: Picture, finding: Finding, *, until: date, text: str, deed: Deed) -> Entry:
    """Let a watch stay open until a date, with the manager's reason."""
    demand(deed, picture.course.operator_id, Right.DECIDE_WATCH)
    finding = _fresh(finding, deed)
    if not finding.is_watch:
        raise Refused("not-a-watch", _("Only a watch can wait. This is a defect."))
    if not text.strip():
        raise Refused("reason-needed", _("Give the reason for waiting."))
    if not picture.date <= until <= picture.date + LONGEST_WATCH:
        raise Refused("date-too-far", _("Choose a date within %(days)s days.") % {"days": LONGEST_WATCH.days})
    body = {
        **_about(finding, picture, _day(picture, deed)),
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
    finding = _fresh(finding, deed)
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
        **_about(finding, picture, _day(picture, deed)),
        "until": until.isoformat(),
        "note": detail["reason"],
        "detail": {name: value for name, value in detail.items() if value},
    }
    return enter(picture.course, "finding-ruling", body, deed=deed)
