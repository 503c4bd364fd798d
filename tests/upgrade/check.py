"""Be an installation of today on an earlier version's data: migrate, verify the history, open the day.

Run by ``test_upgrade`` in a process of its own: ``python -m tests.upgrade.check FOLDER`` with DATABASE_URL set.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from tests.bench.world import install


def main(folder: Path) -> None:
    install(folder, os.environ["DATABASE_URL"])
    from django.core.management import call_command
    from django.test import Client
    from django.urls import reverse

    from accounts.models import Role
    from inspections.models import Day, Finding, Reading

    _lay_files_beside()
    call_command("verify_ledger")
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)
    day = Day.objects.select_related("course").latest("date")
    for role, address in (
        ("auditor", reverse("reports:day", args=[day.course.pk, day.date])),
        ("auditor", reverse("reports:calendar", args=[day.course.pk]) + f"?year={day.date.year}"),
        ("manager", reverse("inspections:finding", args=[day.course.pk, Finding.objects.latest("seq").pk])),
    ):
        client = Client()
        client.force_login(Role.objects.select_related("user").filter(kind=role).latest("pk").user)
        answer = client.get(address)
        if answer.status_code != 200:
            raise SystemExit(f"{address} answered {answer.status_code}.")
    print(f"{Reading.objects.count()} readings.")


def _lay_files_beside() -> None:
    """Make up what a dump, which is of tables alone, does not bring: what lacks would be told as a fault."""
    from django.utils import timezone

    from accounts.models import Operator
    from courses.actions.files import path_of
    from courses.models import StoredFile
    from ledger.erasures import named
    from ledger.models import Entry

    StoredFile.objects.all().delete()
    for operator in Operator.objects.all():
        for digest in {
            one for entry in Entry.objects.filter(log=operator.log_id) for one in named(entry.record).photos
        }:
            path = path_of(operator.pk, digest)
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(b"-")
            StoredFile.objects.create(
                operator=operator,
                sha256=digest,
                kind="photo",
                media_type="image/jpeg",
                size=1,
                stored_at=timezone.now(),
            )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
