"""Erase a name, a note, a photo or a paper: asked for by a manager or an engineer, confirmed by one of the other role.

The entries stay as they are and say that something stood there. What they stand for goes: the rows that disclose names
and notes, the bytes of files. Only these two deeds together take anything away, both under the lock of the history.
"""

from __future__ import annotations

import logging
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from accounts import policy
from accounts.closing import close_for_good
from accounts.deeds import Deed, demand, demand_password, note, record
from accounts.models import Operator, User
from accounts.policy import Right
from courses.actions.files import path_of
from courses.models import StoredFile
from inspections.errors import Refused
from inspections.models import Draft, Phone
from inspections.terms import kept
from ledger.actions import lock, recorded
from ledger.erasures import (
    ASKED,
    DECIDE,
    ERASED,
    GROUNDS,
    HASH,
    KINDS,
    NOTES,
    PAPERS,
    PERSON,
    PHOTOS,
    WHAT,
    WITHDRAWN,
    Asking,
    askings,
    two_decide,
)
from ledger.errors import AlreadyRecorded
from ledger.models import Disclosure, Entry, Log

logger = logging.getLogger(__name__)
LEFT = timedelta(days=30)  # a draft that old will not be signed any more; a younger one may be all there is of a look
HELD = timedelta(days=30)  # that a role was held before it decides; judgement, no source
MOST = 20  # notes or files in one asking
_KINDS = {PHOTOS: StoredFile.Kind.PHOTO, PAPERS: StoredFile.Kind.PAPER}


def asked_for(log: Log) -> list[Asking]:
    """Return every asking of a history with what became of it, oldest first; one query."""
    rows = Entry.objects.filter(log=log, kind__in=KINDS).order_by("seq")
    return askings(row.record for row in rows)


@transaction.atomic
def ask_erasure(operator: Operator, what: dict[str, Any], *, grounds: str, reason: str, deed: Deed) -> Entry:
    """Ask that something be erased: ``{"person": ref}``, or notes, photos or papers with a list of their hashes.

    Nothing is erased by it. Raises Refused before its term is over (``inspections.terms``), without a reason, or where
    the same is asked for already.
    """
    roles = _begin(operator, deed)
    what = _cleaned(what)
    if grounds not in GROUNDS:
        raise Refused("grounds-needed", _("Say on what grounds it is to be erased."))
    if not reason.strip():
        raise Refused("reason-needed", _("Say why it is to be erased. Do not write the name into it."))
    _demand_over(operator, what, deed)
    if any(one.is_open and one.what == what for one in asked_for(operator.log)):
        raise Refused("asked-already", _("This is asked for already, and waits for the second person."))
    body = {"what": what, "grounds": grounds, "reason": note(operator.log, reason)}
    return record(operator, ASKED, body, deed=deed, judged={"roles": roles}, begun=True)


@transaction.atomic
def withdraw_asking(operator: Operator, seq: int, *, deed: Deed) -> Entry:
    """Take an asking back, one's own or somebody else's: nothing was erased, and nothing will be by it."""
    roles = _begin(operator, deed)
    one = _open(operator, seq)
    body = {"asked": one.id, "asked_entry": one.seq}
    return record(operator, WITHDRAWN, body, deed=deed, judged={"roles": roles}, begun=True)


@transaction.atomic
def erase(operator: Operator, seq: int, *, deed: Deed) -> Entry:
    """Confirm what entry ``seq`` asks for, as another person in the other role, and erase it for ever.

    The term is asked for anew: what was asked for too early, or is in use again, stays.
    """
    roles = _begin(operator, deed)
    one = _open(operator, seq)
    if one.ref == deed.by.ref:
        raise Refused("own-asking", _("Somebody else than the person who asked has to confirm it."))
    if not two_decide(one.roles, roles):
        raise Refused("same-role", _("A manager and an engineer decide this together. Ask one of the other role."))
    _demand_over(operator, one.what, deed)
    body = {"asked": one.id, "asked_entry": one.seq, "what": one.what}
    entry = record(operator, ERASED, body, deed=deed, judged={"roles": roles}, begun=True)
    forget(operator, one.what, entry=entry)
    return entry


