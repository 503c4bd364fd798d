"""``manage.py verify_ledger``: check the history of every operator, and the tables against it."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.mail import send_mail
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from accounts.models import Operator
from inspections.backup_kept import NotUsable, kept_faults
from inspections.erasure_check import erase_again, erasure_faults
from inspections.rebuild import (
    chain_faults,
    checkpoint_faults,
    projection_faults,
    signature_faults,
    unbelieved_states,
)
from ledger.models import Checkpoint, Entry
from ledger.reading import at_one_moment

SLACK = timedelta(minutes=5)
IN_A_MAIL = 20  # faults; the output has them all


class Command(BaseCommand):
    help = (
        "Checks numbers, links, hashes and canonical form of every entry, the signatures of persons' keys and every "
        "signed state, derives the tables again to compare, and looks for names, notes and files that lack without a "
        "decision to erase them. What a decision erased before and is here again is taken away."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--operator", help="name of one operator; all by default")
        parser.add_argument("--chain-only", action="store_true", help="leave tables and files out")
        parser.add_argument(
            "--kept", action="append", default=[], type=Path, metavar="FILE",
            help="a signed state that was kept elsewhere: is the history still that one, and as long?",
        )  # fmt: skip
        parser.add_argument(
            "--mail", action="store_true", help="on trouble write to the addresses in LINEWORTHY_TROUBLE_TO"
        )

    def handle(self, *args: Any, mail: bool, **options: Any) -> None:
        if mail and not settings.TROUBLE_TO:
            raise CommandError("Nobody would get the mail: LINEWORTHY_TROUBLE_TO names no address.")
        found: list[str] = []
        self._in_order: list[Operator] = []
        try:
            # Of one moment: a deed between a look at the entries and one at the tables would be told as a fault.
            with at_one_moment():
                self._check(found, **options)
        except CommandError:
            raise
        except Exception as error:
            # A check that breaks off is trouble too, and at night nobody sees it.
            if mail:
                _mail([*found, _("The check itself broke off: %(error)s.") % {"error": error or type(error).__name__}])
            raise
        if not options["chain_only"]:
            self._erase_again()
        if found:
            if mail:
                _mail(found)
            raise CommandError(f"The history is not in order: {len(found)} {'fault' if len(found) == 1 else 'faults'}.")

    def _check(self, found: list[str], **options: Any) -> None:
        """Collect the faults as they are found, each told at once."""
        operators = Operator.objects.select_related("log").order_by("name")
        if options["operator"]:
            operators = operators.filter(name=options["operator"])
        if not operators:
            raise CommandError("There is no such operator.")
        for operator in operators:
            before = len(found)
            broken = history_faults(operator)
            if not broken:
                self._in_order.append(operator)
            if not broken and (ahead := clock_fault(operator, now=timezone.now())):
                self._tell(found, f"{operator.name}: {ahead}")
            for sentence in broken or ([] if options["chain_only"] else table_faults(operator)):
                self._tell(found, f"{operator.name}: {sentence}")
            for sentence in unbelieved_states(operator) if len(found) == before else ():
                self.stdout.write(f"{operator.name}: {sentence}")
            count = Entry.objects.filter(log=operator.log_id).count()
            signed = Checkpoint.objects.filter(log=operator.log_id).count()
            told = f"{count} entries, signed {signed} times, {len(found) - before} faults."
            self.stdout.write(f"{operator.name}: {told}")
        for file in options["kept"]:
            try:
                note = file.read_text(encoding="utf-8")
            except (OSError, UnicodeDecodeError):
                raise CommandError(f"{file} cannot be read.") from None
            try:
                faults = kept_faults(note)
            except NotUsable as error:
                raise CommandError(f"{file}: {error}") from None
            for sentence in faults:
                self._tell(found, f"{file}: {sentence}")

    def _erase_again(self) -> None:
        """Take away what a decision erased and what came back, as with a copied folder; it was told as a fault.

        Only where the entries are in order: nothing is erased on the word of a history that was tampered with.
        """
        for operator in self._in_order:
            for sentence in erase_again(operator).sentences:
                self.stdout.write(f"{operator.name}: {sentence} It was taken away once more.")

    def _tell(self, found: list[str], sentence: str) -> None:
        found.append(sentence)
        self.stderr.write(sentence)


def history_faults(operator: Operator) -> list[str]:
    """Return what is wrong with the entries themselves, and then with what was signed of them."""
    return list(chain_faults(operator)) or [*checkpoint_faults(operator), *signature_faults(operator)]


def clock_fault(operator: Operator, *, now: datetime) -> str:
    """Tell where the newest entry is of a time that is still to come; empty where it is not."""
    newest = Entry.objects.filter(log=operator.log_id).order_by("-seq").values_list("t", flat=True).first()
    if newest is None or newest <= now + SLACK:
        return ""
    said = _(
        "The newest entry is of %(at)s UTC, which is still to come by this server's clock, %(now)s UTC. One of the two "
        "was wrong. Until that time all entries will carry it; what they say themselves of when they were made stands."
    )
    form = "%Y-%m-%d %H:%M"
    return said % {"at": newest.astimezone(UTC).strftime(form), "now": now.astimezone(UTC).strftime(form)}


def table_faults(operator: Operator) -> list[str]:
    """Return what in tables and files differs from the history. Asked only of one that is in order."""
    return [*projection_faults(operator), *erasure_faults(operator)]


def _mail(found: list[str]) -> None:
    subject = ngettext(
        "Lineworthy: the history is not in order, %(count)d fault",
        "Lineworthy: the history is not in order, %(count)d faults",
        len(found),
    ) % {"count": len(found)}
    lines = [
        _("The check of the history found what should not be. Look into it before the next day is signed."),
        "",
        *found[:IN_A_MAIL],
    ]
    if (more := len(found) - IN_A_MAIL) > 0:
        lines.append(ngettext("And %(count)d more.", "And %(count)d more.", more) % {"count": more})
    lines += ["", _("All of them stand in the output of verify_ledger on the server.")]
    send_mail(subject, "\n".join(lines) + "\n", None, settings.TROUBLE_TO)
