"""``manage.py export_bundle --operator NAME --out FILE``: an operator's record, or days or a line of it, as a file."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from accounts.models import Operator
from courses.models import Place
from ledger.sealing import WHY
from reports.bundle import begin_bundle


class Command(BaseCommand):
    help = (
        "Writes an operator's record into a ZIP file with all that it names and the program that checks it. The "
        "newest state is signed first if it is not yet and the key is there. A file that exists is not overwritten."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--operator", required=True, help="name of the operator")
        parser.add_argument("--out", required=True, type=Path, metavar="FILE", help="where to write it")
        parser.add_argument("--from", type=date.fromisoformat, metavar="DAY", dest="first", help="as 2026-06-15")
        parser.add_argument("--to", type=date.fromisoformat, metavar="DAY", dest="last", help="included")
        parser.add_argument("--line", metavar="NAME", help="one line alone, by its name or number; no days then")
        parser.add_argument("--course", metavar="NAME", help="whose line it is, where several courses have such a one")

    def handle(self, *args: Any, operator: str, out: Path, **options: Any) -> None:
        first, last = options["first"], options["last"]
        if (first is None) != (last is None) or (first and last and first > last):
            raise CommandError("Give both --from and --to, the earlier day first, or neither.")
        found = list(Operator.objects.select_related("log").filter(name__iexact=operator.strip()))
        if len(found) != 1:
            names = ", ".join(repr(one) for one in Operator.objects.order_by("name").values_list("name", flat=True))
            raise CommandError(f"{len(found)} operators are called {operator!r}. Those here: {names or 'none'}.")
        line = _line(found[0], options["line"], options["course"], days=first is not None)
        try:
            # Names and photos of people are in it: nobody else on this machine reads it.
            descriptor = os.open(out, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except OSError as error:
            raise CommandError(f"{out} was not written: {error.strerror}.") from None
        made = begin_bundle(found[0], at=timezone.now(), first=first, last=last, line=line)
        try:
            with os.fdopen(descriptor, "wb") as target:
                for chunk in made.chunks():
                    target.write(chunk)
                target.flush()
                os.fsync(target.fileno())
        except BaseException:
            out.unlink(missing_ok=True)
            raise
        some = f"{first} to {last}, of the " if first else f"{line.name} alone, of the " if line else ""
        self.stdout.write(f"{out}: {some}{made.size} entries of {found[0].name}, {out.stat().st_size} bytes.")
        if made.unsigned:
            self.stderr.write(f"The newest entries in it are not signed. {WHY[made.unsigned]}")
        for name in made.missing:
            self.stderr.write(f"{name} is named by an entry and is not in the store.")


def _line(operator: Operator, name: str | None, course: str | None, *, days: bool) -> Place | None:
    """Return the line of this name or number. Raises CommandError if it is not one, or days are asked for too."""
    if name is None:
        if course is not None:
            raise CommandError("--course says whose line --line is; without it every course is in the file.")
        return None
    if days:
        raise CommandError("Give days or a line, not both.")
    lines = Place.objects.select_related("course").filter(course__operator=operator, kind=Place.Kind.LINE)
    if course is not None:
        lines = lines.filter(course__name__iexact=course.strip())
    wanted = name.strip()
    found = [one for one in lines if wanted.casefold() == one.name.casefold()]
    found = found or [one for one in lines if wanted == str(one.number)]
    if len(found) != 1:
        raise CommandError(f"{len(found)} lines are called {name!r}.")
    return found[0]
