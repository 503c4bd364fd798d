"""``manage.py pdf_key make FILE``, ``pdf_key show``: the certificate that signs day sheets as PDF files."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from reports import pdf_key


class Command(BaseCommand):
    help = (
        "The certificate that signs day sheets as PDF files. make: a self-made one, for ten years, in a file that only "
        "its owner reads (PKCS#12, encrypted where LINEWORTHY_PDF_KEY_PASSWORD is set). It shows whether a sheet was "
        "changed, and says itself that nobody vouches for its name. show: what the certificate that is set says."
    )
    requires_system_checks: list[str] = []  # they complain of the very file that is to be made

    def add_arguments(self, parser: CommandParser) -> None:
        deeds = parser.add_subparsers(dest="deed", required=True)
        make = deeds.add_parser("make", help="a self-made certificate in a new file")
        make.add_argument("file", type=Path)
        make.add_argument("--name", default="", help="the operator's name, which is then in the certificate")
        make.add_argument("--since", type=date.fromisoformat, help="when it begins, as 2026-01-31; today without it")
        deeds.add_parser("show", help="who the certificate names, until when, and its fingerprint")

    def handle(self, *args: Any, deed: str, **options: Any) -> None:
        try:
            getattr(self, f"_{deed}")(**options)
        except pdf_key.PdfKeyError as error:
            raise CommandError(str(error)) from None

    def _make(self, *, file: Path, name: str, since: date | None, **options: Any) -> None:
        at = timezone.now()
        begin = datetime.combine(since or at.date(), time(), tzinfo=UTC)
        try:
            data = pdf_key.made(name.strip(), at=at, since=begin, password=settings.PDF_KEY_PASSWORD)
        except ValueError as error:
            raise CommandError(str(error)) from None
        try:
            descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except OSError as error:
            raise CommandError(f"{file} was not written: {error.strerror}.") from None
        with os.fdopen(descriptor, "wb") as out:
            out.write(data)
        self.stdout.write(f"{file} was written. Set LINEWORTHY_PDF_KEY_FILE to it, and keep a copy apart from backups.")
        self._told(pdf_key.read(data, settings.PDF_KEY_PASSWORD))

    def _show(self, **options: Any) -> None:
        key = pdf_key.configured()
        if key is None:
            raise CommandError("No certificate is set. Set LINEWORTHY_PDF_KEY_FILE to a PKCS#12 file.")
        self._told(key)
        key.check(timezone.now())

    def _told(self, key: pdf_key.PdfKey) -> None:
        issuer = "itself: nobody else vouches for it" if key.is_self_made else key.issuer
        self.stdout.write(f"Name: {key.name}\nIssued by: {issuer}")
        self.stdout.write(f"From {key.certificate.not_valid_before_utc.date()} until {key.until.date()}")
        self.stdout.write(f"Fingerprint (SHA-256): {key.fingerprint}")
