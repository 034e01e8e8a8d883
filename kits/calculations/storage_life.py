"""How long elastomers keep in store, after ISO 2230: counted from cure, extended once after inspection.

Where sources put a material into different groups the shortest life counts, unless the data owner chose one.
"""

import datetime
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

_QUARTER = re.compile(r"(?:([1-4])Q(\d{4})|(\d{4})-Q([1-4]))")
_LAST = {1: (3, 31), 2: (6, 30), 3: (9, 30), 4: (12, 31)}


class CureUnreadable(ValueError):
    """A cure date that is neither a day nor a quarter."""


@dataclass(frozen=True)
class StorageGroup:
    """Years of the initial storage period and of its one extension (ISO 2230:2002)."""

    code: str
    initial_years: int
    extension_years: int


def parse_cure(text: str) -> datetime.date:
    """A cure date as packs carry it: a day, ``3Q2025`` or ``2025-Q3``. A quarter counts as its last day.

    Raises `CureUnreadable`.
    """
    bare = text.strip().upper()
    found = _QUARTER.fullmatch(bare)
    if found:
        quarter, year = (found[1], found[2]) if found[1] else (found[4], found[3])
        return datetime.date(int(year), *_LAST[int(quarter)])
    try:
        return datetime.date.fromisoformat(bare)
    except ValueError as error:
        raise CureUnreadable(f"{text!r} is no cure date; write 2025-08-14 or 3Q2025.") from error


def years_after(day: datetime.date, years: int) -> datetime.date:
    """The same day years later; 29 February becomes 28 February (common practice, no source)."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


def expiry(cured: datetime.date, group: StorageGroup) -> datetime.date:
    """Last day of the initial storage period (ISO 2230:2002)."""
    return years_after(cured, group.initial_years)


def extended_expiry(cured: datetime.date, group: StorageGroup) -> datetime.date:
    """Last day after the one extension that a recorded inspection allows (ISO 2230:2002)."""
    return years_after(cured, group.initial_years + group.extension_years)


def kit_expiry(parts: Iterable[tuple[datetime.date, StorageGroup | None]]) -> datetime.date | None:
    """Last day a kit may be fitted: the earliest expiry among its ageing parts; None if nothing in it ages."""
    return min((expiry(cured, group) for cured, group in parts if group is not None), default=None)


def extended_kit_expiry(parts: Iterable[tuple[datetime.date, StorageGroup | None]]) -> datetime.date | None:
    """The same after every ageing part was inspected."""
    return min((extended_expiry(cured, group) for cured, group in parts if group is not None), default=None)


@dataclass(frozen=True)
class GroupRow:
    """The group into which one source puts a material. ``chosen_because``: why it counts before other sources."""

    group: StorageGroup
    source: str
    chosen_because: str = ""


State = Literal["in-date", "inspect", "past"]


@dataclass(frozen=True)
class StorageLife:
    """Last days of the initial period and of its extension after one source; both days are still in date."""

    row: GroupRow
    initial_end: datetime.date
    extension_end: datetime.date
    counts: bool

    def state_on(self, day: datetime.date) -> State:
        """``in-date``; ``inspect``: only after a recorded inspection (ISO 2230:2002); ``past``: not to be used."""
        if day <= self.initial_end:
            return "in-date"
        return "inspect" if day <= self.extension_end else "past"


def counting_group(rows: Iterable[GroupRow]) -> GroupRow | None:
    """The group that counts: the chosen one, else the one with the shortest life; None where no source names one."""
    known = list(rows)
    return min([one for one in known if one.chosen_because] or known, key=_life, default=None)


def storage_lives(cured: datetime.date, rows: Iterable[GroupRow]) -> list[StorageLife]:
    """What each source gives from a cure date, the one that counts first, then from short to long."""
    known = list(rows)
    counted = counting_group(known)
    lives = [
        StorageLife(one, expiry(cured, one.group), extended_expiry(cured, one.group), counts=one is counted)
        for one in known
    ]
    return sorted(lives, key=lambda one: (not one.counts, _life(one.row)))


def _life(row: GroupRow) -> tuple[int, int, str]:
    years, more = row.group.initial_years, row.group.extension_years
    return years, more, row.group.code
