"""The shape in which rows of files reach the apps, and in which what became of them is told."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from services.identity.callers import Caller

Outcome = Literal["created", "changed", "unchanged", "refused"]


@dataclass(frozen=True, slots=True)
class LoadRow:
    """One row: its number in the file and its values by column, parsed to the column's type; empty is None."""

    number: int
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RowNote:
    """Something in a row that was mended or is worth knowing; the row was taken."""

    column: str
    value: str
    detail: str


@dataclass(frozen=True, slots=True)
class RowProblem:
    """Why a row was refused: the column, its value, what is wrong and what would help."""

    column: str
    value: str
    detail: str
    remedy: str


@dataclass(slots=True)
class RowOutcome:
    """What became of one row. A row with problems is refused, whatever else was found."""

    number: int
    key: str
    outcome: Outcome
    notes: list[RowNote] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)

    @classmethod
    def refused(cls, row: LoadRow, key: str, column: str, detail: str, remedy: str) -> "RowOutcome":
        """A row refused for one column."""
        value = row.values.get(column)
        problem = RowProblem(column, "" if value is None else str(value), detail, remedy)
        return cls(row.number, key, "refused", problems=[problem])


ColumnType = Literal["text", "decimal", "integer", "yes_no", "date", "datetime", "choice"]


@dataclass(frozen=True)
class Column:
    """One column of a kind of file: what its cells are read as, and whether each row needs it.

    ``unit`` is the one of its numbers; ``convert(value, written unit, unit)`` reads cells that name another one, and
    raises `ValueError` for what does not measure the same. ``places`` are the decimal places that are kept.
    ``may_be_date`` lets a text column take a workbook's date cell, as 2026-01-31.
    """

    name: str
    type: ColumnType = "text"
    required: bool = False
    choices: tuple[str, ...] = ()
    help: str = ""
    unit: str = ""
    places: int | None = None
    convert: Callable[[Decimal, str, str], Decimal] | None = None
    may_be_date: bool = False


@dataclass(frozen=True)
class LoadKind:
    """A kind of file that an app takes: rows (CSV, XLSX, NDJSON, JSON array) or whole documents (YAML, JSON).

    ``key`` names the columns that tell one thing from another; no two rows of a file may contradict each other on it.
    """

    name: str
    load: Callable[..., list[RowOutcome]]
    columns: tuple[Column, ...] = ()
    accepts: Literal["rows", "document"] = "rows"
    help: str = ""
    key: tuple[str, ...] = ()

    def run(self, *, by: "Caller", rows: Sequence[LoadRow]) -> list[RowOutcome]:
        """What became of each row, in their order."""
        return self.load(by=by, rows=rows)


_kinds: dict[str, LoadKind] = {}


def declare_load(*kinds: LoadKind) -> None:
    """Make kinds of files known; each app does so when it is ready."""
    _kinds.update({one.name: one for one in kinds})


def known_loads() -> Mapping[str, LoadKind]:
    """Every declared kind by name."""
    return _kinds
