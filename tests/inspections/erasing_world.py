"""A record with something to forget: a technician who has gone, a photo, a note, a day sheet; and the years after."""

from __future__ import annotations

from datetime import datetime, timedelta
from types import SimpleNamespace
from typing import Any

from accounts import actions as people
from courses.actions import retire_component
from courses.actions.files import path_of, store_bytes
from inspections import actions
from inspections.management.commands.verify_ledger import history_faults, table_faults
from inspections.models import SignOff
from ledger.models import Entry
from tests import make
from tests.inspections.test_photos import jpeg

NOTE = "Scratches seen beside the child of a guest."


def world(on: datetime) -> SimpleNamespace:
    """Return ``make.ready`` with a day signed by Tarik (technician), a photo and a note of a part, and the day sheet.

    Revision 2 of the day, ``w.no_sheet``, has no sheet. Ten days later Tarik's role is taken. ``w.later`` is a day on
    which every term is over.
    """
    from reports.actions import issue_day_sheet

    w = make.ready(on=on)
    w.years = lambda n, days=30: on.replace(year=on.year + n) + timedelta(days=days)
    w.later = w.years(5)
    make.inspect(w, at=on + timedelta(minutes=5))
    make.open_lines(w, at=on + timedelta(minutes=10))
    w.paper = issue_day_sheet(SignOff.objects.get(day__course=w.course), deed=make.deed(w.manager, at=on))
    make.open_lines(w, at=on + timedelta(minutes=12))
    w.no_sheet = SignOff.objects.get(day__course=w.course, revision=2)
    w.part = w.course.components.get(tag="HA-01")
    at = on + timedelta(days=1)
    stored = store_bytes(
        w.operator, jpeg((20, 10)), kind="photo", media_type="image/jpeg", deed=make.deed(w.mate, at=at)
    )
    w.photo = stored.sha256
    w.photo_path = path_of(w.operator.pk, w.photo)
    w.found = actions.open_finding(
        make.picture(w, at), w.store, title="Scratches", severity="minor", component=w.part, slot="B", text=NOTE,
        photos=(w.photo,), deed=make.deed(w.mate, at=at),
    )  # fmt: skip
    w.note = w.found.record["act"]["note"]
    gone = on + timedelta(days=10)
    people.take_role(w.operator, w.technician, "technician", deed=make.deed(make.founder_of(w.operator), at=gone))
    return w


def faults(w: SimpleNamespace) -> list[str]:
    """Return all that ``verify_ledger`` finds."""
    return history_faults(w.operator) or table_faults(w.operator)


def retire(w: SimpleNamespace, *, at: datetime) -> None:
    """Take the part of the photo out for good."""
    w.part.refresh_from_db()
    retire_component(w.part, why="Worn.", destroyed=True, deed=make.deed(w.manager, at=at))


def ask(w: SimpleNamespace, *, by: Any = None, at: datetime | None = None, **what: Any) -> Entry:
    return actions.ask_erasure(
        w.operator,
        what,
        grounds="asked",
        reason="Asked for by letter.",
        deed=make.deed(by or w.manager, at=at or w.later),
    )


def erase(w: SimpleNamespace, asked: Entry, *, by: Any = None, at: datetime | None = None) -> Entry:
    deed = make.deed(by or w.engineer, at=(at or w.later) + timedelta(minutes=1))
    return actions.erase(w.operator, asked.seq, deed=deed)
