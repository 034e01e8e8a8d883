"""What a file is read with, and what it is read into."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from services.api.loading import LoadRow, RowNote, RowOutcome, RowProblem

CSV, NDJSON, JSON, YAML = "text/csv", "application/x-ndjson", "application/json", "application/yaml"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MEDIA_TYPES = (CSV, NDJSON, JSON, YAML, XLSX)
ROW_TYPES = (CSV, NDJSON, JSON, XLSX)
DecimalMark = Literal["", ",", "."]
DateForm = Literal["", "day-first", "month-first"]


@dataclass(frozen=True)
class Reading:
    """How a file is to be read where its own words are not ours: a saved mapping, or nothing special.

    ``columns``: header of the file -> our column. ``constants``: our column -> text, where the file has no such column.
    ``translations``: our column -> {text of the file: our text}. ``units``: our column -> unit of its bare numbers.
    """

    sheet: str = ""
    columns: Mapping[str, str] = field(default_factory=dict)
    constants: Mapping[str, str] = field(default_factory=dict)
    translations: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    decimal_mark: DecimalMark = ""
    date_form: DateForm = ""
    ignore_others: bool = False


PLAIN = Reading()


@dataclass
class ReadRow:
    """A row as read: its typed values, or the problems for which it is refused; notes on what was mended.

    ``repeats`` is the number of an earlier row with the same values throughout.
    """

    row: LoadRow
    notes: list[RowNote]
    problems: list[RowProblem]
    repeats: int | None = None

    def refused(self) -> RowOutcome:
        """The outcome of a row that could not be read."""
        return RowOutcome(self.row.number, "", "refused", notes=self.notes, problems=self.problems)

    def repeated(self, first: RowOutcome | None) -> RowOutcome:
        """The outcome of a row that repeats an earlier one: refused as that was, else unchanged."""
        if first is not None and first.outcome == "refused":
            return RowOutcome(self.row.number, first.key, "refused", notes=self.notes, problems=first.problems)
        return RowOutcome(self.row.number, first.key if first else self.notes[-1].value, "unchanged", notes=self.notes)


@dataclass(frozen=True)
class Marked:
    """A cell of a workbook that is more than its value: filled from a merged one, or not to be read at all."""

    value: Any = None
    note: str = ""
    problem: str = ""
    remedy: str = ""


class CellWrong(ValueError):
    """A cell that cannot be read; the words say what is wrong, ``remedy`` what would help where it is special."""

    def __init__(self, words: str, remedy: str = "") -> None:
        super().__init__(words)
        self.remedy = remedy


Raw = tuple[int, Mapping[str, Any] | RowProblem]


@dataclass
class Source:
    """A file opened: what was noted of it as a whole, its rows as cells by our column (as often as asked for), and
    whether a spreadsheet may have bent it: its numbers, and where it is not ``typed`` its texts too. ``telling``
    says whether its columns may have habits worth a look, such as decimal commas."""

    rows: Callable[[], Iterator[Raw]]
    notes: list[str] = field(default_factory=list)
    bent: bool = False
    typed: bool = False
    telling: Callable[[], bool] = lambda: False
    day_zero_1904: bool = False


def shown(cell: Any) -> str:
    """A cell as a report can hold it."""
    if isinstance(cell, Marked):
        cell = cell.value
    return "" if cell is None else str(cell).replace("\x00", "\N{REPLACEMENT CHARACTER}")[:500]


def short(error: Exception) -> str:
    """An error of a library in one line."""
    return " ".join(str(error).split())[:200]
