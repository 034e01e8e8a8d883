"""Connections that are kept for the next request or task, where the server went away in between."""

from urllib.parse import quote

from django.db import connection
from django.db.utils import ConnectionHandler

from services.settings.environment import postgresql


def kept_connections():
    """The database of this test, through a pool as an installation has it."""
    server = connection.settings_dict
    url = f"postgresql://{server['USER']}@/{server['NAME']}?host={quote(server['HOST'])}"
    made = postgresql(url, pool=True) | {"PASSWORD": server["PASSWORD"], "PORT": server["PORT"]}
    return ConnectionHandler({"default": made})["default"]


def ask(kept, words, *values):
    with kept.cursor() as cursor:
        cursor.execute(words, values)
        return cursor.fetchone()[0]


def test_kept_connections_whose_server_went_away_are_made_anew(transactional_db):
    kept = kept_connections()
    try:
        before = ask(kept, "SELECT pg_backend_pid()")
        kept.close()
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pid, pg_terminate_backend(pid, 5000) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
            ended = dict(cursor.fetchall())
        assert ended[before]
        assert ask(kept, "SELECT pg_backend_pid()") not in ended
    finally:
        kept.close()
        kept.close_pool()
