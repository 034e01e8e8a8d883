"""How rows of the tables stand in a job's record: ids, times and decimals as text, grouped by their job."""

import datetime
import uuid
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

Rows = dict[uuid.UUID, list[dict[str, Any]]]


def text(value: Any) -> str | None:
    """Ids, times and decimals as the record writes them."""
    if value is None:
        return None
    if isinstance(value, datetime.datetime):
        return value.astimezone(datetime.UTC).isoformat(timespec="microseconds")
    if isinstance(value, Decimal):
        return f"{value:f}"
    return str(value)


def grouped(rows: Any, shape: Callable[[dict[str, Any]], dict[str, Any]], key: str = "job_id") -> Rows:
    """Rows in their order as the record writes them, by job."""
    found: Rows = {}
    for row in rows:
        found.setdefault(row[key], []).append(shape(row))
    return found


def without_names(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row without the names that it was read with."""
    return {name: value for name, value in row.items() if not name.startswith("_")}
