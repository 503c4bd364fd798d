"""``manage.py write_day_sheet 2026-06-15``: draw the papers of a signed day that were not drawn when it was signed."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from accounts.deeds import COMMAND, Deed
from accounts.models import User
from inspections.models import Paper, SignOff
from reports.actions import issue_papers


class Command(BaseCommand):
    help = "Draws the missing day sheets and launch cards of one day. What is kept already is never drawn again."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("day", type=date.fromisoformat, metavar="DATE", help="as 2026-06-15")
        parser.add_argument("--course", default="", help="name of the course, where there is more than one")

    def handle(self, *args: Any, **options: Any) -> None:
        rows = SignOff.objects.filter(day__date=options["day"]).select_related("day__course__operator__log")
        if options["course"]:
            rows = rows.filter(day__course__name=options["course"])
        signed = list(rows.order_by("seq"))
        if not signed:
            raise CommandError(f"Nobody signed {options['day']}.")
        if len({one.day.course_id for one in signed}) > 1:
            raise CommandError("More than one course signed that day. Name one with --course.")
        for one in signed:
            before = set(Paper.objects.filter(sign_off=one).values_list("pk", flat=True))
            # In the name of the person who signed: the paper says nothing but what that person signed.
            signer = User.objects.get(ref=one.signer_ref)
            for paper in issue_papers(one, deed=Deed(by=signer, at=timezone.now(), how=COMMAND)):
                word = "is kept" if paper.pk in before else "drawn"
                self.stdout.write(f"{paper.get_kind_display()} {paper.number}: {word}, {paper.sha256}")
