"""Signing the day: every line is named open or closed. Only a ready line opens, and only by a second person."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from hashlib import sha256
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, demand_password
from accounts.policy import Right
from courses.models import Course, Place
from inspections.actions.paper_signing import OnPaper, check_paper
from inspections.as_of import picture_as_of
from inspections.entering import begin, day_for_deed, enter
from inspections.errors import Refused
from inspections.explain import held_by
from inspections.facts import CLOSED, OPEN, LineStatus, line_statuses
from inspections.models import FindingStep, Snapshot
from inspections.phones import phones_record, to_ask
from inspections.picture import Picture, picture_of
from inspections.snapshot import compact, limits_of, snapshot
from inspections.stops import is_walked
from ledger import chain
from ledger.actions import as_text
from ledger.models import Entry


class NotReady(Refused):
    """Lines that were to be opened and cannot be; ``lines`` gives the reasons by line id."""

    def __init__(self, lines: dict[str, list[str]]) -> None:
        super().__init__("not-ready", _("A line that is held cannot be opened. Close it for today or mend the reason."))
        self.lines = lines


def hands_on(picture: Picture, line: Place, ref: str) -> bool:
    """Tell whether a person signed a sheet, a ride or work of this line today: such a person does not open it.

    The look that belongs to a release does not count, so that two people are enough.
    """
    places = {line.pk, line.launch_id, line.landing_id}
    if any(sheet.signer_ref == ref and sheet.place_id in places for sheet in picture.sheets):
        return True
    if any(ride.signer_ref == ref and ride.day.date == picture.date for ride in picture.rides_of(line)):
        return True
    return FindingStep.objects.filter(
        finding__place__in=places, on=picture.date, person_ref=ref, kind="work"
    ).exists() or _looked_without_release(picture, places, ref)


def _looked_without_release(picture: Picture, places: set[Any], ref: str) -> bool:
    looked = FindingStep.objects.filter(finding__place__in=places, on=picture.date, person_ref=ref, kind="reinspection")
    return looked.exclude(finding__state="released", finding__released_by_ref=ref).exists()


@transaction.atomic
def sign_off(
    course: Course,
    *,
    decisions: Mapping[str, str],
    meaning: str,
    seen_revision: int,
    on_paper: OnPaper | None = None,
    asked: Collection[str] | None = None,
    wind_told: str = "",
    deed: Deed,
) -> Entry:
    """Sign the day. ``decisions`` names every line ``open`` or ``closed``; ``seen_revision`` is the last revision seen.

    With ``on_paper`` the signature was given on paper: the day is judged as it stood at the time on the paper, and
    neither who opened it there nor who types it in had a hand in an opened line.

    ``asked`` is what the signer was shown of phones that owe something or are away (``phones.to_ask``) and has asked
    about by radio; None where nothing was asked. It stands in the act, and in ``judged`` what this server knew of them.

    ``wind_told`` is what the signer has said of a wind that was read long ago; empty where nothing had to be said.

    Raises NotReady with the reasons by line, Refused where somebody else signed meanwhile, where the signer inspected
    the line, where a line is not named, or where a phone has to be asked after first.
    """
    demand(deed, course.operator_id, Right.SIGN_OFF)
    demand_password(deed)
    begin(course, deed)
    picture = _picture(course, on_paper, deed)
    revision = (picture.sign_off.revision if picture.sign_off else 0) + 1
    if seen_revision != revision - 1:
        raise Refused(
            "signed-meanwhile", _("Somebody else signed meanwhile. Look at what is signed before you sign again.")
        )
    signers = {deed.by.ref}
    if on_paper is not None:
        check_paper(course, on_paper, picture.sign_off, deed)
        signers |= on_paper.refs
    _check_phones(picture, asked)
    statuses = line_statuses(picture, decisions)
    _check(picture, statuses, decisions, signers)
    day = day_for_deed(course, picture.date, opens_at=picture.opens_at, deed=deed)
    if picture.day is None:
        picture = _picture(course, on_paper, deed)
    previous: dict[str, Any] = picture.sign_off.lines if picture.sign_off else {}
    changed = [
        str(status.line)
        for status in statuses
        if previous and previous.get(str(status.line.pk), {}).get("decision") != decisions[str(status.line.pk)]
    ]
    paper = on_paper.as_record(course) if on_paper else {}
    lines = {}
    for status in statuses:
        line = str(status.line.pk)
        lines[line] = _decided(picture, status, decisions[line], signers)
    seen = snapshot(picture, statuses, lines, revision=revision, changed=changed)
    if on_paper is not None:
        seen |= {"made_at": as_text(deed.at), "on_paper": {**paper, "photo": on_paper.photo}}
    data = chain.canonical(chain.normal(seen))
    digest = sha256(data).hexdigest()
    entry = enter(
        course,
        "sign-off",
        {
            "day": str(day.pk),
            "date": picture.date.isoformat(),
            "meaning": meaning,
            "paper": on_paper.photo if on_paper else "",
            "on_paper": paper,
            "decisions": dict(decisions),
            "seen_revision": seen_revision,
            "asked": sorted(asked or ()),
        },
        deed=deed,
        judged={
            "revision": revision,
            "lines": lines,
            "snapshot": digest,
            **compact({"phones": phones_record(picture.phones, picture.date, picture.at, walked=is_walked(picture))}),
            **compact({"wind_told": wind_told}),
        },
    )
    Snapshot.objects.get_or_create(sha256=digest, defaults={"course": course, "data": data})
    return entry


def _check_phones(picture: Picture, asked: Collection[str] | None) -> None:
    waiting = to_ask(picture.phones, picture.date, picture.at, walked=is_walked(picture))
    if waiting and asked is None:
        raise Refused("phones", _("Ask by radio whoever has the phones named here, then say that you have asked."))
    if not waiting <= set(asked or ()):
        raise Refused("phones", _("Another phone has to be asked after since this page was opened. Look again."))


def _picture(course: Course, on_paper: OnPaper | None, deed: Deed) -> Picture:
    return picture_as_of(course, on_paper.at) if on_paper else picture_of(course, at=deed.at)


def _decided(picture: Picture, status: LineStatus, decision: str, signers: set[str]) -> dict[str, Any]:
    found: dict[str, Any] = {"decision": decision, "state": status.clearance.state}
    if decision == OPEN:
        found["limits"] = limits_of(status.clearance.limits)
    if status.clearance.reasons:
        found["reasons"] = [reason.sentence for reason in held_by(picture, status)]
    elif decision == CLOSED and any(hands_on(picture, status.line, ref) for ref in signers):
        found["reasons"] = [_("Nothing held it, but who signed had inspected or worked on it that day.")]
    return found


def _check(picture: Picture, statuses: list[LineStatus], decisions: Mapping[str, str], signers: set[str]) -> None:
    named = {str(status.line.pk) for status in statuses}
    if not named:
        raise Refused("no-lines", _("This course has no lines yet."))
    if set(decisions) != named or not set(decisions.values()) <= {OPEN, CLOSED}:
        raise Refused("every-line", _("Say for every line whether it is open or closed today."))
    opening = [status for status in statuses if decisions[str(status.line.pk)] == OPEN]
    held = {
        str(status.line.pk): [reason.sentence for reason in held_by(picture, status)]
        for status in opening
        if not status.clearance.is_ready
    }
    if held:
        raise NotReady(held)
    own = [status.line for status in opening if any(hands_on(picture, status.line, ref) for ref in signers)]
    if own:
        about = {"lines": ", ".join(map(str, own))}
        if len(signers) > 1:
            sentence = _("Who opens and who types it in must not have inspected or worked on %(lines)s that day.")
        else:
            sentence = _("You inspected or worked on %(lines)s today. Somebody else opens them.")
        raise Refused("own-inspection", sentence % about)
