"""Reading files into rows: CSV, NDJSON, a JSON array, or YAML documents; each cell read as its column's type.

What can be mended without guessing is mended and noted (stray spaces, decimal commas); what cannot is a problem of its
row. A file whose columns are not those of its kind is refused as a whole, before anything is loaded.
"""

import csv
import datetime
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

import orjson
import yaml

from services.api.loading import Column, LoadKind, LoadRow, RowNote, RowOutcome, RowProblem
from services.api.parsing import DEEPEST
from services.api.problems import near
from services.api.refusals import FieldProblem
from services.bulk_loads.refusals import FileUnreadable

CSV, NDJSON, JSON, YAML = "text/csv", "application/x-ndjson", "application/json", "application/yaml"
MEDIA_TYPES = (CSV, NDJSON, JSON, YAML)
YES = {"yes", "y", "true", "1", "x"}
NO = {"no", "n", "false", "0"}
MOST_REMEMBERED = 4096
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")
_COMMA = re.compile(r"[+-]?\d+,\d+")


@dataclass(slots=True)
class ReadRow:
    """A row as read: its typed values, or the problems for which it is refused; notes on what was mended."""

    row: LoadRow
    notes: list[RowNote]
    problems: list[RowProblem]

    def refused(self) -> RowOutcome:
        """The outcome of a row that could not be read."""
        return RowOutcome(self.row.number, "", "refused", notes=self.notes, problems=self.problems)


def count_rows(kind: LoadKind, content: bytes, media_type: str) -> int:
    """How many rows a file has, read only as far as it takes to know that it can be loaded. Raises `FileUnreadable`."""
    rows = _documents(content, media_type) if kind.accepts == "document" else _raw_rows(kind, content, media_type)
    return sum(1 for _ in rows)


def read_rows(kind: LoadKind, content: bytes, media_type: str) -> Iterator[ReadRow]:
    """Row after row of a file. Raises `FileUnreadable`."""
    if kind.accepts == "document":
        for number, one in enumerate(_documents(content, media_type), 1):
            yield ReadRow(LoadRow(number, one), [], [])
        return
    readers = [(one.name, _ColumnReader(one)) for one in kind.columns]
    for number, raw in _raw_rows(kind, content, media_type):
        if isinstance(raw, RowProblem):
            yield ReadRow(LoadRow(number, {}), [], [raw])
        else:
            yield _read_row(number, raw, readers)


def read_file(kind: LoadKind, content: bytes, media_type: str) -> list[ReadRow]:
    """Every row of a file. Raises `FileUnreadable`."""
    return list(read_rows(kind, content, media_type))


def _text(content: bytes) -> str:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileUnreadable(
            f"The file is not UTF-8 (byte {error.start}).", remedy="Save it as UTF-8 and send it again."
        ) from error
    if "\x00" in text:
        raise FileUnreadable("The file holds NUL characters.", remedy="Send plain text.")
    return text


def _documents(content: bytes, media_type: str) -> list[Mapping[str, Any]]:
    text = _text(content)
    try:
        if media_type == YAML:
            _check_nodes(text)
            found = [one for one in yaml.load_all(text, Loader=yaml.CSafeLoader) if one is not None]
        else:
            found = orjson.loads(text)
            found = found if isinstance(found, list) else [found]
    except (yaml.YAMLError, ValueError, OverflowError) as error:
        raise FileUnreadable(f"It is no {media_type}: {_short(error)}.", remedy="Correct the place named.") from error
    if not found or not all(isinstance(one, Mapping) for one in found):
        raise FileUnreadable("The file holds no document of named fields.", remedy="Give one mapping a document.")
    return [_plain(one, f"document {number}", 0) for number, one in enumerate(found, 1)]


def _plain(value: Any, place: str, depth: int) -> Any:
    """A document's values as JSON knows them: dates as text, names as text. Raises `FileUnreadable` for others."""
    if depth > DEEPEST:
        raise FileUnreadable(f"{place} is nested deeper than {DEEPEST} levels.", remedy="Flatten it.")
    if isinstance(value, Mapping):
        return {
            _plain(str(name), place, depth): _plain(one, f"{place}/{name}", depth + 1) for name, one in value.items()
        }
    if isinstance(value, list):
        return [_plain(one, f"{place}/{number}", depth + 1) for number, one in enumerate(value)]
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, str) and "\x00" in value:
        raise FileUnreadable(f"{_shown(place)} holds a NUL character.", remedy="Remove it.")
    if isinstance(value, float) and not math.isfinite(value):
        raise FileUnreadable(f"{place} is no finite number.", remedy="Give a number.")
    if value is None or isinstance(value, (str, bool, int, float)):
        return value
    raise FileUnreadable(f"{place} is of a type that is not taken.", remedy="Use texts, numbers, yes and no, dates.")


