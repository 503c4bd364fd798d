"""The second look, the release by another person, and the retiring of what is not put back."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, demand_password, note
from accounts.policy import Right
from courses.actions import retire_component
from courses.queries import setup_at
from inspections.actions.findings import about, day_of_deed, fresh
from inspections.entering import enter
from inspections.errors import Refused
from inspections.judging import Answer, Bench, Judged, stricter
from inspections.models import Finding, FindingStep, Reading, Ride
from inspections.owing import debts_of
from inspections.picture import Picture
from ledger.models import Entry

RELEASE_TICKS = ("area", "intact", "clear", "told")  # 29 CFR 1910.147(e)(1),(2), READ-2
TAG_TICKS = ("away", "informed", "knows")  # 29 CFR 1910.147(e)(3), READ


@transaction.atomic
def record_reinspection(picture: Picture, finding: Finding, *, answer: Answer, deed: Deed) -> Entry:
    """Look at it again after the work.

    Judged by the limits it was opened under and by those in force; the stricter counts.
    """
    demand(deed, picture.course.operator_id, Right.WORK)
    finding = fresh(finding, deed)
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
        **about(finding, picture, day_of_deed(picture, deed)),
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


def steps_of(finding: Finding, kind: str) -> list[FindingStep]:
    return list(FindingStep.objects.filter(finding=finding, kind=kind).order_by("seq"))


def _workers(finding: Finding) -> set[str]:
    return {step.person_ref for step in steps_of(finding, "work")}


def release_hindrances(picture: Picture, finding: Finding, person_ref: str) -> list[str]:
    """Return, in sentences, what stands against this person releasing the finding now."""
    found = []
    workers = _workers(finding)
    if person_ref in workers:
        found.append(_("You did the work on it. Somebody else releases it."))
    if not workers and person_ref == finding.opened_by_ref:
        found.append(_("You opened it. Somebody else releases it."))
    looked = steps_of(finding, "reinspection")
    after_work = [step for step in looked if finding.work_seq is None or step.seq > finding.work_seq]
    if not after_work:
        found.append(_("It has not been looked at again yet."))
    elif not _found_good(finding, after_work[-1]):
        found.append(_("The last look at it did not find it in order."))
    if owed := debts_of(finding):
        names = {"photo": _("a photo"), "note": _("a note"), "tag": _("the number of the tag")}
        found.append(_("Still owed: %(what)s.") % {"what": ", ".join(names.get(name, name) for name in sorted(owed))})
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
    finding = fresh(finding, deed)
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
        **about(finding, picture, day_of_deed(picture, deed)),
        "note": note(picture.course.operator.log, text),
        "detail": {"ticks": sorted(ticks), "tag_removed_by": tag_removed_by or "applier"},
    }
    entry = enter(picture.course, "finding-release", body, deed=deed)
    _retire_replaced(finding, deed)
    return entry


def _retire_replaced(finding: Finding, deed: Deed) -> None:
    """Retire the part that was replaced, unless the person who did the work said that it is kept for repair."""
    replaced = [step for step in steps_of(finding, "work") if step.detail.get("replacement")]
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
    finding = fresh(finding, deed)
    component = finding.component
    if component is None or not (component.is_pooled or finding.slot == "aside"):
        raise Refused("not-retirable", _("Fit another component first; this place cannot stay empty."))
    if component.retired_at is None:
        retire_component(component, why=finding.title, destroyed=destroyed, deed=deed.part("retire"))
    body = {
        **about(finding, picture, day_of_deed(picture, deed)),
        "note": note(picture.course.operator.log, text),
        "detail": {"retired": True},
    }
    return enter(picture.course, "finding-release", body, deed=deed)
