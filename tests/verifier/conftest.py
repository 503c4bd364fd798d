"""A bundle of a record of three days, made once by the application; what is done to it needs no database."""

from __future__ import annotations

import tempfile
from datetime import date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.db import transaction
from django.test import override_settings

from accounts.deeds import COMMAND, Deed
from accounts.log_keys import begin_log_key
from courses import actions as course_actions
from courses.actions.files import store_bytes
from inspections import actions
from inspections.models import SignOff
from ledger import log_key
from reports.actions import issue_day_sheet
from reports.bundle import begin_bundle
from tests import make
from tests.inspections.test_photos import jpeg
from tests.verifier.erased import erased_record
from tests.verifier.record import MINE, Bundle, log_key_text


@pytest.fixture
def made(built: SimpleNamespace, db: None) -> SimpleNamespace:
    """``made.whole`` and ``made.days`` (15 June alone) are bundles as bytes; ``made.sheet`` the pages of the day sheet.

    15 June: everything signed, ridden, opened, the day sheet drawn and the state signed on it; 16 June: two findings
    with a photo and a note each; 17 June: one more ride, and a signed state.
    """
    return built


@pytest.fixture(scope="session")
def built(django_db_setup: None, django_db_blocker: Any, morning: datetime) -> SimpleNamespace:
    """Make the bundles once; of the database nothing is left."""
    with (
        tempfile.TemporaryDirectory() as folder,
        django_db_blocker.unblock(),
        transaction.atomic(),
        override_settings(MEDIA_ROOT=Path(folder)),
    ):
        w = make.ready(on=morning)
        with override_settings(LOG_KEY=log_key_text()):
            found = _made(w)
        transaction.set_rollback(True)
    return found


def _made(w: SimpleNamespace) -> SimpleNamespace:
    from courses.actions.files import path_of
    from tests.reports.paper_reader import pages

    t = lambda day, minute: w.at + timedelta(days=day, minutes=minute)  # noqa: E731
    begin_log_key(w.operator, log_key.read(log_key_text()), deed=Deed(by=w.manager, at=t(0, 1), how=COMMAND))
    make.inspect(w, at=t(0, 5))
    make.open_lines(w, at=t(0, 60))
    paper = issue_day_sheet(SignOff.objects.get(), deed=make.deed(w.manager, at=t(0, 61)))
    text = "\n".join(pages(path_of(w.operator.pk, paper.sha256).read_bytes()))
    for number, colour in enumerate(((20, 10), (30, 12))):
        at = t(1, 10 + number)
        photo = store_bytes(
            w.operator, jpeg(colour), kind="photo", media_type="image/jpeg", deed=make.deed(w.technician, at=at)
        )
        actions.open_finding(
            make.picture(w, at), w.line, title=f"=Rust {number}", severity="major", text=f"Seen at stop {number}.",
            photos=(photo.sha256,), deed=make.deed(w.technician, at=at),
        )  # fmt: skip
    make.ride(w, w.line, at=t(2, 5))
    whole = begin_bundle(w.operator, at=t(2, 30))
    some = begin_bundle(w.operator, at=t(2, 30), first=date(2026, 6, 15), last=date(2026, 6, 15))
    return SimpleNamespace(
        whole=b"".join(whole.chunks()), days=b"".join(some.chunks()), missing=whole.missing + some.missing, sheet=text
    )


@pytest.fixture
def erased(erased_once: SimpleNamespace, db: None) -> SimpleNamespace:
    """A record of which something was erased: ``tests.verifier.erased``. ``asked``: how it is checked."""
    return erased_once


@pytest.fixture(scope="session")
def erased_once(django_db_setup: None, django_db_blocker: Any, morning: datetime) -> SimpleNamespace:
    with (
        tempfile.TemporaryDirectory() as folder,
        django_db_blocker.unblock(),
        transaction.atomic(),
        override_settings(MEDIA_ROOT=Path(folder), LOG_KEY=log_key_text()),
    ):
        found = erased_record(morning)
        transaction.set_rollback(True)
    return found


@pytest.fixture
def lines(lines_built: SimpleNamespace, db: None) -> SimpleNamespace:
    """A record of a course of two lines: ``lines.whole``; ``lines.first``, ``lines.second`` show one line alone."""
    return lines_built


@pytest.fixture(scope="session")
def lines_built(django_db_setup: None, django_db_blocker: Any, morning: datetime) -> SimpleNamespace:
    """15 June: on each line a sheet and a finding with a photo, thunder over the course. Nothing is left of it."""
    with (
        tempfile.TemporaryDirectory() as folder,
        django_db_blocker.unblock(),
        transaction.atomic(),
        override_settings(MEDIA_ROOT=Path(folder)),
    ):
        w = make.ready(lines=2, on=morning)
        with override_settings(LOG_KEY=log_key_text()):
            found = _of_two_lines(w)
        transaction.set_rollback(True)
    return found


def _of_two_lines(w: SimpleNamespace) -> SimpleNamespace:
    t = lambda minute: w.at + timedelta(minutes=minute)  # noqa: E731
    begin_log_key(w.operator, log_key.read(log_key_text()), deed=Deed(by=w.manager, at=t(0), how=COMMAND))
    for number, line in enumerate(w.lines):
        at = t(5 + number)
        section = next(section for place, section in make.sections(w, at=at) if place == line)
        actions.sign_sheet(make.draft(w, line, section, at=at), meaning="Seen.", deed=make.deed(w.technician, at=at))
        photo = store_bytes(
            w.operator, jpeg((20 + number, 10)), kind="photo", media_type="image/jpeg",
            deed=make.deed(w.technician, at=at),
        )  # fmt: skip
        actions.open_finding(
            make.picture(w, at), line, title="Rust", severity="minor", photos=(photo.sha256,),
            deed=make.deed(w.technician, at=at),
        )  # fmt: skip
    # A part whose data is entered before it is fitted, as a course's set-up does.
    part = course_actions.add_component(
        w.course, kind="trolley", tag="TX-09", label="spare trolley", deed=make.deed(w.engineer, at=t(10))
    )
    make.settle(w, "component", make.component_data(part), at=t(11), component=part)
    course_actions.fit(part, w.lines[0], "trolley", deed=make.deed(w.engineer, at=t(12)))
    actions.call_hold(make.picture(w, t(20)), None, cause="thunder", deed=make.deed(w.technician, at=t(20)))
    make.place(w.course, "platform", 9, "Platform 9", at=t(30))
    whole = begin_bundle(w.operator, at=t(40))
    first, second = (begin_bundle(w.operator, at=t(40), line=line) for line in w.lines)
    return SimpleNamespace(
        whole=b"".join(whole.chunks()), first=b"".join(first.chunks()), second=b"".join(second.chunks()),
        ids=[str(line.pk) for line in w.lines],
    )  # fmt: skip


@pytest.fixture
def bundle(made: SimpleNamespace) -> Bundle:
    return Bundle.of(made.whole)


@pytest.fixture
def kept(bundle: Bundle) -> str:
    """The state that the auditor kept: that of the day sheet of 15 June."""
    return bundle.state(bundle.sizes[1])


@pytest.fixture
def all_asked(bundle: Bundle, kept: str) -> dict[str, Any]:
    """What an auditor gives who has everything: key, witness, a saved state, a limit of age."""
    from tests.verifier.record import WITNESS_KEY

    assert bundle.signers == (MINE,)
    return {"keys": [bundle.key], "witnesses": [WITNESS_KEY], "prev": [kept], "days": 30}