def forget(operator: Operator, what: dict[str, Any], *, entry: Entry) -> None:
    """Take away what an erasure names, in the caller's transaction; files go when it has ended well.

    Done already, nothing happens: a backup or a copied folder may have brought something back. Drafts that were left go
    as well: what was typed there, names and notes too, was never part of the record.
    """
    Draft.objects.filter(course__operator=operator, date__lt=operator.date_at(entry.t) - LEFT).delete()
    if isinstance(person := what.get(PERSON), str):
        Disclosure.objects.filter(log=operator.log_id, subject=person).delete()
        user = User.objects.filter(ref=person, roles__operator=operator).first()
        if user is not None:
            close_for_good(user)
            Phone.objects.filter(person=user).delete()  # nobody goes round with it any more
    Disclosure.objects.filter(log=operator.log_id, commit__in=what.get(NOTES, ())).delete()
    for folder, kind in _KINDS.items():
        rows = StoredFile.objects.filter(operator=operator, kind=kind, sha256__in=what.get(folder, ()))
        rows.update(erased_seq=entry.seq, erased_at=entry.t)
        for digest in rows.values_list("sha256", flat=True):
            _remove_after(path_of(operator.pk, digest))


def _remove_after(path: Path) -> None:
    def remove() -> None:
        try:
            path.unlink(missing_ok=True)
        except OSError:
            # The decision stands; the nightly check finds the file and removes it.
            logger.exception("A file that was erased by a decision could not be removed.")

    transaction.on_commit(remove)


def _begin(operator: Operator, deed: Deed) -> list[str]:
    """Return the deciding roles of the person, asked under the lock of the history."""
    lock(operator.log)
    if (seq := recorded(operator.log, deed.id)) is not None:
        raise AlreadyRecorded(seq)
    policy.forget(deed.by)
    demand(deed, operator.pk, Right.FORGET)
    demand_password(deed)
    now, then = (policy.roles_of(deed.by, operator.pk, at=at) for at in (deed.at, deed.at - HELD))
    if not (roles := now & then & set(DECIDE)):
        raise Refused(
            "role-too-new",
            _("Who decides on erasing has been manager or engineer here for %(days)s days, so that nobody decides "
              "alone with an account made for it.") % {"days": HELD.days},
        )  # fmt: skip
    return sorted(roles)


def _cleaned(what: dict[str, Any]) -> dict[str, Any]:
    if len(what) != 1 or not set(what) <= set(WHAT):
        raise Refused("no-such-thing", _("Say what is to be erased."))
    [(kind, value)] = what.items()
    if kind == PERSON:
        if not isinstance(value, str) or not value:
            raise Refused("no-such-thing", _("Say whose name is to be erased."))
        return {PERSON: value}
    hashes = sorted(set(value))
    if not hashes or len(hashes) > MOST or not all(HASH.fullmatch(one) for one in hashes):
        raise Refused("no-such-thing", _("Say what is to be erased: between one and %(most)s.") % {"most": MOST})
    return {kind: hashes}


def _demand_over(operator: Operator, what: dict[str, Any], deed: Deed) -> None:
    if (found := kept(operator, what, at=deed.at)) is not None:
        raise Refused(found.code, found.sentence)


def _open(operator: Operator, seq: int) -> Asking:
    one = next((one for one in asked_for(operator.log) if one.seq == seq), None)
    if one is None:
        raise Refused("no-such-thing", _("Nothing is asked for by this entry."))
    if not one.is_open:
        raise Refused("decided", _("This was decided or withdrawn already."))
    return one


__all__ = ["ask_erasure", "asked_for", "erase", "forget", "withdraw_asking"]
