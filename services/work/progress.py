"""Telling how far work is while its own transaction is open, and learning there that it was cancelled."""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import structlog
from django.db import DatabaseError, connection
from django.utils import timezone

from services.work.claiming import LEASE, LostClaim
from services.work.models import BackgroundRun

log = structlog.get_logger(__name__)

EVERY_SECONDS = 0.5


class Progress:
    """Reports of one run over a short-lived connection of their own, at most every half second.

    Each report is seen at once by whoever reads the run, and extends the worker's lease.
    """

    def __init__(self, run: BackgroundRun) -> None:
        self._run = run
        self._last = time.monotonic()

    def report(self, done: int) -> None:
        """So many rows, or whatever the run counts, are done. Raises `LostClaim` where the run was cancelled or
        belongs to another worker by now: the work's transaction must then be undone."""
        moment = time.monotonic()
        if moment - self._last < EVERY_SECONDS:
            return
        try:
            with _aside() as cursor:
                if not self._tell(cursor, done) and self._is_lost(cursor):
                    raise LostClaim(f"run {self._run.pk} was cancelled or taken by another worker")
        except DatabaseError as error:
            # A report that cannot be written costs nobody the work; a claim lost meanwhile shows when the run ends.
            log.warning("progress could not be told", run=str(self._run.pk), error=str(error))
        self._last = time.monotonic()

    def _tell(self, cursor: Any, done: int) -> bool:
        # Skipped where locked: whoever holds the row may be waiting for the work's own transaction.
        cursor.execute(
            "UPDATE work_backgroundrun SET progress_done = %s, lease_until = %s WHERE id IN (SELECT id FROM "
            "work_backgroundrun WHERE id = %s AND state = 'running' AND attempts = %s FOR NO KEY UPDATE SKIP LOCKED)",
            [done, timezone.now() + LEASE, self._run.pk, self._run.attempts],
        )
        return bool(cursor.rowcount)

    def _is_lost(self, cursor: Any) -> bool:
        cursor.execute("SELECT state, attempts FROM work_backgroundrun WHERE id = %s", [self._run.pk])
        # A run that is not committed yet, as in a test's transaction, is not seen from here and not lost.
        return cursor.fetchone() not in {None, ("running", self._run.attempts)}


@contextmanager
def _aside() -> Iterator[Any]:
    """A cursor of another connection, each of whose statements stands at once."""
    other = connection.copy()
    try:
        with other.cursor() as cursor:
            yield cursor
    finally:
        other.close()
