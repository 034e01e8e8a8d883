"""A sheet: the rows of one file, written as an ERP hands them over."""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Sheet:
    """One CSV file: the kind of load it is, its columns, its rows by column; what a row lacks stays empty."""

    kind: str
    columns: tuple[str, ...]
    rows: Sequence[Mapping[str, Any]]

    def write(self, path: Path) -> None:
        """Write it as UTF-8 with a header; the header is row 1."""
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, self.columns, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(self.rows)

    def row_of(self, **wanted: str) -> int:
        """The number of the first row with these cells, as counted in the file. Raises `LookupError`."""
        for number, row in enumerate(self.rows, 2):
            if all(str(row.get(name, "")) == value for name, value in wanted.items()):
                return number
        raise LookupError(f"{self.kind}: no row with {wanted}")


def sheet(kind: str, columns: str, rows: Sequence[Sequence[Any]]) -> Sheet:
    """A sheet from rows of cells in the order of ``columns``, which are separated by commas."""
    names = tuple(columns.split(","))
    return Sheet(kind, names, [dict(zip(names, row, strict=True)) for row in rows])
