"""Waiting until what is committed can be told."""

import time

from django.db import connection


def until_told(seconds: float = 60) -> None:
    """Returns when the feed tells all that is committed by now.

    Transactions are numbered by the cluster, so one that tests beside this one hold open, in another database, keeps
    back what was committed after it began.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_snapshot_xmax(pg_current_snapshot())::text")
        committed = cursor.fetchone()[0]
        deadline = time.monotonic() + seconds
        while True:
            cursor.execute("SELECT pg_snapshot_xmin(pg_current_snapshot()) >= %s::xid8", [committed])
            if cursor.fetchone()[0]:
                return
            assert time.monotonic() < deadline, "a transaction beside this one does not end"
            time.sleep(0.01)
