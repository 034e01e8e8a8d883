"""Rows as JSON objects: one a line, or all in one array."""

from collections.abc import Iterator, Mapping
from typing import Any

import orjson

from services.api.loading import LoadKind, RowProblem
from services.bulk_loads.reading.encodings import decode
from services.bulk_loads.reading.headers import read_heads, refuse_wrong
from services.bulk_loads.reading.result import NDJSON, Raw, Reading, Source, short, shown
from services.bulk_loads.refusals import FileUnreadable


def open_objects(kind: LoadKind, content: bytes, media_type: str, reading: Reading) -> Source:
    """An NDJSON or JSON file. Raises `FileUnreadable`."""
    text, notes = decode(content)
    if media_type == NDJSON:
        # Not splitlines(): that also cuts at characters which JSON allows inside a text.
        lines = text.split("\n")

        def numbered() -> Iterator[tuple[int, Any]]:
            return ((number, _json(line)) for number, line in enumerate(lines, 1) if line.strip())
    else:
        found = _json(text)
        if isinstance(found, RowProblem):
            raise FileUnreadable(found.detail, remedy=found.remedy)
        if not isinstance(found, list):
            raise FileUnreadable("The JSON is no array of rows.", remedy="Send [{…}, {…}].")

        def numbered() -> Iterator[tuple[int, Any]]:
            return enumerate(found, 1)

    seen: dict[tuple[str, ...], list[str | None]] = {}

    def rows() -> Iterator[Raw]:
        empty = True
        for number, one in numbered():
            empty = False
            if isinstance(one, Mapping):
                names = tuple(one)
                columns = seen.get(names)
                if columns is None:
                    heads = read_heads(names, kind, reading, whole=False)
                    refuse_wrong(heads.problems, kind)
                    notes.extend(words for words in heads.notes if words not in notes)
                    columns = seen[names] = heads.columns
                yield number, {name: cell for name, cell in zip(columns, one.values(), strict=True) if name}
            elif isinstance(one, RowProblem):
                yield number, one
            else:
                yield number, RowProblem("", shown(one), "It is no object of named fields.", "Name each field.")
        if empty:
            raise FileUnreadable("The file is empty.", remedy="Send at least one row.")

    return Source(rows, notes)


def top_of_objects(content: bytes, media_type: str) -> list[list[str]]:
    """The names of the first object, as a header. Raises `FileUnreadable`."""
    text, _ = decode(content)
    found = _json(text.partition("\n")[0] if media_type == NDJSON else text)
    first = found[0] if isinstance(found, list) and found else found
    if isinstance(first, RowProblem):
        raise FileUnreadable(first.detail, remedy=first.remedy)
    if not isinstance(first, Mapping):
        raise FileUnreadable("The first row is no object of named fields.", remedy="Name each field.")
    return [[str(one) for one in first]]


def _json(text: str) -> Any:
    """What the text says, or the problem that it is no JSON."""
    try:
        return orjson.loads(text)
    except orjson.JSONDecodeError as error:
        return RowProblem("", shown(text), f"It is no JSON: {short(error)}.", "Correct the place named.")
