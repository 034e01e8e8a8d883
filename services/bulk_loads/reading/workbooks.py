"""XLSX workbooks: one sheet, its header wherever it stands, its cells with the types the workbook gives them."""

import datetime
import io
from collections.abc import Iterable, Iterator
from typing import Any

import python_calamine

from services.api.loading import LoadKind, RowProblem
from services.api.problems import near
from services.bulk_loads.reading.headers import DEPTH, find_heads
from services.bulk_loads.reading.result import Marked, Raw, Reading, Source, short, shown
from services.bulk_loads.reading.workbook_parts import MOST_CELLS, Fault, Parts, check_sheet, open_parts
from services.bulk_loads.refusals import FileUnreadable

Cells = list[list[Any]]
_WIDE = "The cell is merged across columns."


def open_workbook(kind: LoadKind, content: bytes, reading: Reading) -> Source:
    """A workbook's sheet: the one named, or the first that holds anything. Raises `FileUnreadable`."""
    parts = open_parts(content)
    try:
        with python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            name, cells, merged, faults = _sheet(book, parts, reading.sheet)
    except (python_calamine.CalamineError, python_calamine.ZipError, python_calamine.XmlError, ValueError) as error:
        raise FileUnreadable(
            f"The workbook cannot be read: {short(error)}.", remedy="Save it as XLSX again."
        ) from error
    notes = [f"The sheet {name!r} was read."] if len(parts.sheets) > 1 else []
    for fault in faults:
        if fault.row < len(cells) and fault.column < len(cells[fault.row]):
            cells[fault.row][fault.column] = Marked(fault.value, problem=fault.words, remedy=fault.remedy)
    heads = find_heads([[_head(one) for one in row] for row in cells[:DEPTH]], kind, reading)
    first = heads.last_row + 1
    _unmerge(cells, merged, first)

    def rows() -> Iterator[Raw]:
        names = heads.columns
        nameless = [place for place in range(len(cells[0])) if place >= len(names) or not names[place]]
        for number, row in enumerate(cells[first:], first + 1):
            if all(map(_is_empty, row)):
                continue
            stray = None if reading.ignore_others else _stray(row, nameless)
            if stray is not None:
                words = "It stands under no header."
                yield number, RowProblem("", shown(stray), words, "Name the column, or delete what stands there.")
            else:
                yield number, {name: one for name, one in zip(names, row, strict=False) if name}

    return Source(
        rows, [*notes, *heads.notes], bent=True, typed=True, telling=lambda: True, day_zero_1904=parts.day_zero_1904
    )


def top_of_workbook(content: bytes, reading: Reading) -> list[list[str]]:
    """The first rows of a workbook's sheet, as texts. Raises `FileUnreadable`."""
    cells = _unfold(content, open_parts(content), reading.sheet)[1]
    return [[_head(one) for one in row] for row in cells[:DEPTH]]


def _unfold(content: bytes, parts: Parts, wanted: str) -> tuple[str, Cells, Any, list[Fault]]:
    try:
        with python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content)) as book:
            return _sheet(book, parts, wanted)
    except (python_calamine.CalamineError, python_calamine.ZipError, python_calamine.XmlError, ValueError) as error:
        words = f"The workbook cannot be read: {short(error)}."
        raise FileUnreadable(words, remedy="Save it as XLSX again.") from error


def _sheet(book: python_calamine.CalamineWorkbook, parts: Parts, wanted: str) -> tuple[str, Cells, Any, list[Fault]]:
    """(name, cells from A1 on, merged ranges, cells without a value). Each sheet is checked before it is unfolded."""
    if wanted and wanted not in book.sheet_names:
        raise FileUnreadable(
            f"There is no sheet {wanted!r}.{near(wanted, book.sheet_names)}",
            remedy=f"Its sheets are: {', '.join(book.sheet_names)[:500]}.",
        )
    for name in [wanted] if wanted else book.sheet_names:
        if name not in parts.sheets:
            continue
        faults = check_sheet(parts, name)
        sheet = book.get_sheet_by_name(name)
        if sheet.start is not None or wanted:
            cells = sheet.to_python(skip_empty_area=False)
            if cells:
                return name, cells, sheet.merged_cell_ranges or [], faults
    raise FileUnreadable("The file is empty.", remedy="Begin with a row that names the columns.")


def _unmerge(cells: Cells, merged: Iterable[tuple[tuple[int, int], tuple[int, int]]], first: int) -> None:
    """Fill what was merged down a column with its value, marked; mark what was merged across columns as unreadable."""
    filled = 0
    for (top, left), (bottom, right) in merged:
        bottom, right = min(bottom, len(cells) - 1), min(right, len(cells[0]) - 1)
        if top >= len(cells) or left >= len(cells[0]) or bottom < first:
            continue
        filled += (bottom - top + 1) * (right - left + 1)
        if filled > MOST_CELLS:
            raise FileUnreadable("Too much of the sheet is merged.", remedy="Unmerge the cells, or send CSV.")
        value = cells[top][left]
        for row in range(max(top, first), bottom + 1):
            for column in range(left, right + 1):
                if right > left:
                    cells[row][column] = Marked(value, problem=_WIDE, remedy="Unmerge it; give each column its value.")
                elif row > top and not isinstance(value, Marked):
                    cells[row][column] = Marked(value, note="filled in from the merged cell above")


def _stray(row: list[Any], nameless: list[int]) -> Any:
    return next((row[place] for place in nameless if place < len(row) and not _is_empty(row[place])), None)


def _is_empty(cell: Any) -> bool:
    """Whether nothing was written there; what was filled in from a merged cell is not."""
    if isinstance(cell, Marked):
        return bool(cell.note)
    return cell is None or (isinstance(cell, str) and not cell.strip())


def _head(cell: Any) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime.datetime):
        return cell.isoformat()
    return shown(cell).strip()
