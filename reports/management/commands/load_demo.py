"""``manage.py load_demo``: an invented course with a season of history, for trying the program out."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection, transaction
from django.utils import timezone

from accounts.models import Operator
from inspections.demo import course as plan
from inspections.demo.build import build, founded_at
from inspections.demo.season import Season


class Command(BaseCommand):
    help = "Loads the invented course into an empty database. Refuses where LINEWORTHY_DEMO is not set."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--days", type=int, default=60, help="mornings of history")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("Set LINEWORTHY_DEMO=true to load the demo.")
        if Operator.objects.exists():
            raise CommandError("The database is not empty; the demo is loaded into an empty one only.")
        now = timezone.now().replace(microsecond=0)
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA synchronous=OFF")  # a load that a power cut spoils is simply done again
        with transaction.atomic():
            cast = build(founded_at(now, options["days"]))
            cast.season = Season(cast, options["days"], on_signed=_paper(), on_morning=self._told)
            cast.season.run(now)
        self.stdout.write(
            f"{plan.COURSE}, {options['days']} mornings. Log in with any of these, password {plan.PASSWORD}:"
        )
        for role, email, name in plan.PEOPLE:
            self.stdout.write(f"  {role:<11} {email:<28} {name}")

    def _told(self, played: int) -> None:
        """Say how far it is, where it does not come into the list of people."""
        if played and played % 10 == 0:
            self.stderr.write(f"  {played} mornings played", self.style.NOTICE)


def _paper() -> Any:
    from reports.actions import issue_day_sheet

    return lambda signed, deed: issue_day_sheet(signed, deed=deed)
