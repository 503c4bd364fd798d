"""Rights of the database account under which the application runs on PostgreSQL: it adds to the history, no more.

The owner of a table can switch off the triggers that refuse to change it. An account that owns nothing and may only
read and add cannot, whatever SQL gets into it. Tables are changed by another account, which runs ``migrate``.
"""

from __future__ import annotations

from typing import Any

from psycopg import sql

from ledger.triggers import TABLES

KEPT = tuple(f"ledger_{table}" for table in TABLES)


def grant(connection: Any, role: str) -> None:
    """Give an account what the application needs, and take from it what it does not; as the owner of the tables.

    To be done again after tables were added. Raises ``django.db.DatabaseError`` where there is no such account.
    """
    who, kept = sql.Identifier(role), sql.SQL(", ").join(map(sql.Identifier, KEPT))
    statements = [
        sql.SQL("GRANT USAGE ON SCHEMA public TO {}").format(who),
        sql.SQL("REVOKE CREATE ON SCHEMA public FROM {}").format(who),
        sql.SQL("GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {}").format(who),
        sql.SQL("GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {}").format(who),
        sql.SQL("REVOKE ALL ON {} FROM {}").format(kept, who),
        sql.SQL("GRANT SELECT, INSERT ON {} TO {}").format(kept, who),
        sql.SQL("REVOKE INSERT, UPDATE, DELETE ON django_migrations FROM {}").format(who),
    ]
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def may_change(connection: Any) -> bool:
    """Tell whether the account of this connection could change or remove entries by switching the triggers off."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT bool_or(pg_has_role(current_user, tableowner, 'USAGE') "
            "OR has_table_privilege(current_user, format('%%I.%%I', schemaname, tablename), 'UPDATE, DELETE')) "
            "FROM pg_tables WHERE tablename = ANY(%s)",
            [list(KEPT)],
        )
        return bool(cursor.fetchone()[0])
