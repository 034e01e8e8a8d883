"""Keyset pages: the next page starts after the last key seen, however many rows share a value.

The cursor is signed and bound to the filters it was made with. No total is counted unless asked for.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.core import signing
from django.db import connection
from django.db.models import F, Q, QuerySet
from rest_framework.request import Request

from services.api.refusals import InvalidCursor, Malformed

SALT = "page-cursor"
DEFAULT_LIMIT = 50
LARGEST_LIMIT = 200
CONTROLS = ("limit", "cursor", "count", "fields")


@dataclass
class Page:
    """One page of rows with the addresses of its neighbours."""

    results: list[dict[str, Any]]
    next: str | None
    previous: str | None
    count: int | None = None

    def body(self) -> dict[str, Any]:
        """The envelope as it is answered."""
        envelope: dict[str, Any] = {"results": self.results, "next": self.next, "previous": self.previous}
        if self.count is not None:
            envelope["count"] = self.count
        return envelope


def limit_of(request: Request) -> int:
    """The page size asked for, 1 to 200. Raises `Malformed`."""
    text = request.query_params.get("limit", str(DEFAULT_LIMIT))
    if not text.isdecimal() or not 1 <= int(text) <= LARGEST_LIMIT:
        raise Malformed(
            f"limit={text[:20]!r} is not a whole number from 1 to {LARGEST_LIMIT}.",
            remedy=f"Ask for 1 to {LARGEST_LIMIT} rows and follow next for more.",
            pointer="?limit",
        )
    return int(text)


def paginate(queryset: QuerySet[Any, dict[str, Any]], *, order: Sequence[str], request: Request) -> Page:
    """One page of a ``.values()`` queryset.

    ``order`` names model paths, each with an optional leading ``-``; the last must be unique and none may be null.
    """
    limit = limit_of(request)
    paths = [name.removeprefix("-") for name in order]
    down = [name.startswith("-") for name in order]
    position = _read(request, order)
    backwards = position is not None and position["d"] == "p"
    keys = {f"key_{index}": F(path) for index, path in enumerate(paths)}
    rows = queryset.annotate(**keys)
    counted = _count(rows, request)
    if position is not None:
        rows = rows.filter(_after(position["k"], [flag != backwards for flag in down]))
    directions = [
        F(f"key_{index}").desc() if flag != backwards else F(f"key_{index}").asc() for index, flag in enumerate(down)
    ]
    found = list(rows.order_by(*directions)[: limit + 1])
    more = len(found) > limit
    found = found[:limit]
    if backwards:
        found.reverse()
    marks = [[_plain(row.pop(name)) for name in keys] for row in found]
    has_next = bool(found) and (more or backwards)
    has_previous = bool(found) and (more if backwards else position is not None)
    return Page(
        results=found,
        next=_link(request, order, marks[-1], "n") if has_next else None,
        previous=_link(request, order, marks[0], "p") if has_previous else None,
        count=counted,
    )


def _after(values: Sequence[Any], down: Sequence[bool]) -> Q:
    condition = Q()
    for index, value in enumerate(values):
        step = Q(**{f"key_{index}__{'lt' if down[index] else 'gt'}": value})
        for earlier in range(index):
            step &= Q(**{f"key_{earlier}": values[earlier]})
        condition |= step
    # The bare bound on the first key lets the planner start in the index.
    return Q(**{f"key_0__{'lte' if down[0] else 'gte'}": values[0]}) & condition


def _plain(value: Any) -> Any:
    return value if isinstance(value, (int, str)) else value.isoformat() if hasattr(value, "isoformat") else str(value)


def _scope(request: Request, order: Sequence[str]) -> str:
    kept = sorted((name, value) for name, value in request.query_params.items() if name not in CONTROLS)
    return hashlib.sha256(repr((request.path, list(order), kept)).encode()).hexdigest()[:16]


def _link(request: Request, order: Sequence[str], mark: list[Any], direction: str) -> str:
    cursor = signing.dumps({"k": mark, "d": direction, "f": _scope(request, order)}, salt=SALT)
    query = request.query_params.copy()
    query["cursor"] = cursor
    return f"{request.path}?{query.urlencode()}"


def _read(request: Request, order: Sequence[str]) -> dict[str, Any] | None:
    text = request.query_params.get("cursor")
    if not text:
        return None
    try:
        cursor = signing.loads(text, salt=SALT)
    except signing.BadSignature as error:
        raise InvalidCursor(
            "The cursor is damaged.", remedy="Start again from the first page.", pointer="?cursor"
        ) from error
    if cursor["f"] != _scope(request, order):
        raise InvalidCursor(
            "The cursor was made for other filters or another list.",
            remedy="Keep the filters unchanged while following next, or start again.",
            pointer="?cursor",
        )
    return dict(cursor)


def _count(rows: QuerySet[Any, Any], request: Request) -> int | None:
    wanted = request.query_params.get("count")
    if wanted is None:
        return None
    if wanted == "exact":
        return rows.count()
    if wanted == "estimate":
        sql, parameters = rows.order_by().query.sql_with_params()
        with connection.cursor() as cursor:
            cursor.execute("EXPLAIN (FORMAT JSON) " + sql, parameters)
            return int(cursor.fetchone()[0][0]["Plan"]["Plan Rows"])
    raise Malformed(
        f"count={wanted[:20]!r} is not known.", remedy="Use count=exact or count=estimate.", pointer="?count"
    )
