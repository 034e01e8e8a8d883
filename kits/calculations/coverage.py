"""What makers say kits are for: for whom it holds, where two words overlap, and what none of them covers."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from assets.calculations.build_class import variant_matches
from assets.calculations.serial_ranges import SerialRange, overlap

K = TypeVar("K")


@dataclass(frozen=True)
class Declared(Generic[K]):
    """One word on what ``kit`` is for: serials of a model, as-built conditions, and the days on which it holds, both
    included; None is open."""

    kit: K
    serials: SerialRange = field(default_factory=SerialRange)
    variant: Mapping[str, str] = field(default_factory=dict)
    valid_from: datetime.date | None = None
    valid_to: datetime.date | None = None

    def holds(self, on: datetime.date) -> bool:
        """Whether the word holds on a day."""
        return (self.valid_from is None or self.valid_from <= on) and (self.valid_to is None or on <= self.valid_to)

    def covers(self, serial: str, variant: Mapping[str, str], on: datetime.date) -> bool:
        """Whether it is meant for a pump of the model on a day."""
        return self.holds(on) and variant_matches(self.variant, variant) and self.serials.contains(serial)


def declared_for_pump(
    coverages: Iterable[Declared[K]], serial: str, variant: Mapping[str, str], on: datetime.date
) -> set[K]:
    """The kits that are meant for a pump, by what is said about its model: serial, as-built entries, and the day."""
    return {one.kit for one in coverages if one.covers(serial, variant, on)}


def compatible(one: Mapping[str, str], other: Mapping[str, str]) -> bool:
    """Whether some pump can meet both as-built conditions."""
    return all(str(other.get(name, value)).upper() == str(value).upper() for name, value in one.items())


def overlapping(
    said: Sequence[tuple[SerialRange, Mapping[str, str]]],
) -> list[tuple[int, int]]:
    """The places of every two ranges that some pump lies in both of."""
    return [
        (first, second)
        for first in range(len(said))
        for second in range(first + 1, len(said))
        if overlap(said[first][0], said[second][0]) and compatible(said[first][1], said[second][1])
    ]


def conditions_of(variants: Iterable[Mapping[str, str]]) -> list[dict[str, str]]:
    """Every different as-built condition, each once; those that hold for all pumps only where there is no other."""
    found = {tuple(sorted(one.items())): dict(one) for one in variants}
    if len(found) > 1:
        found.pop((), None)
    return [found[key] for key in sorted(found)]
