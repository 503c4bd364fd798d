"""``manage.py log_key make FILE``, ``begin``, ``rotate``, ``show``: the key that signs the states of the histories."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from accounts import log_keys
from accounts.deeds import COMMAND, Deed
from accounts.errors import Refused
from accounts.models import Operator, User
from ledger import log_key, sealing


class Command(BaseCommand):
    help = (
        "The key that signs the states of the histories. make: a new key in a file that only its owner reads. begin: "
        "name the key that is set in an operator's history. rotate: let the key in a file take its place. show: the "
        "public keys, to be given to auditors and witnesses by another way than the history itself."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        deeds = parser.add_subparsers(dest="deed", required=True)
        made = deeds.add_parser("make", help="write a new key to a file")
        made.add_argument("file", type=Path)
        for name, about in (("begin", "name the key that is set"), ("rotate", "exchange the key")):
            one = deeds.add_parser(name, help=about)
            one.add_argument("--operator", required=True, help="name of the operator")
            one.add_argument("--by", required=True, help="address of a manager or engineer of it, who answers for this")
            if name == "rotate":
                one.add_argument("--new", required=True, type=Path, help="file with the new key")
                one.add_argument("--reason", required=True, choices=log_keys.REASONS)
                one.add_argument("--good-until", type=int, help="entries that the old key is still believed for")
        deeds.add_parser("show", help="print the public keys of every history")

    def handle(self, *args: Any, deed: str, **options: Any) -> None:
        try:
            getattr(self, f"_{deed}")(**options)
        except (log_key.LogKeyError, sealing.NotSealed) as error:
            raise CommandError(str(error)) from None
        except Refused as refused:
            raise CommandError(refused.sentence) from None

    def _make(self, *, file: Path, **options: Any) -> None:
        try:
            descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o400)
        except OSError as error:
            raise CommandError(f"{file} was not written: {error.strerror}.") from None
        with os.fdopen(descriptor, "w", encoding="ascii") as out:
            out.write(log_key.made() + "\n")
        self.stdout.write(f"{file} was written. Set LINEWORTHY_LOG_KEY_FILE to it, and keep a copy apart from backups.")

    def _begin(self, *, operator: str, by: str, **options: Any) -> None:
        where, deed = self._about(operator, by)
        private = log_key.configured()
        if private is None:
            raise CommandError("No log key is set. Set LINEWORTHY_LOG_KEY_FILE to the file that `log_key make` wrote.")
        self._told(where, log_keys.begin_log_key(where, private, deed=deed).size)

    def _rotate(
        self, *, operator: str, by: str, new: Path, reason: str, good_until: int | None, **options: Any
    ) -> None:
        where, deed = self._about(operator, by)
        old = None if reason == log_keys.LOST else log_key.configured()
        found = log_keys.rotate_log_key(
            where, _in(new), old=old, reason=reason, good_until=good_until, deed=deed
        )  # fmt: skip
        self._told(where, found.size)
        self.stdout.write("Set LINEWORTHY_LOG_KEY_FILE to the new file before the next signature, and restart.")

    def _show(self, **options: Any) -> None:
        for operator in Operator.objects.select_related("log").order_by("name"):
            keys = sealing.keys_of(operator.log)
            self.stdout.write(f"{operator.name}: {'' if keys else 'no key is named'}".rstrip())
            for one in keys:
                retired = "" if one.retire_after is None else f", retired after {one.retire_after} entries"
                self.stdout.write(f"  {one.key.text}  (since entry {one.since}{retired})")

    def _about(self, operator: str, by: str) -> tuple[Operator, Deed]:
        where = Operator.objects.select_related("log").filter(name__iexact=operator.strip()).first()
        who = User.objects.filter(email__iexact=by.strip()).first()
        if where is None or who is None:
            raise CommandError(f"There is no {'operator ' + operator if where is None else 'account ' + by}.")
        return where, Deed(by=who, at=timezone.now(), how=COMMAND)

    def _told(self, operator: Operator, size: int) -> None:
        key = sealing.keys_of(operator.log)[-1].key
        self.stdout.write(f"{operator.name}: {size} entries are signed. Public key of this history:\n{key.text}")


def _in(file: Path) -> Ed25519PrivateKey:
    try:
        return log_key.read(file.read_text(encoding="ascii"))
    except (OSError, UnicodeDecodeError):
        raise CommandError(f"{file} cannot be read.") from None
