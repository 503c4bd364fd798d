"""Rights of the database account under which the application runs on PostgreSQL: it adds to the history, no more.

The owner of a table can switch off the triggers that refuse to change it. An account that owns nothing and may only
read and add cannot, whatever SQL gets into it. Tables are changed by another account, which runs ``migrate``.

Nor may it make tables, not even temporary ones: these stand before tables of the same name, so that a false history
would be read and added to. Every account may make them until that is taken from all, by who owns database and schema.
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
        sql.SQL("REVOKE CREATE ON SCHEMA public FROM PUBLIC, {}").format(who),
        sql.SQL("REVOKE CREATE, TEMPORARY ON DATABASE {} FROM PUBLIC, {}").format(_name(connection), who),
        sql.SQL("GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {}").format(who),
        sql.SQL("GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {}").format(who),
        sql.SQL("REVOKE ALL ON {} FROM {}").format(kept, who),
        sql.SQL("GRANT SELECT, INSERT ON {} TO {}").format(kept, who),
        sql.SQL("REVOKE INSERT, UPDATE, DELETE ON django_migrations FROM {}").format(who),
    ]
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _name(connection: Any) -> sql.Identifier:
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_database()")
        return sql.Identifier(cursor.fetchone()[0])


def may_stand_before(connection: Any, role: str = "") -> bool:
    """Tell whether an account, without a name that of this connection, could make a table that hides the history's."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT has_database_privilege(who, current_database(), 'TEMPORARY') "
            "OR has_database_privilege(who, current_database(), 'CREATE') "
            "OR has_schema_privilege(who, 'public', 'CREATE') "
            "FROM (SELECT COALESCE(%s, current_user::text)) AS account (who)",
            [role or None],
        )
        return bool(cursor.fetchone()[0])


def may_change(connection: Any) -> bool:
    """Tell whether the account of this connection could change or remove entries by switching the triggers off."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT bool_or(pg_has_role(current_user, tableowner, 'MEMBER') "
            "OR has_table_privilege(current_user, format('%%I.%%I', schemaname, tablename), 'UPDATE, DELETE')) "
            "FROM pg_tables WHERE tablename = ANY(%s)",
            [list(KEPT)],
        )
        return bool(cursor.fetchone()[0])
