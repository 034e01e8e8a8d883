"""Reading files into rows: CSV, XLSX, NDJSON, a JSON array, or YAML documents."""

from services.bulk_loads.reading.result import (
    CSV,
    JSON,
    MEDIA_TYPES,
    NDJSON,
    PLAIN,
    ROW_TYPES,
    XLSX,
    YAML,
    Reading,
    ReadRow,
)
from services.bulk_loads.reading.rows import look_through, open_file, read_file, read_rows

__all__ = [
    "CSV",
    "JSON",
    "MEDIA_TYPES",
    "NDJSON",
    "PLAIN",
    "ROW_TYPES",
    "XLSX",
    "YAML",
    "ReadRow",
    "Reading",
    "look_through",
    "open_file",
    "read_file",
    "read_rows",
]
