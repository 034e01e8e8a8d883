"""What changed, in an order in which nothing is ever missed.

A number given out by a sequence is not the order of commits: a slow transaction's row would appear behind a cursor that
has passed it. Rows are therefore told only below the oldest transaction still running, and the cursor is (epoch,
transaction, id). Where a page is the last, the cursor moves up to that transaction, so rows of other sites are not
looked at twice.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import orjson
from django.core import signing
from django.db import connection

from assets.access import has_role, sites_with
from services.api.refusals import InvalidCursor, Kind, Refusal
from services.identity.callers import Caller

SALT = "change-feed"
HIGHEST = 2**63 - 1
# Nouns that tell about people: only for administrators of the whole operator.
ABOUT_PEOPLE = ("grant", "principal", "access-token")

PAGE = """
SELECT id, transaction::text, at, kind, noun, noun_id, noun_version, site_id, body, by_id, request_id
FROM changes_change
WHERE transaction < pg_snapshot_xmin(pg_current_snapshot())
  AND (transaction, id) > (%(xid)s::xid8, %(id)s)
  AND (%(kinds)s::text[] IS NULL OR kind = ANY(%(kinds)s::text[]))
  AND (%(sites)s::uuid[] IS NULL OR site_id IS NULL OR site_id = ANY(%(sites)s::uuid[]))
  AND (%(all)s OR noun <> ALL(%(people)s::text[]))
ORDER BY transaction, id
LIMIT %(limit)s
"""


class FeedRestarted(Refusal):
    """The database was restored or replaced since the cursor was made, so what follows it is not known. Read
    everything anew, then go on from the feed's present end."""

    kind = Kind.GONE
    code = "feed-restarted"
    title = "The feed began anew"


@dataclass(frozen=True)
class Place:
    """A place in the feed."""

    xid: int = 0
    id: int = 0


def place_of(text: str | None, epoch: uuid.UUID) -> Place:
    """The place a cursor names; the beginning without one. Raises `InvalidCursor`, `FeedRestarted`."""
    if not text:
        return Place()
    try:
        kept = signing.loads(text, salt=SALT)
    except signing.BadSignature as error:
        raise InvalidCursor("The cursor is damaged.", remedy="Use next unchanged.", pointer="?after") from error
    if kept["e"] != str(epoch):
        raise FeedRestarted(
            "The feed began anew since this cursor was made.",
            remedy="Read everything again, then follow the feed from after=now.",
        )
    return Place(kept["x"], kept["i"])


def cursor_of(place: Place, epoch: uuid.UUID) -> str:
    """A cursor for a place."""
    return signing.dumps({"e": str(epoch), "x": place.xid, "i": place.id}, salt=SALT)


def epoch_now() -> tuple[uuid.UUID, int]:
    """(the feed's epoch, the oldest transaction still running)."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT epoch, pg_snapshot_xmin(pg_current_snapshot())::text FROM changes_epoch")
        epoch, xmin = cursor.fetchone()
        return epoch, int(xmin)


def changes_after(
    by: Caller, place: Place, *, kinds: Sequence[str] | None, limit: int
) -> tuple[list[dict[str, Any]], Place, bool]:
    """(changes the caller may know of, the place after them, whether there are more). One statement.

    The end is read before the rows: whatever commits in between is told the next time.
    """
    _, xmin = epoch_now()
    sites = sites_with(by)
    with connection.cursor() as cursor:
        cursor.execute(
            PAGE,
            {
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
    if more:
        end = Place(int(rows[-1][1]), rows[-1][0])
    else:
        end = max(place, Place(xmin - 1, HIGHEST), key=lambda one: (one.xid, one.id))
    return [_shape(row) for row in rows], end, more


def _shape(row: tuple[Any, ...]) -> dict[str, Any]:
    body = row[8]
    return {
        "kind": row[3],
        "type": row[4],
        "id": row[5],
        "version": row[6],
        "site": row[7],
        "at": row[2],
        "body": body if not isinstance(body, str) else _json(body),
        "by": row[9],
        "request_id": row[10],
    }


def _json(text: str) -> Any:
    return orjson.loads(text)
