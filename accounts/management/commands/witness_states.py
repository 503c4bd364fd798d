"""``manage.py witness_states``: let witnesses countersign the newest signed state of each history."""

from __future__ import annotations

import logging
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from accounts.models import Operator
from ledger import sealing
from ledger.witness.asking import NotWitnessed, Witness
from ledger.witness.countersigning import countersign, kept_of, tree_of

logger = logging.getLogger(__name__)
# What no network explains: two histories, or one that lost entries.
ALARMS = ("another-history", "saw-more", "own-history", "false")


class Command(BaseCommand):
    help = (
        "Sends the newest signed state of each history, with the proof that it only adds to what was seen before, to "
        "the witnesses in LINEWORTHY_WITNESSES, and keeps their answers. For a timer, each evening after closing. A "
        "witness is waited for no longer than 10 seconds; one that cannot be reached is left out for the rest of this "
        "run. Ends with an error if a state was not countersigned by all of them."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--operator", help="name of one operator; all by default")

    def handle(self, *args: Any, operator: str | None, **options: Any) -> None:
        operators = Operator.objects.select_related("log").order_by("name")
        if operator:
            operators = operators.filter(name__iexact=operator.strip())
        if not operators:
            raise CommandError("There is no such operator.")
        if not settings.WITNESSES:
            raise CommandError("No witness is named. Set LINEWORTHY_WITNESSES.")
        self._away: set[Witness] = set()
        missing = sum(self._about(one) for one in operators)
        if missing:
            raise CommandError(f"{missing} countersignatures are missing.")

    def _about(self, operator: Operator) -> int:
        """Return how many countersignatures of this history's newest state are missing afterwards."""
        newest = sealing.newest(operator.log)
        if newest is None:
            self.stderr.write(f"{operator.name}: no state is signed (manage.py log_key begin).")
            return len(settings.WITNESSES)
        kept = {one.witness for one in kept_of(newest)}
        asked = [one for one in settings.WITNESSES if one.key.name not in kept]
        if not asked:
            self.stdout.write(f"{operator.name}: {newest.size} entries, countersigned before.")
            return 0
        try:
            tree = tree_of(newest)
        except NotWitnessed as trouble:
            self._tell(operator, "", trouble)
            return len(asked)
        missing = 0
        for witness in asked:
            try:
                if witness in self._away:
                    raise NotWitnessed("away", "The witness is left out: it could not be reached before.")
                answer = countersign(newest, tree, witness, at=timezone.now())
            except NotWitnessed as trouble:
                missing += 1
                self._tell(operator, f"{witness.key.name}: ", trouble)
                if trouble.code == "unreachable":
                    self._away.add(witness)
            else:
                seen = f"seen at {answer.seen_at:%Y-%m-%d %H:%M:%S} UTC"
                self.stdout.write(f"{operator.name}: {newest.size} entries, {answer.witness}: {seen}.")
        return missing

    def _tell(self, operator: Operator, who: str, trouble: NotWitnessed) -> None:
        if trouble.code in ALARMS:
            logger.error("The history of %s: %s%s", operator.name, who, trouble)
        self.stderr.write(f"{operator.name}: {who}{trouble}")
