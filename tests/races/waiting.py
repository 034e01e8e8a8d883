"""Races whose order is set: one goes on only once another waits for a lock."""

import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from django.db import OperationalError, connection, transaction

WAITING = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'"


def until_somebody_waits(*, passed: threading.Event | None = None, seconds: float = 20) -> None:
    """Returns once a connection of this database waits for a lock, or once the other ``passed`` without waiting."""
    deadline = time.monotonic() + seconds
    with connection.cursor() as cursor:
        while True:
            # A transaction sees what it saw first, until it is told to look again.
            cursor.execute("SELECT pg_stat_clear_snapshot()")
            cursor.execute(WAITING)
            if cursor.fetchone()[0] or (passed is not None and passed.is_set()):
                return
            assert time.monotonic() < deadline, "nobody came to wait for a lock"
            time.sleep(0.01)


def side_by_side(*doings: Callable[[], Any], apart: Sequence[type[Exception]] = ()) -> list[Any]:
    """Each doing in a transaction of its own over a connection of its own; what each answered, or the word *deadlock*,
    or the name of the refusal where it is one of ``apart``."""
    together = threading.Barrier(len(doings), timeout=60)

    def one(do: Callable[[], Any]) -> Any:
        try:
            connection.ensure_connection()
            together.wait()
            with transaction.atomic():
                return do()
        except OperationalError as fault:
            if getattr(fault.__cause__, "sqlstate", None) != "40P01":
                raise
            return "deadlock"
        except tuple(apart) as refused:
            return type(refused).__name__
        finally:
            connection.close()

    with ThreadPoolExecutor(len(doings)) as pool:
        return list(pool.map(one, doings))
