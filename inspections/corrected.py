"""What a correction is held against: the readings before the sheet that it corrects, not what it takes back."""

from __future__ import annotations

from copy import copy
from typing import TypeVar
from uuid import UUID

from django.db.models import Max

from inspections.models import Draft, Reading, Sheet, Verdict
from inspections.picture import Spot, State

AnySpot = TypeVar("AnySpot", bound=Spot)


def as_before(picture: AnySpot, draft: Draft) -> AnySpot:
    """Return the day with "last time" as it was before the sheet that a draft corrects; as it is without one."""
    if draft.amends is None:
        return picture
    first = _first(draft.amends)
    own = Reading.objects.filter(place=draft.place_id, key__in=list(draft.content), seq__lt=first)
    own = own.exclude(verdict=Verdict.UNKNOWN)  # as ItemState: that somebody could not check it is no last time
    newest = {one["key"]: one["newest"] for one in own.values("key").annotate(newest=Max("seq")).order_by()}
    rows = own.filter(seq__in=set(newest.values())).select_related("day").order_by("position")
    before = {one.key: one for one in rows if one.seq == newest[one.key]}
    spots = {(draft.place_id, key) for key in draft.content}
    states = {spot: state for spot, state in picture.states.items() if spot not in spots}
    for key, one in before.items():
        states[draft.place_id, key] = State(one.component_id, one.day.date, one.text, one.value, one.verdict, one.seq)
    found = copy(picture)
    found.states = states
    return found


def _first(sheet: UUID) -> int:
    """Return the number of the sheet that was signed first of a row of corrections."""
    one = Sheet.objects.get(pk=sheet)
    while one.amends_id is not None:
        one = Sheet.objects.get(pk=one.amends_id)
    return one.seq
