"""What changed, in an order in which nothing is ever missed.

A number given out by a sequence is not the order of commits: a slow transaction's row would appear behind a cursor that
has passed it. Rows are therefore told only below the oldest transaction still running, and the cursor is (life of the
database, transaction, id). Where a page is the last, the cursor moves up to that transaction, so rows of other sites
are not looked at twice.

Transactions are numbered by the cluster and rows come back with a restore, so a place means nothing in another life of
the database. A life is told by the stored epoch together with what a restore cannot carry over: the cluster, its
timeline (a restore to a point in time, or a standby that took over, begins another one), the database and the table.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import orjson
from django.core import signing
from django.db import connection

from assets.access import has_role, sites_with
from services.api.refusals import InvalidCursor
from services.feed.refusals import FeedRestarted
from services.identity.callers import Caller

SALT = "change-feed"
HIGHEST = 2**63 - 1
# Nouns that tell about people: only for administrators of the whole operator.
ABOUT_PEOPLE = ("grant", "principal", "access-token")

# Ordered by the column, by its full name: the bare name would mean the text that is selected, and 10000 before 9999.
PAGE = """
SELECT id, transaction::text, at, kind, noun, noun_id, noun_version, site_id, body, by_id, request_id
FROM changes_change
WHERE transaction < %(end)s::xid8
  AND (transaction, id) > (%(xid)s::xid8, %(id)s)
  AND (%(kinds)s::text[] IS NULL OR kind = ANY(%(kinds)s::text[]))
  AND (%(sites)s::uuid[] IS NULL OR site_id IS NULL OR site_id = ANY(%(sites)s::uuid[]))
  AND (%(all)s OR noun <> ALL(%(people)s::text[]))
ORDER BY changes_change.transaction, id
LIMIT %(limit)s
"""
NOW = """
SELECT epoch::text, (SELECT system_identifier::text FROM pg_control_system()),
       (SELECT timeline_id::text FROM pg_control_checkpoint()),
       (SELECT oid::text FROM pg_database WHERE datname = current_database()),
       'changes_change'::regclass::oid::text,
       pg_snapshot_xmin(pg_current_snapshot())::text
FROM changes_epoch
"""


@dataclass(frozen=True, order=True)
class Place:
    """A place in the feed."""

    xid: int = 0
    id: int = 0


def place_of(text: str | None, life: str) -> Place:
    """The place a cursor names; the beginning without one. Raises `InvalidCursor`, `FeedRestarted`."""
    if not text:
        return Place()
    try:
        kept = signing.loads(text, salt=SALT)
    except signing.BadSignature as error:
        raise InvalidCursor("The cursor is damaged.", remedy="Use next unchanged.", pointer="?after") from error
    if kept["l"] != life:
        raise FeedRestarted(
            "The feed began anew since this cursor was made.",
            remedy="Read everything again, then follow the feed from after=now.",
        )
    return Place(kept["x"], kept["i"])


def cursor_of(place: Place, life: str) -> str:
    """A cursor for a place."""
    return signing.dumps({"l": life, "x": place.xid, "i": place.id}, salt=SALT)


def life_and_end() -> tuple[str, int]:
    """(the database's present life, the oldest transaction still running: the end of what can be told)."""
    with connection.cursor() as cursor:
        cursor.execute(NOW)
        *marks, xmin = cursor.fetchone()
    return hashlib.sha256(" ".join(marks).encode()).hexdigest()[:16], int(xmin)


def end_of_feed(end: int) -> Place:
    """The place behind everything that can be told by now; ``end`` as in `life_and_end`."""
    return Place(end - 1, HIGHEST)


def changes_after(
    by: Caller, place: Place, *, end: int, kinds: Sequence[str] | None, limit: int
) -> tuple[list[dict[str, Any]], Place, bool]:
    """(changes the caller may know of, the place after them, whether there are more).

    ``end`` as in `life_and_end`, read before: every transaction below it has ended, so its rows are there or will
    never be; whatever commits in between is told the next time.
    """
    sites = sites_with(by)
    with connection.cursor() as cursor:
        cursor.execute(
            PAGE,
            {
                "end": str(end),
                "xid": str(place.xid),
                "id": place.id,
                "kinds": list(kinds) if kinds else None,
                "sites": None if sites is None else sorted(sites),
                "all": has_role(by, None, "admin"),
                "people": list(ABOUT_PEOPLE),
                "limit": limit + 1,
            },
        )
        rows = cursor.fetchall()
    more = len(rows) > limit
    rows = rows[:limit]
    after = Place(int(rows[-1][1]), rows[-1][0]) if more else max(place, end_of_feed(end))
    return [_shape(row) for row in rows], after, more


def _shape(row: tuple[Any, ...]) -> dict[str, Any]:
    return {
        "kind": row[3],
        "type": row[4],
        "id": row[5],
        "version": row[6],
        "site": row[7],
        "at": row[2],
        "body": None if row[8] is None else orjson.loads(row[8]),
        "by": row[9],
        "request_id": row[10],
    }
