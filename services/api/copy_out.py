"""Reading many rows of numbers at once, without an object a row."""

from typing import Any

import numpy as np
from django.db import connection
from django.db.backends.postgresql.psycopg_any import mogrify
from numpy.typing import NDArray

SIGNATURE = b"PGCOPY\n\xff\r\n\0"
# The signature, four bytes of flags and the length of an extension, which no server writes yet.
HEADER = len(SIGNATURE) + 8
# Of an array: dimensions, whether there are NULLs, the type of its elements; length and first index of its dimension.
ARRAY_HEADER = np.dtype(">i4").itemsize * 5
KINDS = {"int4": ">i4", "int8": ">i8", "float8": ">f8", "bool": "?", "uuid": "V16"}


def read_arrays(statement: str, params: Any, **columns: str) -> dict[str, NDArray[Any]]:
    """Rows of a SELECT as arrays by column name; ``columns`` gives each column's PostgreSQL type, in the order of the
    statement, which must cast to them and give no NULL. Raises `ValueError` where the rows are of another shape.

    The server gathers each column into one array, in the order of the rows, and sends it as it holds it (COPY in its
    binary format, arrays as array_send writes them): a column is then one look at a block of memory.
    """
    names = ", ".join(f"c{place}" for place in range(len(columns)))
    gathered = ", ".join(f"array_agg(c{place})" for place in range(len(columns)))
    composed = mogrify(
        f"COPY (SELECT {gathered} FROM ({statement}) AS found({names})) TO STDOUT (FORMAT binary)", params, connection
    )
    with (
        connection.wrap_database_errors,
        connection.cursor() as cursor,
        cursor.copy(composed) as copy,
    ):
        content = memoryview(b"".join(copy))
    found, at = {}, HEADER + 2
    for name, kind in columns.items():
        size = int.from_bytes(content[at : at + 4], "big", signed=True)
        at += 4
        found[name] = _column(name, kind, content[at : at + max(size, 0)])
        at += max(size, 0)
    return found


def _column(name: str, kind: str, content: memoryview) -> NDArray[Any]:
    value = np.dtype(KINDS[kind])
    if not content:
        return np.empty(0, value.newbyteorder("="))
    row = np.dtype([("length", ">i4"), ("value", value)])
    if (len(content) - ARRAY_HEADER) % row.itemsize:
        raise ValueError(f"{name} is not {kind} in every row")
    table = np.frombuffer(content, row, offset=ARRAY_HEADER)
    if (table["length"] != value.itemsize).any():
        raise ValueError(f"{name} is not {kind} in every row")
    return table["value"].astype(value.newbyteorder("="))
