"""The shape in which rows of files reach the apps, and in which what became of them is told."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Outcome = Literal["created", "changed", "unchanged", "refused"]


@dataclass(frozen=True)
class LoadRow:
    """One row: its number in the file and its values by column, parsed to the column's type; empty is None."""

    number: int
    values: Mapping[str, Any]


@dataclass(frozen=True)
class RowNote:
    """Something in a row that was mended or is worth knowing; the row was taken."""

    column: str
    value: str
    detail: str


@dataclass(frozen=True)
class RowProblem:
    """Why a row was refused: the column, its value, what is wrong and what would help."""

    column: str
    value: str
    detail: str
    remedy: str


@dataclass
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
