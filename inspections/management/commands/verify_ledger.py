"""``manage.py verify_ledger``: check the history of every operator, and the tables against it."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from accounts.models import Operator
from inspections.rebuild import chain_faults, checkpoint_faults, projection_faults
from ledger.models import Checkpoint, Entry


class Command(BaseCommand):
    help = (
        "Checks numbers, links, hashes and canonical form of every entry, and every signed state, and derives the "
        "tables again to compare."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--operator", help="name of one operator; all by default")
        parser.add_argument("--chain-only", action="store_true", help="leave the tables out")

    def handle(self, *args: Any, **options: Any) -> None:
        operators = Operator.objects.select_related("log").order_by("name")
        if options["operator"]:
            operators = operators.filter(name=options["operator"])
        if not operators:
            raise CommandError("There is no such operator.")
        bad = 0
        for operator in operators:
            found = list(chain_faults(operator))
            if not found:
                found += checkpoint_faults(operator)
            if not options["chain_only"] and not found:
                found += projection_faults(operator)
            for sentence in found:
                self.stderr.write(f"{operator.name}: {sentence}")
            bad += len(found)
            count = Entry.objects.filter(log=operator.log_id).count()
            signed = Checkpoint.objects.filter(log=operator.log_id).count()
            self.stdout.write(f"{operator.name}: {count} entries, signed {signed} times, {len(found)} faults.")
        if bad:
            raise CommandError(f"The history is not in order: {bad} faults.")
