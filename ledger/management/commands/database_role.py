"""``manage.py database_role NAME``: let an account of PostgreSQL run the application without owning its tables."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, connection, transaction

from ledger import roles


class Command(BaseCommand):
    help = (
        "Give a database account of PostgreSQL the rights that the application needs: all of them on what may change, "
        "only reading and adding on the history. Run it as the owner of the tables, and again after every migrate."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the account, as CREATE ROLE ... LOGIN made it")

    def handle(self, *args: Any, name: str, **options: Any) -> None:
        if connection.vendor != "postgresql":
            raise CommandError(
                "This is for PostgreSQL. SQLite has no accounts: its file belongs to whoever may write to it."
            )
        try:
            with transaction.atomic():
                roles.grant(connection, name)
        except DatabaseError as error:
            raise CommandError(f"Nothing was changed: {error}") from None
        self.stdout.write(f"{name} reads and adds to the history, and can neither change nor remove what is in it.")
        if roles.may_stand_before(connection, name):
            self.stderr.write(
                "It can still make tables of its own, and one could stand before the history's. Run this once as the "
                "owner of the database."
            )
