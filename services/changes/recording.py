"""Every operation ends here: what became different is written in the transaction that made it so."""

import uuid
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db import connection, transaction

from services.api.many_rows import FEW, copy_in
from services.api.rendering import to_json
from services.api.request_context import request_id
from services.changes.models import Change
from services.identity.callers import Caller

KINDS: dict[str, str] = {}
FOLLOWERS: dict[str, Callable[[], None]] = {}
COLUMNS = ("kind", "noun", "noun_id", "noun_version", "site_id", "body", "by_id", "request_id")
INSERT = f"INSERT INTO {Change._meta.db_table} ({', '.join(COLUMNS)}) VALUES"
ROW = f"({', '.join(['%s'] * len(COLUMNS))})"


def declare_kinds(kinds: Mapping[str, str]) -> None:
    """Name the kinds of change an app records, each with a sentence; docs/changes.md is compared with them."""
    KINDS.update(kinds)


def follow(nouns: Iterable[str], act: Callable[[], None]) -> None:
    """Do something once a transaction is committed in which a thing of these nouns changed. It may get lost with the
    process: only for what a clock would find a little later anyway."""
    FOLLOWERS.update(dict.fromkeys(nouns, act))


@dataclass(frozen=True, slots=True)
class Recorded:
    """One change to record: ``kind`` as declared, the thing's noun, id and version, its site where it has one."""

    kind: str
    noun: str
    noun_id: uuid.UUID
    version: int = 1
    site_id: uuid.UUID | None = None
    body: Mapping[str, Any] | None = None


class OutsideTransaction(RuntimeError):
    """A change was to be recorded outside the transaction that makes it."""


def record_changes(changes: Iterable[Recorded], *, by: Caller | None) -> None:
    """Write changes, in one statement. Raises `OutsideTransaction`, `KeyError` for an undeclared kind."""
    if not connection.in_atomic_block:
        raise OutsideTransaction("record_changes must run inside the transaction of the change it records")
    by_id, request = (by.id if by else None), request_id.get()[:64]
    rows, followers = [], set[Callable[[], None]]()
    for one in changes:
        KINDS[one.kind]
        if one.noun in FOLLOWERS:
            followers.add(FOLLOWERS[one.noun])
        body = None if one.body is None else to_json(one.body).decode()
        rows.append((one.kind, one.noun, one.noun_id, one.version, one.site_id, body, by_id, request))
    if len(rows) > FEW:
        copy_in(Change._meta.db_table, COLUMNS, rows)
    elif rows:
        # Every write ends here: the statement is put together by hand, which takes a fraction of the time.
        with connection.cursor() as cursor:
            cursor.execute(f"{INSERT} {', '.join([ROW] * len(rows))}", [value for row in rows for value in row])
    for act in followers:
        transaction.on_commit(act, robust=True)


def record_change(
    kind: str,
    *,
    noun: str,
    noun_id: uuid.UUID,
    by: Caller | None,
    version: int = 1,
    site_id: uuid.UUID | None = None,
    body: Mapping[str, Any] | None = None,
) -> None:
    """Write one change; see `record_changes`."""
    record_changes([Recorded(kind, noun, noun_id, version, site_id, body)], by=by)
