"""Bundles of a record in which a name, a note, a photo and a day sheet were erased, five years after the entries."""

from __future__ import annotations

from datetime import datetime, timedelta
from types import SimpleNamespace

from django.test import TestCase

from courses.actions.files import store_bytes
from inspections import actions
from reports.bundle import begin_bundle
from tests import make
from tests.inspections.erasing_world import ask, erase, retire, world
from tests.inspections.test_photos import jpeg
from tests.verifier.record import Bundle


def erased_record(on: datetime) -> SimpleNamespace:
    """Return ``w`` with ``whole`` (all), ``days`` (15 and 16 June 2026 alone) and ``before`` (nothing erased yet)."""
    w = world(on)
    at = w.at + timedelta(days=11)
    w.kept_photo = store_bytes(
        w.operator, jpeg((30, 12)), kind="photo", media_type="image/jpeg", deed=make.deed(w.mate, at=at)
    ).sha256
    actions.open_finding(
        make.picture(w, at), w.line, title="Rust", severity="minor", text="Seen from below.", photos=(w.kept_photo,),
        deed=make.deed(w.mate, at=at),
    )  # fmt: skip
    retire(w, at=w.at + timedelta(days=12))
    w.before = b"".join(begin_bundle(w.operator, at=w.later).chunks())
    with TestCase.captureOnCommitCallbacks(execute=True):
        for name, what in (
            ("name_gone", {"person": w.technician.ref}),
            ("note_gone", {"notes": [w.note]}),
            ("photo_gone", {"photos": [w.photo]}),
            ("paper_gone", {"papers": [w.paper.sha256]}),
        ):
            setattr(w, name, erase(w, ask(w, **what)).seq)
    w.now = w.later + timedelta(days=1)
    whole = begin_bundle(w.operator, at=w.now)
    w.whole = b"".join(whole.chunks())
    some = begin_bundle(w.operator, at=w.now, first=on.date(), last=(on + timedelta(days=1)).date())
    w.days = b"".join(some.chunks())
    w.missing = whole.missing + some.missing
    w.asked = {"keys": [Bundle.of(w.whole).key], "now": w.now}
    return w
