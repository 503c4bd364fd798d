"""Keys of persons: made on a phone or desk, named in the history, ended there. Only the person has the private half."""

from __future__ import annotations

import uuid

from django.db import transaction
from django.utils.translation import gettext as _

from accounts.deeds import Deed, demand, demand_password, record
from accounts.errors import Refused
from accounts.models import Operator, PersonKey
from accounts.policy import Right
from ledger import acts
from ledger.actions import lock, recorded
from ledger.errors import AlreadyRecorded
from ledger.models import Entry

KIND = "person-key"
ENROL, REVOKE = "enrol", "revoke"
CHANGED, LOST, SUSPECT = "changed", "lost", "suspect"
WHY = (CHANGED, LOST, SUSPECT)


@transaction.atomic
def enrol_key(operator: Operator, public: str, proof: str, *, deed: Deed) -> PersonKey:
    """Name a new key of the person of the deed. ``proof`` is the key's own signature over ``acts.proof_message``.

    Both in base64. The password is needed: a phone left lying about must not get a key in its owner's name.
    """
    _begin(operator, Right.READ_SETUP, deed)
    demand_password(deed)
    point = acts.point_of(public)
    if point is None or not acts.is_signed(point, proof, acts.proof_message(str(operator.log_id), deed.by.ref, public)):
        raise Refused("not-a-key", _("This browser sent no key that can be used. Try once more, or another browser."))
    name = acts.key_id(point)
    if PersonKey.objects.filter(operator=operator, key=name).exists():
        raise Refused("key-known", _("This key is known already."))
    body = {"op": ENROL, "alg": acts.ALGORITHM, "key": name, "public": public, "proof": proof}
    record(operator, KIND, body, deed=deed)
    found = PersonKey(
        id=uuid.uuid5(deed.id, name), user=deed.by, operator=operator, key=name, public=point, since=deed.at
    )
    found.save(force_insert=True)
    return found


@transaction.atomic
def revoke_key(key: PersonKey, why: str, *, deed: Deed) -> PersonKey:
    """End a key: one's own, or as a manager anybody's. What it signed before stands. ``why`` is of WHY."""
    _begin(key.operator, Right.READ_SETUP if key.user_id == deed.by.pk else Right.PEOPLE, deed)
    if why not in WHY:
        raise Refused("reason-needed", _("Say why the key is ended."))
    found = PersonKey.objects.select_for_update().get(pk=key.pk)
    if found.ended_at is not None:
        raise Refused("key-ended", _("This key was ended before."))
    record(key.operator, KIND, {"op": REVOKE, "key": key.key, "person": key.user.ref, "why": why}, deed=deed)
    found.ended_at = deed.at
    found.save(update_fields=["ended_at"])
    return found


def why_ended(operator: Operator) -> dict[str, str]:
    """Return of WHY, by the name of a key, why it was ended; a key that is not in it was not."""
    acts_of_keys = (one.record["act"] for one in Entry.objects.filter(log=operator.log_id, kind=KIND).order_by("seq"))
    return {act["key"]: act["why"] for act in acts_of_keys if act["op"] == REVOKE}


def _begin(operator: Operator, right: Right, deed: Deed) -> None:
    demand(deed, operator.pk, right)
    lock(operator.log)
    # Before anything else is asked, or a deed that is sent twice would be refused for what it did itself.
    if (known := recorded(operator.log, deed.id)) is not None:
        raise AlreadyRecorded(known)
