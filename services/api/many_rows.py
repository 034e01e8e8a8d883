"""Many rows at once: found by one array of values, new ones written by COPY, changed ones by one UPDATE from arrays.

What these leave out of Django's own ways is what they would spend most time on: an expression for every value.
"""

import datetime
import gc
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from decimal import Decimal
from operator import itemgetter
from typing import Any, cast

import orjson
from django.db import connection
from django.db.models import Field, JSONField, Lookup, Model
from django.db.models.expressions import DatabaseDefault
from psycopg import sql

# So few are as well written by INSERT, which needs fewer turns between the two sides.
FEW = 20
PLAIN = frozenset({str, int, bool, type(None), uuid.UUID, Decimal, datetime.date, datetime.datetime})


@Field.register_lookup
class Among(Lookup):
    """``tag__among=[...]``: equal to one of many values, which go to the database as one array."""

    lookup_name = "among"
    prepare_rhs = False

    def get_db_prep_lookup(self, value: Any, connection: Any) -> Any:
        return "%s", [list(value)]

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        column, values = self.process_lhs(compiler, connection)
        array, more = self.process_rhs(compiler, connection)
        return f"{column} = ANY({array})", [*values, *more]


def copy_in(table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Append rows of plain values in the order of ``columns``; JSON comes as text. Columns left out get the
    database's default. Raises `django.db.IntegrityError` and `DataError` as an INSERT would."""
    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(
        sql.Identifier(table), sql.SQL(", ").join(sql.Identifier(one) for one in columns)
    )
    with connection.wrap_database_errors, connection.cursor() as cursor, cursor.copy(statement) as copy:
        for row in rows:
            copy.write_row(row)


def insert_many(things: Sequence[Model]) -> None:
    """Write new things of one model, all of which leave the same columns to the database's defaults."""
    if len(things) <= FEW:
        if things:
            type(things[0])._default_manager.bulk_create(things)
        return
    first = things[0]
    kept = _written(first)
    rows = ([_plain(getattr(thing, one.attname), one) for one in kept] for thing in things)
    copy_in(first._meta.db_table, [str(one.column) for one in kept], rows)
    for thing in things:
        thing._state.adding = False
        thing._state.db = connection.alias


def insert_rows(model: type[Model], rows: Sequence[Mapping[str, Any]]) -> None:
    """Write new rows of a model from plain values by name of column (``job_id``), the same names in each. Columns left
    out get the database's default. For rows of which nobody needs the thing."""
    if len(rows) <= FEW:
        insert_many([model(**row) for row in rows])
        return
    names = list(rows[0])
    kept = {one.attname: one for one in model._meta.concrete_fields}
    structured = [place for place, name in enumerate(names) if isinstance(kept[name], JSONField)]
    copy_in(model._meta.db_table, [str(kept[one].column) for one in names], _with_text(rows, names, structured))


def _with_text(
    rows: Sequence[Mapping[str, Any]], names: Sequence[str], structured: Sequence[int]
) -> Iterator[Sequence[Any]]:
    """Values in the order of names, those at some places as JSON."""
    values_of = itemgetter(*names)
    for row in rows:
        values = list(values_of(row))
        for place in structured:
            values[place] = _json(values[place])
        yield values


def insert_missing(things: Sequence[Model]) -> None:
    """Write new things of one model; those that a unique constraint knows already are passed over. One statement."""
    if not things:
        return
    kept = _written(things[0])
    statement = sql.SQL("INSERT INTO {} ({}) SELECT {} FROM unnest({}) AS new({}) ON CONFLICT DO NOTHING").format(
        sql.Identifier(things[0]._meta.db_table),
        sql.SQL(", ").join(_column(one) for one in kept),
        sql.SQL(", ").join(_cast(one) for one in kept),
        sql.SQL(", ").join(_array(one) for one in kept),
        sql.SQL(", ").join(_column(one) for one in kept),
    )
    with connection.cursor() as cursor:
        cursor.execute(statement, _arrays(things, kept))


def update_many(things: Sequence[Model], fields: Sequence[str]) -> dict[Any, int]:
    """Write some fields of kept things of one model; their versions by id, as the database raised them (nothing for
    models without). One statement."""
    if not things:
        return {}
    meta = things[0]._meta
    kept = {one.name: one for one in meta.concrete_fields}
    key = meta.pk
    written = [kept[one] for one in fields]
    statement = sql.SQL(
        "UPDATE {} AS kept SET {} FROM unnest({}) AS new({}) WHERE kept.{} = new.{} RETURNING {}"
    ).format(
        sql.Identifier(meta.db_table),
        sql.SQL(", ").join(sql.SQL("{} = {}").format(_column(one), _cast(one)) for one in written),
        sql.SQL(", ").join(_array(one) for one in (key, *written)),
        sql.SQL(", ").join(_column(one) for one in (key, *written)),
        _column(key),
        _column(key),
        sql.SQL("kept.{}, kept.version" if "version" in kept else "kept.{}, 0").format(_column(key)),
    )
    with connection.cursor() as cursor:
        cursor.execute(statement, _arrays(things, [key, *written]))
        return dict(cursor.fetchall()) if "version" in kept else {}


def _column(field: "Field[Any, Any]") -> sql.Identifier:
    return sql.Identifier(str(field.column))


def _json(value: Any) -> str | None:
    return None if value is None else orjson.dumps(value).decode()


def _plain(value: Any, field: "Field[Any, Any]") -> Any:
    if isinstance(field, JSONField):
        return _json(value)
    return value if type(value) in PLAIN else field.get_db_prep_save(value, connection)


def _written(first: Model) -> "list[Field[Any, Any]]":
    """The fields that are written: those that are not left to the database."""
    return [
        one
        for one in first._meta.concrete_fields
        if not isinstance(getattr(first, one.attname), DatabaseDefault) and not (one.primary_key and first.pk is None)
    ]


def _cast(field: "Field[Any, Any]") -> sql.Composable:
    return sql.SQL("new.{}::jsonb" if isinstance(field, JSONField) else "new.{}").format(_column(field))


def _arrays(things: Sequence[Model], fields: "Sequence[Field[Any, Any]]") -> list[list[Any]]:
    return [[_plain(getattr(thing, one.attname), one) for thing in things] for one in fields]


def _array(field: "Field[Any, Any]") -> sql.Composable:
    """An array's place in a statement, with its type but without its length: a cast to ``varchar(40)[]`` would cut
    longer texts off without a word."""
    kind = "text" if isinstance(field, JSONField) else str(field.db_type(connection)).partition("(")[0]
    return sql.SQL("%s::{}[]").format(sql.SQL(cast("Any", kind)))


@contextmanager
def uncollected() -> Iterator[None]:
    """Leave the collector of circular garbage at rest while many rows come into being: it would walk through all of
    them time and again, and rows make no circles."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()
