"""Files into rows: opened by their form, each cell read as its column's type, repeated rows recognised.

What can be mended without guessing is mended and noted; what cannot is a problem of its row. A file whose columns are
not those of its kind is refused as a whole, before anything is loaded.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from services.api.loading import Column, LoadKind, LoadRow, RowNote, RowProblem
from services.bulk_loads.reading.cells import NOT_CLEAN, Habits, clean_reader, read_cell, remedy
from services.bulk_loads.reading.documents import read_documents
from services.bulk_loads.reading.headers import likely_head
from services.bulk_loads.reading.moments import DAY_ZERO, DAY_ZERO_1904
from services.bulk_loads.reading.numbers import only_a_decimal_comma
from services.bulk_loads.reading.objects import open_objects, top_of_objects
from services.bulk_loads.reading.result import (
    CSV,
    JSON,
    NDJSON,
    PLAIN,
    XLSX,
    CellWrong,
    Reading,
    ReadRow,
    Source,
    shown,
)
from services.bulk_loads.reading.separated import open_separated, top_of_separated
from services.bulk_loads.reading.workbooks import open_workbook, top_of_workbook
from services.bulk_loads.refusals import FileUnreadable

# A column, its name, its quick reader, and what cells that needed no mending were read as: columns repeat themselves.
ColumnReader = tuple[Column, str, Callable[[str], Any], dict[Any, Any]]
MOST_KEPT = 4096


def open_file(kind: LoadKind, content: bytes, media_type: str, reading: Reading = PLAIN) -> Source:
    """A file of rows, opened: its header understood, its cells not yet. Raises `FileUnreadable`."""
    if media_type == CSV:
        return open_separated(kind, content, reading)
    if media_type in {NDJSON, JSON}:
        return open_objects(kind, content, media_type, reading)
    if media_type == XLSX:
        return open_workbook(kind, content, reading)
    raise FileUnreadable(f"Rows do not come as {media_type}.", remedy="Send CSV, XLSX, NDJSON or a JSON array.")


def look_through(kind: LoadKind, content: bytes, media_type: str, reading: Reading = PLAIN) -> tuple[int, list[str]]:
    """(rows, notes on the file as a whole), read only as far as it takes to know that it can be loaded.

    Raises `FileUnreadable`.
    """
    if kind.accepts == "document":
        return len(read_documents(content, media_type)), []
    source = open_file(kind, content, media_type, reading)
    return sum(1 for _ in source.rows()), source.notes


def read_rows(kind: LoadKind, content: bytes, media_type: str, reading: Reading = PLAIN) -> Iterator[ReadRow]:
    """Row after row of a file. Raises `FileUnreadable`."""
    if kind.accepts == "document":
        for number, one in enumerate(read_documents(content, media_type), 1):
            yield ReadRow(LoadRow(number, one), [], [])
        return
    source = open_file(kind, content, media_type, reading)
    habits = _habits(kind, source, reading)
    readers: list[ColumnReader] = [(one, one.name, clean_reader(one, habits), {}) for one in kind.columns]
    seen: dict[Any, tuple[int, tuple[Any, ...]]] = {}
    for number, raw in source.rows():
        if isinstance(raw, RowProblem):
            yield ReadRow(LoadRow(number, {}), [], [raw])
        else:
            row = _read_row(number, raw, readers, habits)
            if kind.key and not row.problems:
                _recognise(row, kind.key, seen)
            yield row


def read_file(kind: LoadKind, content: bytes, media_type: str, reading: Reading = PLAIN) -> list[ReadRow]:
    """Every row of a file. Raises `FileUnreadable`."""
    return list(read_rows(kind, content, media_type, reading))


def head_of(kind: LoadKind, content: bytes, media_type: str, reading: Reading = PLAIN) -> tuple[int, list[str]]:
    """(row number of the header, its names) of a file whose names are not ours. Raises `FileUnreadable`."""
    if kind.accepts == "document":
        raise FileUnreadable("Documents have no columns.", remedy="Choose a kind of rows.")
    if media_type == CSV:
        rows = top_of_separated(kind, content, reading)
    elif media_type == XLSX:
        rows = top_of_workbook(content, reading)
    elif media_type in {NDJSON, JSON}:
        rows = top_of_objects(content, media_type)
    else:
        raise FileUnreadable(f"Rows do not come as {media_type}.", remedy="Send CSV, XLSX, NDJSON or a JSON array.")
    return likely_head(rows, kind, reading)


def _read_row(number: int, raw: Mapping[str, Any], readers: Sequence[ColumnReader], habits: Habits) -> ReadRow:
    values: dict[str, Any] = {}
    notes: list[RowNote] = []
    problems: list[RowProblem] = []
    constants = habits.reading.constants
    for column, name, clean, kept in readers:
        cell: Any = raw.get(name)
        if cell is None and name in constants and name not in raw:
            cell = constants[name]
        form = cell.__class__
        # Truth values are left out: as keys they are the numbers 0 and 1.
        quick = form is str or form is float
        if quick:
            value = kept.get(cell, NOT_CLEAN)
            if value is NOT_CLEAN and form is str:
                value = clean(cell)
                if value is not NOT_CLEAN and len(kept) < MOST_KEPT:
                    kept[cell] = value
            if value is not NOT_CLEAN:
                values[name] = value
                continue
        try:
            value, found = read_cell(cell, column, habits)
        except CellWrong as error:
            problems.append(RowProblem(name, shown(cell), str(error), error.remedy or remedy(column)))
            continue
        if found:
            notes.extend([RowNote(name, shown(cell), words) for words in found])
        elif value is None:
            if column.required:
                problems.append(RowProblem(name, "", f"{name} is empty.", remedy(column)))
        elif quick and len(kept) < MOST_KEPT:
            kept[cell] = value
        values[name] = value
    return ReadRow(LoadRow(number, values), notes, problems)


def _habits(kind: LoadKind, source: Source, reading: Reading) -> Habits:
    """How the file writes, from a first pass over what a spreadsheet may have bent."""
    zero = DAY_ZERO_1904 if source.day_zero_1904 else DAY_ZERO
    if not source.telling():
        return Habits(bent=source.bent, typed=source.typed, zero=zero, reading=reading)
    texts = [one.name for one in kind.columns if one.type == "text"]
    figures = [one.name for one in kind.columns if one.type in {"decimal", "integer"}]
    commas: set[str] = set()
    widths: dict[str, Counter[int]] = {}
    for _, raw in source.rows():
        if isinstance(raw, RowProblem):
            continue
        for name in texts:
            cell = raw.get(name)
            if cell.__class__ is str and cell[:1] == "0" and cell.isdigit():
                widths.setdefault(name, Counter())[len(cell)] += 1
        for name in figures:
            cell = raw.get(name)
            if cell.__class__ is str and "," in cell and name not in commas and only_a_decimal_comma(cell):
                commas.add(name)
    return Habits(
        commas=frozenset(commas),
        padded={name: next(iter(found)) for name, found in widths.items() if len(found) == 1},
        bent=source.bent,
        typed=source.typed,
        zero=zero,
        reading=reading,
    )


def _recognise(row: ReadRow, key: tuple[str, ...], seen: dict[Any, tuple[int, tuple[Any, ...]]]) -> None:
    """A row whose key came before: the same once more, or a contradiction."""
    values = row.row.values
    found = values[key[0]] if len(key) == 1 else tuple([values[name] for name in key])
    here = tuple(values.values())
    first, known = seen.setdefault(found, (row.row.number, here))
    if known is here:
        return
    column, words = key[-1], " ".join(str(values[name]) for name in key if values[name] is not None)
    if known == here:
        row.repeats = first
        row.notes.append(RowNote(column, words[:500], f"the same as row {first}"))
    else:
        row.problems.append(
            RowProblem(column, words[:500], f"Row {first} has the same key and other values.", "Keep one of the two.")
        )
