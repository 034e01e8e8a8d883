"""What building something wrote to the database, kept to be written again with ids and moments of its own.

Many tests begin from the same things. Built through operations they take many turns between the two sides, and what is
there in the end differs in ids and moments only. So the first building of a process is watched, and what it wrote is
written again in one turn for later tests. `tests/test_laid_out_again.py` holds the two against each other.
"""

import datetime
import re
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, Generic, TypeVar

from django.db import connection
from django.db.models import Model
from django.db.models.base import ModelState
from django.utils import timezone
from psycopg import ClientCursor, Cursor

from services.api.identifiers import new_id

T = TypeVar("T")
_HEX = "[0-9a-f]"
_ID = rf"(?<!{_HEX}){_HEX}{{8}}(-?){_HEX}{{4}}\1{_HEX}{{4}}\1{_HEX}{{4}}\1{_HEX}{{12}}(?!{_HEX})"
_MOMENT = r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d\.\d{1,6}\+00:00"
_CUTS = re.compile(f"{_ID}|{_MOMENT}")
_WRITES = re.compile(r"\s*(WITH\b.*)?(INSERT INTO|UPDATE|DELETE FROM)\b", re.DOTALL)
_READS = re.compile(r"\s*(SELECT|WITH|SAVEPOINT|RELEASE|CREATE TEMPORARY TABLE|ANALYZE)\b")


@dataclass(frozen=True)
class _Span:
    """When the transaction was opened in which something was built, when the building began, and when it ended."""

    opened: datetime.datetime
    began: datetime.datetime
    ended: datetime.datetime

    def has(self, moment: datetime.datetime) -> bool:
        return self.opened <= moment <= self.ended

    def made(self, one: uuid.UUID) -> bool:
        """Whether an id was made while it was built: ids of version 7 begin with their millisecond."""
        first, last = (int(moment.timestamp() * 1000) for moment in (self.began, self.ended))
        return one.version == 7 and first <= one.int >> 80 <= last


class _Renewal:
    """Ids and moments of then, and what stands for them now."""

    def __init__(self, span: _Span, ids: dict[uuid.UUID, uuid.UUID], opened: datetime.datetime) -> None:
        self.span, self.ids, self.opened = span, ids, opened
        self.later = timezone.now() - span.began
        self.renewed: dict[int, Any] = {}

    def moment(self, one: datetime.datetime) -> datetime.datetime:
        if one == self.span.opened:
            return self.opened
        return one + self.later if self.span.has(one) else one

    def text(self, found: re.Match[str]) -> str:
        if found[1] is None:
            moment = datetime.datetime.fromisoformat(found[0])
            return found[0] if self.moment(moment) == moment else self.moment(moment).isoformat()
        one = uuid.UUID(found[0])
        if one not in self.ids:
            return found[0]
        return str(self.ids[one]) if found[1] else self.ids[one].hex

    def thing(self, one: Any) -> Any:
        """A copy with what stands for its ids and moments now."""
        if isinstance(one, uuid.UUID):
            return self.ids.get(one, one)
        if isinstance(one, datetime.datetime):
            return self.moment(one)
        if isinstance(one, str):
            return _CUTS.sub(self.text, one)
        if isinstance(one, dict):
            return {name: self.thing(value) for name, value in one.items()}
        if isinstance(one, (list, tuple)):
            return type(one)(self.thing(value) for value in one)
        if id(one) in self.renewed:
            return self.renewed[id(one)]
        if isinstance(one, (Model, ModelState)):
            new = self.renewed[id(one)] = type(one).__new__(type(one))
            new.__dict__.update({name: self.thing(value) for name, value in vars(one).items()})
            return new
        if is_dataclass(one) and not isinstance(one, type):
            return replace(one, **{each.name: self.thing(getattr(one, each.name)) for each in fields(one)})
        return one


@dataclass
class _Kept(Generic[T]):
    made: T
    written: list[str]
    ids: list[uuid.UUID]
    given: list[uuid.UUID]
    stood: tuple[Any, ...]
    span: _Span