def _check_nodes(text: str) -> None:
    """Refuse YAML that would grow beyond what was sent, or lies deeper than anything that people write."""
    depth = 0
    for event in yaml.parse(text, Loader=yaml.CSafeLoader):
        if isinstance(event, yaml.AliasEvent):
            raise FileUnreadable(
                f"{_line_of(event)} refers to another place (*{event.anchor}).",
                remedy="Write it out; references are not taken.",
            )
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if depth > DEEPEST:
            raise FileUnreadable(f"{_line_of(event)} is nested deeper than {DEEPEST} levels.", remedy="Flatten it.")


def _line_of(event: yaml.Event) -> str:
    return f"Line {event.start_mark.line + 1}" if event.start_mark else "A line"


def _raw_rows(kind: LoadKind, content: bytes, media_type: str) -> Iterator[tuple[int, Mapping[str, Any] | RowProblem]]:
    text = _text(content)
    if media_type == CSV:
        yield from _csv_rows(kind, text)
        return
    if media_type == NDJSON:
        # Not splitlines(): that also cuts at characters which JSON allows inside a text.
        numbered = ((number, _json(line)) for number, line in enumerate(text.split("\n"), 1) if line.strip())
    elif media_type == JSON:
        found = _json(text)
        if isinstance(found, RowProblem):
            raise FileUnreadable(found.detail, remedy=found.remedy)
        if not isinstance(found, list):
            raise FileUnreadable("The JSON is no array of rows.", remedy="Send [{…}, {…}].")
        numbered = ((number, one) for number, one in enumerate(found, 1))
    else:
        raise FileUnreadable(f"Rows do not come as {media_type}.", remedy="Send CSV, NDJSON or a JSON array.")
    known = {column.name for column in kind.columns}
    empty = True
    for number, one in numbered:
        empty = False
        if isinstance(one, Mapping):
            if not known.issuperset(one):
                _check_columns(kind, list(one), whole=False)
            yield number, one
        elif isinstance(one, RowProblem):
            yield number, one
        else:
            yield number, RowProblem("", _shown(one), "It is no object of named fields.", "Name each field.")
    if empty:
        raise FileUnreadable("The file is empty.", remedy="Send at least one row.")


def _json(text: str) -> Any:
    """What the text says, or the problem that it is no JSON."""
    try:
        return orjson.loads(text)
    except orjson.JSONDecodeError as error:
        return RowProblem("", _shown(text), f"It is no JSON: {_short(error)}.", "Correct the place named.")


def _csv_rows(kind: LoadKind, text: str) -> Iterator[tuple[int, Mapping[str, Any] | RowProblem]]:
    head = text.partition("\n")[0]
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=";" if head.count(";") > head.count(",") else ",")
    try:
        header = [name.strip() for name in next(reader, [])]
        if not any(header):
            raise FileUnreadable("The file is empty.", remedy="Begin with a row that names the columns.")
        _check_columns(kind, header, whole=True)
        for number, cells in enumerate(reader, 2):
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) > len(header):
                words = f"The row has {len(cells)} cells, the header {len(header)}."
                yield number, RowProblem("", _shown(" | ".join(cells)), words, "Quote cells that hold the separator.")
                continue
            yield number, dict(zip(header, cells, strict=False))
    except csv.Error as error:
        raise FileUnreadable(f"It is no CSV: {_short(error)}.", remedy="Check the quoting.") from error


def _check_columns(kind: LoadKind, names: list[str], *, whole: bool) -> None:
    known = [one.name for one in kind.columns]
    problems = [
        FieldProblem(f"column {name}", "unknown-column", f"{name!r} is no column of {kind.name}.{near(name, known)}")
        for name in names
        if name not in known
    ]
    problems += [
        FieldProblem(f"column {name}", "column-twice", f"{name!r} stands twice.")
        for name in sorted({one for one in names if names.count(one) > 1})
    ]
    if whole:
        problems += [
            FieldProblem(f"column {one.name}", "column-missing", f"{one.name!r} is missing.")
            for one in kind.columns
            if one.required and one.name not in names
        ]
    if problems:
        raise FileUnreadable(
            " ".join(one.detail for one in problems),
            remedy=f"The columns of {kind.name} are: {', '.join(known)}.",
            problems=problems,
        )


