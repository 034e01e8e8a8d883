"""Reading the tables of the trade that lie beside the code as CSV, each row with its source."""

import csv
from pathlib import Path


def read_trade_table(package_file: str, name: str) -> list[dict[str, str]]:
    """Rows of ``trade_tables/<name>.csv`` beside an app's package. Raises `ValueError` for a row without source."""
    path = Path(package_file).parent / "trade_tables" / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    for number, row in enumerate(rows, 2):
        if not (row.get("source") or "").strip():
            raise ValueError(f"{name}.csv row {number} names no source")
    return rows
