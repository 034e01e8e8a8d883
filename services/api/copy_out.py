"""Reading many rows of numbers at once, without an object a row."""

import struct
from typing import Any

import numpy as np
from django.db import connection
from django.db.backends.postgresql.psycopg_any import mogrify
from numpy.typing import NDArray

SIGNATURE = b"PGCOPY\n\xff\r\n\0"
# The signature, four bytes of flags and the length of an extension, which no server writes yet.
HEADER = len(SIGNATURE) + 8
TRAILER = struct.pack("!h", -1)
KINDS = {"int4": ">i4", "int8": ">i8", "float8": ">f8", "bool": "?", "uuid": "V16"}


def read_arrays(statement: str, params: Any, **columns: str) -> dict[str, NDArray[Any]]:
    """Rows of a SELECT as arrays by column name; ``columns`` gives each column's PostgreSQL type, in the order of the
    statement, which must cast to them and give no NULL. Raises `ValueError` where the rows are of another shape.

    They come as the server holds them (COPY in its binary format, as its documentation gives it), so that a column is
    one look at a block of memory.
    """
    layout: list[tuple[str, str]] = [(" fields", ">i2")]
    for name, kind in columns.items():
        layout += [(f" length of {name}", ">i4"), (name, KINDS[kind])]
    row = np.dtype(layout)
    composed = mogrify(f"COPY ({statement}) TO STDOUT (FORMAT binary)", params, connection)
    with (
        connection.wrap_database_errors,
        connection.cursor() as cursor,
        cursor.copy(composed) as copy,
    ):
        content = b"".join(copy)
    body = content[HEADER : -len(TRAILER)]
    if len(body) % row.itemsize:
        raise ValueError("the rows are not of the shape that was named")
    table = np.frombuffer(body, row)
    for name, kind in columns.items():
        if (table[f" length of {name}"] != np.dtype(KINDS[kind]).itemsize).any():
            raise ValueError(f"{name} is not {kind} in every row")
    return {name: _native(table[name]) for name in columns}


def _native(column: NDArray[Any]) -> NDArray[Any]:
    return column.astype(column.dtype.newbyteorder("="))
