"""The order of serial numbers, ranges of them, and the segments that cut points make.

Order (common practice, no source): the text is taken in upper case without spaces and split into runs of letters, runs
of digits and other signs; digits compare as numbers, so that leading zeros do not matter, letters and other signs as
text, and a shorter serial comes before its continuation. At one place digits come before letters and other signs. So
A9 < A010 < A10B < AB1 < B1.

Ranges: from a first to a last serial, both included; an end left out is open. A bound that ends in a star stands for
every serial that begins so: up to ``AB*`` takes in ABZ-99, and ``AB*`` alone, without an end, is all of AB. After a
digit the number ends there: NB2017* takes in NB2017-0001 and not NB20171, since those do not lie together in the order.
"""

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

_RUN = re.compile(r"\d+|[A-Z]+|[^\dA-Z]+")
SerialKey = tuple[tuple[int, int, str], ...]
LAST_SIGN = "\U0010ffff"
LONGEST = 39


class RangeRefused(ValueError):
    """A range that cannot be: ``field`` is serial_from or serial_to; what is wrong, and what would help."""

    def __init__(self, field: str, what: str, remedy: str) -> None:
        super().__init__(what)
        self.field, self.what, self.remedy = field, what, remedy


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


def _beyond(prefix: str) -> SerialKey:
    """A key after every serial that begins with a text, and before all that come after those."""
    key = serial_key(prefix)
    if not key or not key[-1][0]:
        return (*key, (2, 0, ""))
    return (*key[:-1], (1, 0, key[-1][2] + LAST_SIGN))


def cut_key(cut: str) -> SerialKey:
    """The key of a cut point: a serial that is the first of its segment, or a text with a star, whose segment begins
    after everything that begins so."""
    return _beyond(cut[:-1]) if cut.endswith("*") else serial_key(cut)


@dataclass(frozen=True)
class SerialRange:
    """From ``start`` to ``end``, both included; empty means open. See the module's text for stars."""

    start: str = ""
    end: str = ""

    @cached_property
    def low(self) -> SerialKey:
        """The key of the first serial; the empty key comes before all."""
        return serial_key(self.start.removesuffix("*"))

    @cached_property
    def high(self) -> SerialKey | None:
        """The last key that lies in the range; None where it is open."""
        last = self.end or (self.start if self.start.endswith("*") else "")
        return cut_key(last) if last.removesuffix("*") else None

    def contains(self, serial: str) -> bool:
        """Whether the serial lies in the range. Everything that continues an ``end`` without a star lies beyond it."""
        key = serial_key(serial)
        return self.low <= key and (self.high is None or key <= self.high)

    def is_empty(self) -> bool:
        """Whether the range ends before it begins."""
        return self.high is not None and self.high < self.low

    def cuts(self) -> list[str]:
        """The cut points at which belonging to the range begins and ends."""
        first = self.start.removesuffix("*")
        last = self.end or (self.start if self.start.endswith("*") else "")
        return [one for one in (first, just_after(last) if last.removesuffix("*") else "") if one]

    def words(self) -> str:
        """The range as people say it."""
        if self.start.endswith("*") and not self.end:
            return f"serials beginning with {self.start[:-1]}" if self.start != "*" else "all serials"
        if self.start and self.end:
            return f"serials {self.start} to {self.end}"
        return (
            f"serials from {self.start} on"
            if self.start
            else f"serials up to {self.end}"
            if self.end
            else "all serials"
        )


def read_range(serial_from: str, serial_to: str) -> SerialRange:
    """A range from what people write. Raises `RangeRefused`."""
    start, end = normalise_serial(serial_from)[0], normalise_serial(serial_to)[0]
    for field, bound in (("serial_from", start), ("serial_to", end)):
        if "*" in bound[:-1]:
            raise RangeRefused(field, "A star stands at the end only.", "Write AB* for all that begin with AB.")
        if len(bound) > LONGEST:
            raise RangeRefused(field, f"It is longer than {LONGEST} characters.", "Shorten it.")
    read = SerialRange("" if start == "*" else start, "" if end == "*" else end)
    if read.is_empty():
        raise RangeRefused("serial_to", "The serial range ends before it begins.", "Swap the two.")
    return read


