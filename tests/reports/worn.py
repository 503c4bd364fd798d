"""A figure of one spring of line 1 that wears: an item of the course's own, its limit, readings and riders by day."""

from __future__ import annotations

from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

from courses import checklists
from courses.models import Component, Placement
from courses.queries import Setup, setup_at
from inspections import actions
from inspections.picture import states_of
from inspections.wear import Told
from inspections.wear_record import outlooks
from tests import make

# A quantity of which no published rule has a number, so that the limit is the one given here alone.
KEY, SLOT = "OWN-1@primary-1", "primary-1"
DAY = 24 * 60
SIZED = DAY + 12  # minute of the first reading: a limit where there was none counts from the next operating day
CLOSED = DAY + 600


def item(**changed: Any) -> dict[str, Any]:
    return {
        "code": "OWN-1", "key": KEY, "slot": SLOT, "sheet": "landing", "text": "How thick is the lining?",
        "look": "At its thinnest place.", "kind": "figure", "unit": "mm", "class": "critical", "every": "1",
        "reach": "hand", "measures": "structure.lean", "sources": ["designer's folder (invented)"], **changed,
    }  # fmt: skip


def rule(**changed: Any) -> dict[str, Any]:
    return {
        "id": "OWN-OWN-1", "on": ["structure.lean"], "kind": "min", "compare": "<", "unit": "mm",
        "params": {"limit": "9"}, "source": "Designer's folder, sheet 9", "got": "COURSE", **changed,
    }  # fmt: skip


def ask(w: SimpleNamespace, *, u: str = "", rules: list[dict[str, Any]] | None = None, **changed: Any) -> None:
    """Put the item on the checklist of line 1, with its limit and the uncertainty of its gauge."""
    now = setup_at(w.course, w.t(8))
    found = checklists.with_item(now.checklist(w.line).content, item(**changed))
    make.settle(w, "checklist", found, at=w.t(8), place=w.line)
    own: dict[str, Any] = {"rules": [rule()] if rules is None else rules} | ({"gauge_u": u} if u else {})
    make.settle(w, "limits", {"items": {**now.limits(w.line).get("items", {}), KEY: own}}, at=w.t(9), place=w.line)


def read(w: SimpleNamespace, day: int, text: str, *, minute: int = SIZED, by: Any = None) -> None:
    """Sign the landing end of line 1 with this figure, typed and kept."""
    make.sign(
        w, w.line, "landing", at=w.t(day * DAY + minute), by=by or w.technician,
        answers={KEY: {"text": text, "kept": text}},
    )  # fmt: skip


def close(w: SimpleNamespace, day: int, riders: int) -> None:
    at = w.t(day * DAY + CLOSED)
    actions.close_day(make.picture(w, at), riders={str(w.line.pk): riders}, deed=make.deed(w.technician, at=at))


def wear(w: SimpleNamespace, sizes: Mapping[int, str], *, a_day: int = 2000) -> int:
    """Read the figure after so many thousands of riders, two thousand a day; return the last day."""
    last = 0
    for thousands, text in sorted(sizes.items()):
        while last * a_day < thousands * 1000:
            close(w, last, a_day)
            last += 1
        read(w, last, text)
    return last


def part(w: SimpleNamespace) -> Component:
    return Placement.objects.get(place=w.line, slot=SLOT, until__isnull=True).component


def setup_on(w: SimpleNamespace, day: int, minute: int = DAY + 30) -> Setup:
    return setup_at(w.course, w.t(day * DAY + minute))


def told(w: SimpleNamespace, day: int, minute: int = DAY + 30) -> Told | None:
    """Return what is told of the figure on a day, None where it was never read."""
    setup = setup_on(w, day, minute)
    return next((one for one in outlooks(setup, states_of(setup)) if one.figure.key == KEY), None)
