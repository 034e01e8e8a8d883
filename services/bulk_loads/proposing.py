"""Proposing a mapping for a file of others: which header is likely which column, and how sure that is."""

import difflib
from collections.abc import Sequence
from dataclasses import dataclass

from services.api.loading import Column, LoadKind
from services.bulk_loads.reading import PLAIN, Reading
from services.bulk_loads.reading.headers import plain_name
from services.bulk_loads.reading.rows import head_of

LIKELY = 0.6


@dataclass(frozen=True)
class Proposed:
    """One header: its column, None where none is likely; the score from 0 to 1 and the runner-up's."""

    header: str
    column: str | None
    score: float
    second_column: str | None
    second_score: float


@dataclass(frozen=True)
class Proposal:
    """Headers in the file's order, required columns that none of them is likely to be, and the header's row."""

    headers: list[Proposed]
    missing: list[str]
    row: int

    def columns(self) -> dict[str, str]:
        """Header -> column, as a mapping takes it."""
        return {one.header: one.column for one in self.headers if one.column}


def propose(kind: LoadKind, content: bytes, media_type: str, reading: Reading = PLAIN) -> Proposal:
    """What the headers of a file are likely to be, each column given once, the likeliest pair first. Writes nothing.

    Raises `FileUnreadable`.
    """
    row, headers = head_of(kind, content, media_type, reading)
    scores = {header: _scores(header, kind.columns) for header in headers}
    pairs = sorted(
        ((score, header, column) for header, found in scores.items() for column, score in found.items()),
        key=lambda one: (-one[0], headers.index(one[1])),
    )
    given: dict[str, str] = {}
    for score, header, name in pairs:
        if score >= LIKELY and header not in given and name not in given.values():
            given[header] = name
    proposed = []
    for header in headers:
        column = given.get(header)
        others = {name: score for name, score in scores[header].items() if name != column}
        second = max(others, key=lambda name: others[name], default=None)
        proposed.append(
            Proposed(
                header,
                column,
                round(scores[header][column], 3) if column else 0.0,
                second,
                round(others[second], 3) if second else 0.0,
            )
        )
    missing = [one.name for one in kind.columns if one.required and one.name not in given.values()]
    return Proposal(proposed, missing, row)


def _scores(header: str, columns: Sequence[Column]) -> dict[str, float]:
    """How alike a header is to each column: the better of whole names and of their words in any order."""
    plain = plain_name(header)
    words = "_".join(sorted(plain.split("_")))
    return {
        one.name: max(
            difflib.SequenceMatcher(None, plain, one.name).ratio(),
            difflib.SequenceMatcher(None, words, "_".join(sorted(one.name.split("_")))).ratio(),
        )
        for one in columns
    }