def _read_row(number: int, raw: Mapping[str, Any], readers: Sequence[tuple[str, "_ColumnReader"]]) -> ReadRow:
    values: dict[str, Any] = {}
    notes: list[RowNote] = []
    problems: list[RowProblem] = []
    for name, reader in readers:
        cell = raw.get(name, "")
        # Only texts are looked up: as keys 1, 1.0 and True would be the same.
        value, noted, problem = reader[cell] if type(cell) is str else reader.read(cell)
        values[name] = value
        if noted:
            notes += noted
        if problem:
            problems.append(problem)
    return ReadRow(LoadRow(number, values), notes, problems)


Reading = tuple[Any, Sequence[RowNote], RowProblem | None]


class _ColumnReader(dict[str, Reading]):
    """Reads cells of one column as (value, notes, problem). Most texts of a column repeat and are read once."""

    def __init__(self, column: Column) -> None:
        super().__init__()
        self.column = column

    def __missing__(self, text: str) -> Reading:
        found = self.read(text)
        if len(self) < MOST_REMEMBERED:
            self[text] = found
        return found

    def read(self, cell: Any) -> Reading:
        """A cell of any type, read anew."""
        column = self.column
        try:
            value, words = _read_cell(cell, column)
        except ValueError as error:
            return None, (), RowProblem(column.name, _shown(cell), str(error), _remedy(column))
        if value is None and column.required:
            return None, (), RowProblem(column.name, "", f"{column.name} is empty.", _remedy(column))
        return value, [RowNote(column.name, _shown(cell), one) for one in words] if words else (), None


def _read_cell(cell: Any, column: Column) -> tuple[Any, list[str]]:
    """(value, notes). Raises `ValueError` saying what is wrong."""
    if cell is None:
        return None, []
    if isinstance(cell, bool):
        cell = "yes" if cell else "no"
    if isinstance(cell, (list, dict)):
        raise ValueError("It is no single value.")
    text = str(cell)
    if "\x00" in text:
        raise ValueError("It holds a NUL character.")
    bare = text.strip()
    notes = ["spaces around it taken off"] if bare != text else []
    if not bare:
        return None, []
    if column.type == "text":
        return bare, notes
    value, more = _READERS[column.type](bare, column)
    return value, notes + more


def _decimal(text: str, column: Column) -> tuple[Decimal, list[str]]:
    notes = []
    if _COMMA.fullmatch(text):
        text, notes = text.replace(",", "."), ["decimal comma read as a point"]
    if not _NUMBER.fullmatch(text) or len(text) > 30:
        raise ValueError("It is no number.")
    try:
        return Decimal(text), notes
    except InvalidOperation as error:
        raise ValueError("It is no number.") from error


def _integer(text: str, column: Column) -> tuple[int, list[str]]:
    if not re.fullmatch(r"[+-]?\d{1,9}", text):
        raise ValueError("It is no whole number.")
    return int(text), []


def _yes_no(text: str, column: Column) -> tuple[bool, list[str]]:
    low = text.lower()
    if low in YES:
        return True, []
    if low in NO:
        return False, []
    raise ValueError("It is neither yes nor no.")


def _date(text: str, column: Column) -> tuple[datetime.date, list[str]]:
    try:
        return datetime.date.fromisoformat(text), []
    except ValueError as error:
        raise ValueError("It is no date.") from error


def _datetime(text: str, column: Column) -> tuple[datetime.datetime, list[str]]:
    try:
        moment = datetime.datetime.fromisoformat(text)
        return (moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)).astimezone(datetime.UTC), []
    except (ValueError, OverflowError) as error:
        raise ValueError("It is no time.") from error


def _choice(text: str, column: Column) -> tuple[str, list[str]]:
    for one in column.choices:
        if text.lower() == one.lower():
            return one, [] if text == one else [f"read as {one}"]
    raise ValueError(f"It is none of those possible.{near(text, column.choices)}")


_READERS: Mapping[str, Any] = {
    "decimal": _decimal,
    "integer": _integer,
    "yes_no": _yes_no,
    "date": _date,
    "datetime": _datetime,
    "choice": _choice,
}


def _remedy(column: Column) -> str:
    return {
        "decimal": "Write a number such as 12.5.",
        "integer": "Write a whole number.",
        "yes_no": "Write yes or no.",
        "date": "Write it like 2026-01-31.",
        "datetime": "Write it like 2026-01-31 06:00 (UTC) or 2026-01-31T06:00:00Z.",
        "choice": f"One of {', '.join(column.choices)}.",
    }.get(column.type, column.help or "Fill it in.")


def _shown(cell: Any) -> str:
    """A cell as a report can hold it."""
    return "" if cell is None else str(cell).replace("\x00", "\N{REPLACEMENT CHARACTER}")[:500]


def _short(error: Exception) -> str:
    return " ".join(str(error).split())[:200]
