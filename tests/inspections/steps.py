"""The steps of a finding from out of service to released, each done rightly unless told otherwise."""

from types import SimpleNamespace
from typing import Any

from accounts.models import User
from courses.models import Component, Placement
from inspections import actions
from inspections.actions.releases import RELEASE_TICKS
from inspections.judging import Answer
from inspections.models import Finding
from ledger.models import Entry
from tests import make


def deed(w: SimpleNamespace, who: User, at: float) -> Any:
    return make.deed(who, at=w.t(at))


def fitted(w: SimpleNamespace, slot: str, place: Any = None) -> Component:
    return Placement.objects.get(place=place or w.line, slot=slot, until__isnull=True).component


def take_out(
    w: SimpleNamespace, *, slot: str = "primary-1", at: float = 20, by: User | None = None, **more: Any
) -> Finding:
    place = more.pop("place", w.line)
    entry = actions.take_out_of_service(
        make.picture(w, w.t(at)), place, title="Spring cracked", component=fitted(w, slot, place) if slot else None,
        slot=slot, deed=deed(w, by or w.technician, at), **more,
    )  # fmt: skip
    return Finding.objects.get(course=w.course, seq=entry.seq)


def pay(w: SimpleNamespace, finding: Finding, *, at: float = 25) -> None:
    actions.add_to_finding(
        make.picture(w, w.t(at)), finding, text="Seen.", photos=(make.photo(w),), tag_number="0417",
        deed=deed(w, w.technician, at),
    )  # fmt: skip


def work(w: SimpleNamespace, finding: Finding, *, at: float = 30, by: User | None = None, **more: Any) -> Entry:
    more = {"what": "repair", "text": "New bolt.", "energy_released": True, "locked_out": True, **more}
    return actions.record_work(make.picture(w, w.t(at)), finding, deed=deed(w, by or w.technician, at), **more)


def look(w: SimpleNamespace, finding: Finding, *, at: float = 35, by: User | None = None, **answer: Any) -> Entry:
    answer = answer or {"mark": "sound"}
    return actions.record_reinspection(
        make.picture(w, w.t(at)), finding, answer=Answer(**answer), deed=deed(w, by or w.mate, at)
    )


def release(w: SimpleNamespace, finding: Finding, *, at: float = 60, by: User | None = None, **more: Any) -> Entry:
    more = {"ticks": frozenset(RELEASE_TICKS), "tag_removed_by": "applier", **more}
    return actions.release(make.picture(w, w.t(at)), finding, deed=deed(w, by or w.manager, at), **more)


def ready_to_release(w: SimpleNamespace, finding: Finding) -> None:
    pay(w, finding)
    work(w, finding)
    look(w, finding)
    make.sign(w, w.line, "landing", at=w.t(40))  # what is asked after work on a brake
    for mass in ("35", "115"):
        make.ride(w, w.line, mass=mass, at=w.t(45))
