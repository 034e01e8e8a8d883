"""Which column of a kind each header of a file is, and where in a sheet the header stands."""

import re
import unicodedata
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from services.api.loading import LoadKind
from services.api.problems import near
from services.api.refusals import FieldProblem
from services.bulk_loads.reading.result import Reading
from services.bulk_loads.refusals import FileUnreadable

# How far down a header is looked for, below titles and remarks.
DEPTH = 25
MOST_TOLD = 20
MOST_HEADERS = 500
_BETWEEN = re.compile(r"[^\w]+|_+")


def plain_name(name: str) -> str:
    """A header without regard to case, blanks, punctuation and underscores."""
    return "_".join(part for part in _BETWEEN.split(unicodedata.normalize("NFKC", name).casefold()) if part)


@dataclass
class Heads:
    """The column of each place in a row (None: none of ours), with notes on how it was found and what is wrong."""

    columns: list[str | None]
    notes: list[str] = field(default_factory=list)
    problems: list[FieldProblem] = field(default_factory=list)
    last_row: int = 0

    @property
    def found(self) -> int:
        return sum(1 for one in self.columns if one)


def read_heads(names: Sequence[str], kind: LoadKind, reading: Reading, *, whole: bool) -> Heads:
    """What each name of a header stands for. ``whole`` also asks for every required column."""
    by_plain = {plain_name(one.name): one.name for one in kind.columns}
    known = {one.name for one in kind.columns}
    mapped = {header.strip(): column for header, column in reading.columns.items()}
    mapped_plain = {plain_name(header): column for header, column in mapped.items()}
    heads = Heads([])
    aside = []
    for name in names:
        column = mapped.get(name) or mapped_plain.get(plain_name(name)) or (name if name in known else None)
        if column is None and name:
            column = by_plain.get(plain_name(name))
            if column is not None:
                heads.notes.append(f"{name!r} was read as the column {column}.")
            elif reading.ignore_others:
                aside.append(name)
            elif len(heads.problems) < MOST_TOLD:
                words = f"{name!r} is no column of {kind.name}.{near(name, known)}"
                heads.problems.append(FieldProblem(f"column {name}", "unknown-column", words))
        heads.columns.append(column)
    if aside:
        heads.notes.append(f"Left aside: {', '.join(aside)}.")
    present = Counter(one for one in heads.columns if one)
    heads.problems += [
        FieldProblem(f"column {name}", "column-twice", f"{name!r} stands twice.")
        for name, times in sorted(present.items())
        if times > 1
    ]
    if whole:
        missing = [one.name for one in kind.columns if one.required and one.name not in {*present, *reading.constants}]
        heads.problems += [FieldProblem(f"column {one}", "column-missing", f"{one!r} is missing.") for one in missing]
        absent = [name for name in mapped if plain_name(name) not in {plain_name(one) for one in names}]
        heads.notes += [f"The mapping's {name!r} is not in the file." for name in absent]
    return heads


def find_heads(rows: Sequence[Sequence[str]], kind: LoadKind, reading: Reading) -> Heads:
    """The header of a sheet, given its first rows: one row, or two that name a column together.

    Titles above it are passed over with a note. Raises `FileUnreadable` where there is none that will do.
    """
    if not any(any(row) for row in rows):
        raise FileUnreadable("The file is empty.", remedy="Begin with a row that names the columns.")
    single = [_at(number, row, kind, reading) for number, row in enumerate(rows[:DEPTH])]
    joined = (
        _at(number + 1, _join(upper, lower, kind, reading), kind, reading)
        for number, (upper, lower) in enumerate(pairwise(rows[:DEPTH]))
        if any(upper) and any(lower)
    )
    sound = next((one for one in single if not _lacks(one)), None)
    if sound is None:
        sound = next((one for one in joined if not _lacks(one)), None)
        if sound is not None:
            sound.notes.insert(0, f"Rows {sound.last_row} and {sound.last_row + 1} were read as one header.")
            refuse_wrong(sound.problems, kind)
            return sound
    if sound is None:
        first = next(one for one, row in zip(single, rows, strict=False) if any(row))
        best = max(single, key=lambda one: one.found)
        sound = best if best.found else first
    if any(any(row) for row in rows[: sound.last_row]):
        sound.notes.insert(0, f"The header was found in row {sound.last_row + 1}; what stands above was passed over.")
    refuse_wrong(sound.problems, kind)
    return sound


def likely_head(rows: Sequence[Sequence[str]], kind: LoadKind, reading: Reading) -> tuple[int, list[str]]:
    """(row number, names) of what is likely the header of a file whose names are not ours: the row with most of our
    columns, else the first with as many texts as any. Raises `FileUnreadable` where there is nothing."""
    found = [(row, read_heads(row, kind, reading, whole=False).found) for row in rows[:DEPTH]]
    widest = max((_texts(row) for row, _ in found), default=0)
    if not widest:
        raise FileUnreadable("The file is empty.", remedy="Begin with a row that names the columns.")
    known = max(count for _, count in found)
    for number, (row, count) in enumerate(found, 1):
        if (count == known) if known else (_texts(row) == widest):
            names = [one for one in dict.fromkeys(row) if one]
            return number, names[:MOST_HEADERS]
    raise AssertionError("one row has the most")


def _texts(row: Sequence[str]) -> int:
    return sum(1 for one in row if one and not one[:1].isdigit())


def refuse_wrong(problems: Sequence[FieldProblem], kind: LoadKind) -> None:
    """Raise `FileUnreadable` where there are problems with columns."""
    if problems:
        raise FileUnreadable(
            " ".join(one.detail for one in problems),
            remedy=f"The columns of {kind.name} are: {', '.join(one.name for one in kind.columns)}.",
            problems=list(problems),
        )


def _at(number: int, row: Sequence[str], kind: LoadKind, reading: Reading) -> Heads:
    heads = read_heads(row, kind, reading, whole=True)
    heads.last_row = number
    return heads


def _lacks(heads: Heads) -> bool:
    return not heads.found or any(one.code == "column-missing" for one in heads.problems)


def _join(upper: Sequence[str], lower: Sequence[str], kind: LoadKind, reading: Reading) -> list[str]:
    """Names that two rows give together; the upper one may span several columns."""
    known: Mapping[str, object] = dict.fromkeys(
        [*(plain_name(one.name) for one in kind.columns), *(plain_name(one) for one in reading.columns)]
    )
    names, span = [], ""
    for place in range(max(len(upper), len(lower))):
        above = upper[place] if place < len(upper) else ""
        below = lower[place] if place < len(lower) else ""
        span = above or span
        ways = [f"{above or span} {below}".strip(), f"{above} {below}".strip(), below, above]
        names.append(next((one for one in ways if plain_name(one) in known), f"{above} {below}".strip()))
    return names
