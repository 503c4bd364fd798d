"""What a phone does in tests: deeds as it tells of them, and saying hello. ``w.phone`` is the technician's phone."""

from __future__ import annotations

import uuid
from types import SimpleNamespace
from typing import Any

from inspections import actions
from inspections.phones import Seen, phones_of


def deed(w: SimpleNamespace, kind: str = "hold", *, line: int | None = 1, **more: Any) -> dict[str, Any]:
    """Return a deed as ``static/js/hello.mjs`` tells of it."""
    place = {"place": str(w.lines[line - 1].pk)} if line else {}
    page = f"/course/{w.course.pk}/walk/"
    found = {"id": str(uuid.uuid4()), "kind": kind, "title": "Hold: Line 1", "made_at": "2026-06-15T05:50:00Z"}
    return {**found, "page": page, "ref": w.technician.ref, **place, **more}


def hello(
    w: SimpleNamespace, *held: Any, minutes: float = 20, who: Any = None, phone: Any = None, has: Any = None
) -> None:
    actions.say_hello(who or w.technician, phone or w.phone, held=held, has=has, at=w.t(minutes))


def phones(w: SimpleNamespace, minutes: float = 21) -> list[Seen]:
    return phones_of(w.course, at=w.t(minutes))


def owed(w: SimpleNamespace, minutes: float = 21) -> list[str]:
    return [one.id for phone in phones(w, minutes) for one in phone.owes]
