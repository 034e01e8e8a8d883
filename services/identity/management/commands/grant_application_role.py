"""What the application's role may do: everything but to change or remove what is appended to ledgers."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction
from psycopg import sql

LEDGERS = """
SELECT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
JOIN pg_namespace n ON n.oid = c.relnamespace AND n.nspname = current_schema()
WHERE t.tgname = 'append_only' ORDER BY 1
"""
ROLE = "SELECT rolsuper, pg_has_role(rolname, current_user, 'MEMBER') FROM pg_roles WHERE rolname = %s"


class Command(BaseCommand):
    help = (
        "Grant the role named by APPLICATION_ROLE what the application needs: reading and writing rows, but no UPDATE, "
        "DELETE or TRUNCATE on tables with an append_only trigger. Run it as the owning role after each migration."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        name = settings.APPLICATION_ROLE
        with transaction.atomic(savepoint=False), connection.cursor() as cursor:
            cursor.execute(ROLE, [name])
            found = cursor.fetchone()
            if found is None:
                raise CommandError(
                    f"There is no role {name!r}. Make it first (CREATE ROLE {name} LOGIN PASSWORD …), or name another "
                    "one in APPLICATION_ROLE."
                )
            if any(found):
                raise CommandError(
                    f"The role {name!r} is a superuser or stands for the owner of the tables, so no right could be "
                    "kept from it. Name a role of its own in APPLICATION_ROLE, and the owner's address in "
                    "MIGRATION_DATABASE_URL."
                )
            role = sql.Identifier(name)
            cursor.execute("SELECT current_database(), current_schema()")
            database, schema = (sql.Identifier(one) for one in cursor.fetchone())
            for statement in (
                "GRANT CONNECT ON DATABASE {database} TO {role}",
                "GRANT USAGE ON SCHEMA {schema} TO {role}",
                "REVOKE CREATE ON SCHEMA {schema} FROM {role}",
                "GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA {schema} TO {role}",
                "REVOKE TRUNCATE, REFERENCES, TRIGGER ON ALL TABLES IN SCHEMA {schema} FROM {role}",
                "GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA {schema} TO {role}",
                "ALTER DEFAULT PRIVILEGES IN SCHEMA {schema} GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO {role}",
                "ALTER DEFAULT PRIVILEGES IN SCHEMA {schema} GRANT USAGE, SELECT ON SEQUENCES TO {role}",
            ):
                cursor.execute(sql.SQL(statement).format(database=database, schema=schema, role=role))
            cursor.execute(LEDGERS)
            ledgers = [row[0] for row in cursor.fetchall()]
            for table in ledgers:
                cursor.execute(
                    sql.SQL("REVOKE UPDATE, DELETE, TRUNCATE ON {table} FROM {role}").format(
                        table=sql.Identifier(table), role=role
                    )
                )
        if options["verbosity"]:
            self.stdout.write(f"{name} may read and write; it may only add to {', '.join(ledgers)}.")
