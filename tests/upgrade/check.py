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
    from courses.models import StoredFile
    from inspections.models import Day, Finding, Reading

    StoredFile.objects.all().delete()  # a dump is of tables alone; that their files lack would be told as a fault
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


if __name__ == "__main__":
    main(Path(sys.argv[1]))