class LaidOut(Generic[T]):
    """One kind of building, and what the first one in this process wrote.

    It is written again only inside a test's transaction, on the day of the first, and where the tables of
    ``depends_on`` hold as many rows as they did then; else it is built anew. ``aside`` names temporary tables and the
    table that is filled from each: of such a table the rows are kept and not the statements. ``worked_out`` are
    statements for columns that are worked out from ids. What the database itself notes as a moment (``created_at``) is
    that of the writing, and differs from what the things given tell by some milliseconds.
    """

    def __init__(self, *, depends_on: Sequence[str], aside: dict[str, str], worked_out: Sequence[str]) -> None:
        self.depends_on, self.aside, self.worked_out = depends_on, aside, worked_out
        self.kept: _Kept[T] | None = None

    def lay_out(self, build: Callable[[], T], given: Sequence[uuid.UUID]) -> T:
        """What ``build`` makes. ``given`` are ids of what was there before, in the same order each time."""
        if not connection.in_atomic_block or not getattr(connection.atomic_blocks[0], "_from_testcase", False):
            return build()
        opened, *stood = self._stands()
        kept = self.kept
        if kept is not None and kept.stood == tuple(stood) and len(kept.given) == len(given):
            return self._again(kept, given, opened)
        began = timezone.now()
        statements: list[str] = []
        with connection.execute_wrapper(_watching(statements)):
            made = build()
        self.kept = self._keep(made, statements, list(given), tuple(stood), (opened, began))
        return made

    def _stands(self) -> tuple[Any, ...]:
        counts = ", ".join(f"(SELECT count(*) FROM {table})" for table in self.depends_on)
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT now(), current_date, {counts}")
            return tuple(cursor.fetchone())

    def _keep(
        self, made: T, statements: list[str], given: list[uuid.UUID], stood: tuple[Any, ...], since: tuple[Any, Any]
    ) -> _Kept[T]:
        written = [one for one in statements if not any(table in one for table in self.aside)]
        with connection.cursor() as cursor:
            for table in self.aside.values():
                cursor.execute(f"SELECT coalesce(jsonb_agg(to_jsonb(one)), '[]')::text FROM {table} one")
                rows = _in_full("%s", [cursor.fetchone()[0]])
                written.append(f"INSERT INTO {table} SELECT * FROM jsonb_populate_recordset(NULL::{table}, {rows})")
        span = _Span(*since, timezone.now())
        found = {uuid.UUID(one[0]) for text in written for one in _CUTS.finditer(text) if one[1] is not None}
        ids = sorted(one for one in found if span.made(one))
        return _Kept(made, [*written, *self.worked_out], ids, given, stood, span)

    def _again(self, kept: _Kept[T], given: Sequence[uuid.UUID], opened: datetime.datetime) -> T:
        ids = dict(zip(kept.given, given, strict=True)) | {one: new_id() for one in kept.ids}
        renewal = _Renewal(kept.span, ids, opened)
        # One turn, though each statement keeps the moment at which it is begun.
        with connection.wrap_database_errors, connection.connection.pipeline(), Cursor(connection.connection) as cursor:
            for one in kept.written:
                cursor.execute(_CUTS.sub(renewal.text, one), prepare=False)
        return renewal.thing(kept.made)


def _in_full(sql: Any, params: Any) -> str:
    """A statement with its values in it."""
    return ClientCursor(connection.connection).mogrify(sql, params)


def _watching(statements: list[str]) -> Callable[..., Any]:
    def watch(execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any) -> Any:
        answer = execute(sql, params, many, context)
        whole = _in_full(sql, params)
        if _WRITES.match(whole):
            assert not many, f"written by one statement for each row: {whole[:200]}"
            statements.append(whole)
        else:
            assert _READS.match(whole), f"neither reads nor writes: {whole[:200]}"
            assert "nextval(" not in whole, f"takes a number: {whole[:200]}"
        return answer

    return watch
