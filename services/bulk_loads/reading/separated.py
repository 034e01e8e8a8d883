"""CSV as it comes: any of three separators, a line that names one, titles above the header."""

import csv
import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice

from services.api.loading import LoadKind, RowProblem
from services.bulk_loads.reading.encodings import decode
from services.bulk_loads.reading.headers import DEPTH, find_heads, read_heads
from services.bulk_loads.reading.result import Raw, Reading, Source, short, shown
from services.bulk_loads.refusals import FileUnreadable

SEPARATORS = (",", ";", "\t")
# A cell padded with zeros; a comma between digits that separates no cells. Each begins with a plain character, which a
# search finds quickly.
_PADDED = tuple(re.compile(rf"{before}0\d") for before in (r"\n", '"', ",", ";", r"\t"))
_COMMA = re.compile(r",(?<=\d,)\d")
_COMMA_IN_QUOTES = re.compile(r'"[^"\n]*\d,\d')
_NAMED = re.compile(r"sep=([,;\t|])\r?\n", re.I)


def open_separated(kind: LoadKind, content: bytes, reading: Reading) -> Source:
    """A CSV file. Raises `FileUnreadable`."""
    text, notes = decode(content, older=True)
    named = _NAMED.match(text)
    start, before = (named.end(), 1) if named else (0, 0)
    separator = named[1] if named else _separator(text, kind, reading)
    if named:
        notes.append(f"The separator was read from the first line: {named[1]!r}.")
    with _csv_faults():
        heads = find_heads(_head(text, separator, start), kind, reading)
    first = heads.last_row + 1

    def rows() -> Iterator[Raw]:
        reader = csv.reader(io.StringIO(text[start:] if start else text, newline=""), delimiter=separator)
        names, width = heads.columns, len(heads.columns)
        simple = all(names)
        with _csv_faults():
            for number, cells in enumerate(islice(reader, first, None), first + before + 1):
                if simple and len(cells) == width and cells[0]:
                    yield number, dict(zip(names, cells, strict=True))  # type: ignore[arg-type]
                elif any(map(str.strip, cells)):
                    yield number, _placed(cells, names, strict=not reading.ignore_others)

    def telling() -> bool:
        comma = _COMMA_IN_QUOTES if separator == "," else _COMMA
        return any(one.search(text) for one in (comma, *_PADDED))

    return Source(rows, [*notes, *heads.notes], bent=True, telling=telling)


def top_of_separated(kind: LoadKind, content: bytes, reading: Reading) -> list[list[str]]:
    """The first rows of a CSV file. Raises `FileUnreadable`."""
    text, _ = decode(content, older=True)
    named = _NAMED.match(text)
    with _csv_faults():
        return _head(text, named[1] if named else _separator(text, kind, reading), named.end() if named else 0)


def _placed(cells: list[str], names: list[str | None], *, strict: bool) -> dict[str, str] | RowProblem:
    """Cells by column; what stands under no header must be empty."""
    filled = len(cells)
    while filled and not cells[filled - 1].strip():
        filled -= 1
    if filled > len(names):
        return RowProblem(
            "",
            shown(" | ".join(cells)),
            f"The row has {filled} cells, the header {len(names)}.",
            "Quote cells that hold the separator.",
        )
    stray = next((one for name, one in zip(names, cells, strict=False) if not name and one.strip()), None)
    if strict and stray is not None:
        words = "It stands under no header."
        return RowProblem("", shown(stray), words, "Name the column, or delete what stands there.")
    return {name: cell for name, cell in zip(names, cells, strict=False) if name}


def _separator(text: str, kind: LoadKind, reading: Reading) -> str:
    """The one that makes most columns of ours out of some row at the top; else the most frequent one."""
    found = {}
    for one in SEPARATORS:
        try:
            rows = _head(text, one, 0)
        except csv.Error:
            continue
        known = max((read_heads(row, kind, reading, whole=False).found for row in rows), default=0)
        found[one] = (known, len(rows[0]) if rows else 0)
    return max(found, key=lambda one: found[one]) if found else ","


def _head(text: str, separator: str, start: int) -> list[list[str]]:
    reader = csv.reader(io.StringIO(text[start : start + 1_000_000], newline=""), delimiter=separator)
    return [[cell.strip() for cell in row] for row in islice(reader, DEPTH)]


@contextmanager
def _csv_faults() -> Iterator[None]:
    """Faults of the CSV reader as a refusal."""
    try:
        yield
    except csv.Error as error:
        raise FileUnreadable(f"It is no CSV: {short(error)}.", remedy="Check the quoting.") from error
