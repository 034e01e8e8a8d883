"""Rows of the trade's tables: added, changed and taken out by the data owner, each time with a change record."""

import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.db import transaction
from django.db.models import ProtectedError

from assets.access import require_operator_wide
from services.api.models import Record
from services.api.refusals import InvalidValue, NotThere, StillNeeded
from services.api.versions import version_changed
from services.changes.recording import record_change
from services.identity.callers import Caller

OWNERS = ("data-owner", "integrator", "admin")
R = TypeVar("R", bound=Record)


@dataclass(frozen=True)
class Table(Generic[R]):
    """A table: its ``noun`` in changes, ``what`` it is called in refusals, and what a change tells of a row."""

    model: type[R]
    noun: str
    what: str
    told: Callable[[R], Mapping[str, Any]]


@transaction.atomic(savepoint=False)
def add_row(
    table: Table[R],
    *,
    by: Caller,
    row_id: uuid.UUID | None = None,
    then: Callable[[R], None] | None = None,
    **fields: Any,
) -> R:
    """A new row; ``then`` is done with it before the change is told. Raises `NotAllowed`, `AlreadyThere`,
    `InvalidValue`."""
    require_operator_wide(by, *OWNERS)
    made = table.model._default_manager.create(**fields, **({"id": row_id} if row_id else {}))
    if then is not None:
        then(made)
    _tell(table, "registered", made, by)
    return made


@transaction.atomic(savepoint=False)
def change_row(
    table: Table[R],
    *,
    by: Caller,
    row_id: uuid.UUID,
    expected_version: int,
    then: Callable[[R], None] | None = None,
    **fields: Any,
) -> R:
    """Change some fields of a row; ``then`` is done with it before the change is told. Raises `NotAllowed`, `NotThere`,
    `VersionChanged`."""
    made = lock_row(table, by=by, row_id=row_id, expected_version=expected_version)
    table.model._default_manager.filter(pk=made.pk).update(**fields)
    made.refresh_from_db()
    if then is not None:
        then(made)
    _tell(table, "changed", made, by)
    return made


@transaction.atomic(savepoint=False)
def remove_row(table: Table[R], *, by: Caller, row_id: uuid.UUID, expected_version: int) -> R:
    """Take a row out that nothing refers to; answers what it was. Raises `NotAllowed`, `NotThere`, `VersionChanged`,
    `StillNeeded`."""
    gone = lock_row(table, by=by, row_id=row_id, expected_version=expected_version)
    pk, told = gone.pk, dict(table.told(gone))
    try:
        gone.delete()
    except ProtectedError as error:
        kinds = sorted({str(one._meta.verbose_name_plural) for one in error.protected_objects})
        raise StillNeeded(
            f"{table.what} is still referred to by {', '.join(kinds)}.", remedy="Change or take out those first."
        ) from error
    gone.pk = pk
    record_change(f"{table.noun}.removed", noun=table.noun, noun_id=pk, version=gone.version + 1, by=by, body=told)
    return gone


def lock_row(table: Table[R], *, by: Caller, row_id: uuid.UUID, expected_version: int) -> R:
    """The row, locked, in the version that was seen. Must run inside a transaction. Raises `NotAllowed`, `NotThere`,
    `VersionChanged`."""
    require_operator_wide(by, *OWNERS)
    found = table.model._default_manager.select_for_update(no_key=True).filter(pk=row_id).first()
    if found is None:
        raise NotThere(f"{table.what} is not here.", remedy="Check the id.")
    if found.version != expected_version:
        raise version_changed(table.what, found.version)
    return found


def named_id(name: str, code: str, known: Mapping[str, uuid.UUID]) -> uuid.UUID:
    """The id behind the code that a field gives. Raises `InvalidValue` naming the known codes."""
    if code not in known:
        raise InvalidValue(
            f"{code!r} is no {name.replace('_', ' ')} known here.",
            remedy=f"Known: {', '.join(sorted(known)) or 'none yet'}.",
            pointer=f"#/{name}",
        )
    return known[code]


def _tell(table: Table[R], what: str, made: R, by: Caller) -> None:
    record_change(
        f"{table.noun}.{what}", noun=table.noun, noun_id=made.pk, version=made.version, by=by, body=table.told(made)
    )
