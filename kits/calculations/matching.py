"""Which offered part may stand where one is asked for: the first half of the rule of fit.

The same part number; else a supersession in an allowed direction on the day; else typed specifications equal in all
that matters. Whole tables are matched at once: candidates are found by number and by what equal specifications share,
and only those are compared.
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assets.calculations.part_specifications import Specification, compare
from assets.calculations.written_numbers import plain
from kits.calculations.supersession import Supersessions

EXACT, SUPERSEDED, EQUIVALENT, SHORT, MISSING = 0, 1, 2, 3, 4
CODES = ("exact", "superseded", "equivalent", "short", "missing")

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Described:
    """A part as asked for or as offered: its normalised number, empty where none is named, and its specification."""

    number: str
    specification: Specification | None = None


def specification_key(specification: Specification | None) -> str:
    """A text that is the same for every two specifications that may be equal; empty where none can be."""
    if specification is None or specification.category == "other":
        return ""
    return "|".join([specification.category, *map(_word, specification.alike())])


def _word(value: Any) -> str:
    return plain(value) if isinstance(value, Decimal) else str(value)


@dataclass(frozen=True)
class Matches:
    """Which offer may stand for what is sought, and how: row by row, ordered by ``sought``, each pair once."""

    sought: Ints
    offer: Ints
    grade: Ints


class Matcher:
    """Finds what of some offers matches, under some supersessions on a day. It remembers what it found."""

    def __init__(self, offers: Sequence[Described], supersessions: Supersessions[str], on: datetime.date) -> None:
        self._offers = len(offers)
        self._supersessions, self._on = supersessions, on
        self._by_number, self._by_key = _indexed(offers)
        self._standing: dict[str, Ints] = {}
        self._equal: dict[Specification, Ints] = {}

    def match(self, sought: Sequence[Described]) -> Matches:
        """Every pair that matches, by its best grade."""
        found: list[tuple[int, int, Ints]] = []
        for place, one in enumerate(sought):
            if one.number:
                found.append((place, EXACT, self._with(one.number)))
                found.append((place, SUPERSEDED, self._standing_for(one.number)))
            if one.specification is not None:
                found.append((place, EQUIVALENT, self._equal_to(one.specification)))
        return _best([one for one in found if len(one[2])], self._offers)

    def _with(self, number: str) -> Ints:
        return self._by_number.get(number, _NONE)

    def _standing_for(self, number: str) -> Ints:
        if number not in self._standing:
            others = self._supersessions.standing_for(number, self._on)
            self._standing[number] = _together([self._with(one) for one in sorted(others)])
        return self._standing[number]

    def _equal_to(self, asked: Specification) -> Ints:
        if asked not in self._equal:
            alike = self._by_key.get(specification_key(asked), {})
            self._equal[asked] = _together([places for one, places in alike.items() if _serves(asked, one)])
        return self._equal[asked]


_NONE: Ints = np.empty(0, dtype=np.int64)


def _serves(asked: Specification, offered: Specification) -> bool:
    compared = compare(asked, offered)
    return compared.equal and compared.comparable


def _together(found: Sequence[Ints]) -> Ints:
    return np.concatenate(found) if found else _NONE


def _indexed(offers: Sequence[Described]) -> tuple[dict[str, Ints], dict[str, dict[Specification, Ints]]]:
    by_number: dict[str, list[int]] = {}
    same: dict[Specification, list[int]] = {}
    for place, one in enumerate(offers):
        by_number.setdefault(one.number, []).append(place)
        if one.specification is not None:
            same.setdefault(one.specification, []).append(place)
    by_key: dict[str, dict[Specification, Ints]] = {}
    for specification, places in same.items():
        key = specification_key(specification)
        if key:
            by_key.setdefault(key, {})[specification] = np.array(places, dtype=np.int64)
    return {number: np.array(places, dtype=np.int64) for number, places in by_number.items()}, by_key


def _best(found: Sequence[tuple[int, int, Ints]], offers: int) -> Matches:
    count = [len(one[2]) for one in found]
    sought = np.repeat(np.array([one[0] for one in found], dtype=np.int64), count)
    grade = np.repeat(np.array([one[1] for one in found], dtype=np.int64), count)
    offer = _together([one[2] for one in found])
    pair = sought * max(offers, 1) + offer
    order = np.argsort(pair * (MISSING + 1) + grade, kind="stable")
    first = np.ones(len(order), dtype=bool)
    first[1:] = pair[order][1:] != pair[order][:-1]
    kept = order[first]
    return Matches(sought[kept], offer[kept], grade[kept])