def overlap(one: SerialRange, other: SerialRange) -> bool:
    """Whether two ranges share a serial number."""
    highs = [high for high in (one.high, other.high) if high is not None]
    return not highs or max(one.low, other.low) <= min(highs)


@dataclass(frozen=True)
class Gap:
    """What lies between two ranges, or beyond the first or the last: ``after`` the one and ``before`` the other;
    None where nothing follows or comes before."""

    after: SerialRange | None
    before: SerialRange | None

    def contains(self, serial: str) -> bool:
        """Whether the serial lies in the gap."""
        key = serial_key(serial)
        above = self.after is None or (self.after.high is not None and key > self.after.high)
        return above and (self.before is None or key < self.before.low)

    def words(self) -> str:
        """The gap as people say it."""
        if self.after is None or self.before is None:
            beyond, word = (self.before, "before") if self.after is None else (self.after, "after")
            return f"serials {word} those of the {'first' if word == 'before' else 'last'} range ({_of(beyond)})"
        return f"serials after {self.after.end or self.after.start} and before {self.before.start}"


def _of(one: SerialRange | None) -> str:
    return (one or SerialRange()).words()


def gaps(ranges: Iterable[SerialRange]) -> list[Gap]:
    """What some ranges leave out, in order: between them, and beyond both ends where these are not open.

    Where one ends with a number and the next begins with the number after it, nothing is left out.
    """
    found: list[Gap] = []
    last: SerialRange | None = None
    for one in sorted(ranges, key=lambda each: each.low):
        if last is None:
            if one.low:
                found.append(Gap(None, one))
        elif last.high is not None and one.low > last.high and not _follows(last, one):
            found.append(Gap(last, one))
        if last is None or (last.high is not None and (one.high is None or one.high > last.high)):
            last = one
    if last is not None and last.high is not None:
        found.append(Gap(last, None))
    return found


def _follows(one: SerialRange, other: SerialRange) -> bool:
    """Whether the second begins where the first ends: with the next number, or the next letter after a star."""
    end = serial_key((one.end or one.start).removesuffix("*"))
    starred = (one.end or one.start).endswith("*")
    head, rest = other.low[: len(end)], other.low[len(end) :]
    if len(head) < len(end) or head[:-1] != end[:-1] or any(run[1] > 1 for run in rest) or (rest and not starred):
        return False
    (kind, number, text), (last_kind, last_number, last_text) = head[-1], end[-1]
    if kind != last_kind:
        return False
    if not kind:
        return number == last_number + 1
    return starred and text[:-1] == last_text[:-1] and ord(text[-1]) == ord(last_text[-1]) + 1


def segment_of(serial: str, cut_points: Iterable[str]) -> int:
    """How many cut points lie at or before the serial: the number of its segment, from 0."""
    key = serial_key(serial)
    return sum(1 for one in set(cut_points) if cut_key(one) <= key)


class Segments:
    """The segments that cut points make, for many serial numbers of one model; see `segment_of`."""

    def __init__(self, cut_points: Iterable[str]) -> None:
        self.cuts = sorted(set(cut_points), key=lambda one: (cut_key(one), one))
        self._first = [cut_key(one) for one in self.cuts]

    def of(self, serial: str) -> int:
        """The number of the serial's segment, from 0."""
        return bisect_right(self._first, serial_key(serial)) if self._first else 0


def sorted_serials(serials: Iterable[str]) -> Sequence[str]:
    """Serial numbers in their order."""
    return sorted(serials, key=serial_key)


def just_after(serial: str) -> str:
    """A cut point that lies after the serial, or after all that a star stands for, and before every other serial that
    comes after it."""
    bare, _ = normalise_serial(serial)
    if bare.endswith("*"):
        return bare
    return bare + ("!" if bare[-1:].isdecimal() else "0")
