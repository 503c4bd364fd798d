"""Where the benchmark runs: an installation with its own database, a course of twelve lines, a clock that is set."""

from __future__ import annotations

import os
import secrets
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

LINES = 12
SEASON = 90  # operating days a year, unless asked otherwise
FIRST = datetime(2026, 5, 15, 5, 30, tzinfo=UTC)  # the first day of every season


def install(folder: Path, database: str) -> None:
    """Make this process an installation in ``folder``; migrate it. To be called before anything of Django."""
    for name in [name for name in os.environ if name.startswith("LINEWORTHY_")]:
        del os.environ[name]
    os.environ |= {
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "LINEWORTHY_DATA_DIR": str(folder),
        "LINEWORTHY_SECRET_KEY": secrets.token_urlsafe(50),
        "LINEWORTHY_HOSTS": "testserver,127.0.0.1",
        "LINEWORTHY_HTTPS": "false",
        "DATABASE_URL": database,
    }
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    call_command("createcachetable", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


def course(*, lines: int = LINES) -> SimpleNamespace:
    """Return a course with mechanics entered, whose first day has been played by the actions from walk to closing."""
    from django.db import transaction

    from inspections import actions
    from inspections.demo.mechanics import MECHANICS
    from tests import make

    with transaction.atomic():
        w = make.ready(lines=lines, on=FIRST)
        for line in w.lines:  # each is the demo's second line
            make.settle(w, "mechanics", dict(MECHANICS[2]), place=line)
        for who in (w.technician, w.mate):
            until = (FIRST + timedelta(days=4000)).date()
            founder = make.deed(make.founder_of(w.operator), at=FIRST)
            make.people_actions.authorise(w.operator, who, "any", until, deed=founder)
        inspect(w, FIRST)
        make.open_lines(w, at=FIRST + timedelta(minutes=40))
        closing = make.picture(w, FIRST + timedelta(hours=10))
        actions.close_day(
            closing, riders={str(line.pk): 60 for line in w.lines}, deed=make.deed(w.technician, at=closing.at)
        )
    return w


def inspect(w: SimpleNamespace, at: datetime, *, part: int = 1) -> None:
    """Sign every ``part``-th section that is due and ride every line, the day read once for all of it."""
    from inspections import actions
    from inspections.words import meaning
    from tests import make

    picture = make.picture(w, at)
    for place, section in make.sections(w, at=at)[::part]:
        draft = make.draft(w, place, section, at=at)
        actions.sign_sheet(draft, meaning=meaning(place, section), deed=make.deed(w.technician, at=at), picture=picture)
    for line in w.lines:
        make.ride(w, line, at=at + timedelta(minutes=5), mass="115", air="12")


def seasons(years: int, days: int, *, after: date) -> list[date]:
    """Return the operating days of so many seasons of ``days`` each that lie behind ``after``."""
    from tests.bench.generator import season_days

    return [on for on in season_days(FIRST.date(), years, days=days) if on > after]


def catch_up(w: SimpleNamespace, now: datetime) -> None:
    """Have everything looked at and ridden on the two days before ``now`` that has come of age since the first day.

    For what is measured in a browser, which has the day of this machine.
    """
    from django.db import transaction

    from courses.models import Component
    from tests import make

    before = now - timedelta(days=2)
    with transaction.atomic():
        for one in Component.objects.filter(course=w.course):
            content = make.component_data(one, on=f"{before - timedelta(days=7):%Y-%m-%d}")
            make.settle(w, "component", content, at=before, component=one)
        for line in w.lines:
            for kind, mass in (("emergency", "115"), ("normal", "35"), ("normal", "115")):
                make.ride(w, line, at=now - timedelta(days=1), mass=mass, kind=kind)
