"""The order of serial numbers, ranges of them, and the segments that cut points make.

Order: the text is taken in upper case without spaces and split into runs of letters, runs of digits and other signs;
digits compare as numbers, letters as text, and a shorter serial comes before its continuation. At one place digits
come before letters. So A9 < A10 < A10B < B1 (common practice, no source).
"""

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

_RUN = re.compile(r"\d+|[A-Z]+|[^\dA-Z]+")
SerialKey = tuple[tuple[int, int, str], ...]


def normalise_serial(text: str) -> tuple[str, list[str]]:
    """(serial as stored, notes): upper case, no spaces."""
    bare = "".join(text.split())
    capitals = bare.upper()
    notes = ["spaces taken out of the serial number"] if bare != text else []
    if capitals != bare:
        notes.append("serial number written in capitals")
    return capitals, notes


def serial_key(text: str) -> SerialKey:
    """A key that sorts serial numbers; see the module's text."""
    bare, _ = normalise_serial(text)
    return tuple([(0, int(run), "") if run.isdecimal() else (1, 0, run) for run in _RUN.findall(bare)])


@dataclass(frozen=True)
class SerialRange:
    """From ``start`` to ``end``, both included; empty means open."""

    start: str = ""
    end: str = ""

    def contains(self, serial: str) -> bool:
        """Whether the serial lies in the range. Everything that continues ``end`` lies beyond it."""
        key = serial_key(serial)
        return (not self.start or serial_key(self.start) <= key) and (not self.end or key <= serial_key(self.end))

    def is_empty(self) -> bool:
        """Whether the range ends before it begins."""
        return bool(self.start and self.end) and serial_key(self.end) < serial_key(self.start)


def overlap(one: SerialRange, other: SerialRange) -> bool:
    """Whether two ranges share a serial number."""
    starts = [key for key in (serial_key(one.start), serial_key(other.start)) if key]
    ends = [serial_key(each.end) for each in (one, other) if each.end]
    return not starts or not ends or max(starts) <= min(ends)


def segment_of(serial: str, cut_points: Iterable[str]) -> int:
    """How many cut points lie at or before the serial: the number of its segment, from 0."""
    key = serial_key(serial)
    return sum(1 for one in set(cut_points) if serial_key(one) <= key)


class Segments:
    """The segments that cut points make, for many serial numbers of one model; see `segment_of`."""

    def __init__(self, cut_points: Iterable[str]) -> None:
        self._first = sorted(serial_key(one) for one in set(cut_points))

    def of(self, serial: str) -> int:
        """The number of the serial's segment, from 0."""
        return bisect_right(self._first, serial_key(serial)) if self._first else 0


def sorted_serials(serials: Iterable[str]) -> Sequence[str]:
    """Serial numbers in their order."""
    return sorted(serials, key=serial_key)


def just_after(serial: str) -> str:
    """A text that sorts after the serial and before every other serial that comes after it."""
    bare, _ = normalise_serial(serial)
    return bare + ("!" if bare[-1:].isdecimal() else "0")
