"""``manage.py mail_states``: mail the newest signed state of each history to those who keep copies."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django.conf import settings
from django.core.cache import cache
from django.core.mail import EmailMessage
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from accounts.models import Operator
from ledger import sealing
from ledger.models import Checkpoint
from ledger.witness.countersigning import kept_of, whole_note


class Command(BaseCommand):
    help = (
        "Mails the newest signed state of each history to the addresses in LINEWORTHY_STATES_TO, one mail for each "
        "history, which all of them get. For a timer, each evening after witness_states. A state that was mailed to "
        "the same addresses is not mailed again; that is remembered in the cache, so after the cache was emptied a "
        "state can come twice, which does no harm. --again mails it all the same. Of a history without a signed state "
        "a mail says so, each time."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--again", action="store_true", help="also what was mailed before")

    def handle(self, *args: Any, again: bool, **options: Any) -> None:
        if not settings.STATES_TO:
            raise CommandError("Nobody is named to get the states. Set LINEWORTHY_STATES_TO.")
        failed = 0
        for operator in Operator.objects.select_related("log").order_by("name"):
            newest = sealing.newest(operator.log)
            key = None if newest is None else _remembered_as(newest)
            if key and not again and cache.get(key):
                self.stdout.write(f"{operator.name}: nothing new is signed.")
                continue
            try:
                (_unsigned(operator) if newest is None else _signed(operator, newest)).send()
            except OSError as error:  # all that smtplib raises, too
                failed += 1
                self.stderr.write(f"{operator.name}: the mail was not sent: {error}")
                continue
            if key:
                cache.set(key, True, timeout=None)
            state = "that no state is signed" if newest is None else f"the state of {newest.size} entries"
            self.stdout.write(f"{operator.name}: mailed {state}.")
        if failed:
            raise CommandError(f"{failed} mails were not sent.")


def _remembered_as(checkpoint: Checkpoint) -> str:
    to = sha256("\n".join(sorted(settings.STATES_TO)).encode()).hexdigest()
    return f"state-mailed:{checkpoint.log_id}:{checkpoint.size}:{to[:16]}"


def _signed(operator: Operator, newest: Checkpoint) -> EmailMessage:
    names = {"operator": operator.name, "size": newest.size}
    note = whole_note(newest, kept_of(newest))
    paragraphs = [
        _("The inspection history of %(operator)s had %(size)d entries when these lines were signed.") % names,
        _(
            "Keep this mail where the operator cannot reach it. With these lines it can be shown years later whether "
            "any of these entries was changed or taken away since: the record that is shown then has to lead to them."
        ),
        _("They say nothing about whether an entry was true when it was made."),
        note.rstrip("\n"),
        _("The same lines are attached, byte for byte. If no such mail comes after an operating day, ask why."),
    ]
    subject = _("Signed state of the history of %(operator)s: %(size)d entries") % names
    mail = EmailMessage(_one_line(subject), "\n\n".join(paragraphs) + "\n", to=settings.STATES_TO)
    # Not as text: on the way that would get other ends of lines, and the signature would not be over them.
    mail.attach(f"state-{newest.log_id}-{newest.size}.txt", note.encode(), "application/octet-stream")
    return mail


def _unsigned(operator: Operator) -> EmailMessage:
    names = {"operator": operator.name}
    paragraphs = [
        _("No state of the inspection history of %(operator)s is signed.") % names,
        _(
            "Until one is, only copies of its papers show a later change. Who runs the server makes a key with "
            "manage.py log_key make and begins it with manage.py log_key begin."
        ),
    ]
    subject = _("The history of %(operator)s is not signed") % names
    return EmailMessage(_one_line(subject), "\n\n".join(paragraphs) + "\n", to=settings.STATES_TO)


def _one_line(text: str) -> str:
    return " ".join(text.split())
