"""What rows of a file brought, written and told of."""

import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from django.db.models import Model

from services.api.many_rows import insert_many, update_many
from services.api.sorting_rows import SortedRows
from services.changes.recording import Recorded, record_changes
from services.identity.callers import Caller

M = TypeVar("M", bound=Model)


def write_sorted(
    rows: SortedRows[M],
    fields: Sequence[str],
    *,
    by: Caller,
    noun: str,
    told: Callable[[M], Mapping[str, Any]],
    begun: str = "registered",
    site_of: Callable[[M], uuid.UUID | None] | None = None,
) -> None:
    """Insert what is new, update ``fields`` of what is changed, and record both: as ``noun.begun`` and
    ``noun.changed``, with the versions the database gave and what ``told`` says of each thing."""
    insert_many(rows.fresh)
    versions = update_many(rows.changed, fields)
    record_sorted(rows, versions, by=by, noun=noun, told=told, begun=begun, site_of=site_of)


def record_sorted(
    rows: SortedRows[M],
    versions: Mapping[Any, int],
    *,
    by: Caller,
    noun: str,
    told: Callable[[M], Mapping[str, Any]],
    begun: str = "registered",
    site_of: Callable[[M], uuid.UUID | None] | None = None,
) -> None:
    """Record what was written otherwise; see `write_sorted`. ``versions``: of the changed, by id."""
    record_changes(
        (
            Recorded(
                f"{noun}.{what}",
                noun,
                one.pk,
                versions.get(one.pk, 1),
                site_of(one) if site_of else None,
                told(one),
            )
            for what, some in ((begun, rows.fresh), ("changed", rows.changed))
            for one in some
        ),
        by=by,
    )
