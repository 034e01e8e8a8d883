"""Which lots reserved claims should hold: those that die first, as long as they last until the day of the job."""

import datetime
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, TypeVar

from kits.calculations.allocation import LotStock, allocate

Key = TypeVar("Key", bound=Hashable)
Holdings = tuple[tuple[Key, Decimal], ...]
ZERO = Decimal(0)


@dataclass(frozen=True)
class Holder(Generic[Key]):
    """A claim with the lots it holds for its day."""

    name: str
    day: datetime.date
    holds: tuple[tuple[Key, Decimal], ...]

    @property
    def quantity(self) -> Decimal:
        """All it holds."""
        return sum((amount for _, amount in self.holds), ZERO)


def exchange(
    holders: Sequence[Holder[Key]], lots: Sequence[LotStock[Key]]
) -> dict[str, tuple[tuple[Key, Decimal], ...]]:
    """What each claim should hold instead, by name; nothing where nothing would be gained.

    ``lots`` are all in question, each with what is free of it besides what is held. Gained is a lot in date for who
    holds one that will be dead, or that lots which last longer become free. Nobody who holds lots in date is ever left
    with less: served in the order of their days, each from the lot that dies first, all of them find some (Glover 1967,
    Naval Research Logistics Quarterly 14:313-316), and a claim whose lots will be dead joins only where all still do.
    """
    until = {one.key: one.usable_until for one in lots}
    sound = [one for one in holders if all(_lasts(until[key], one.day) for key, _ in one.holds)]
    joined = list(sound)
    found = _served(joined, lots)
    if found is None:
        return {}
    for one in sorted(holders, key=lambda each: (each.day, each.name)):
        if one not in sound and (better := _served([*joined, one], lots)) is not None:
            joined, found = [*joined, one], better
    if len(joined) == len(sound) and _used(found) == _used({one.name: one.holds for one in sound}):
        return {}
    return {one.name: found[one.name] for one in joined if dict(found[one.name]) != dict(one.holds)}


def _served(holders: Sequence[Holder[Key]], lots: Sequence[LotStock[Key]]) -> dict[str, Holdings[Key]] | None:
    """What each holds when all let go and are served anew; None where somebody would go short."""
    left = {one.key: one.free for one in lots}
    for one in holders:
        for key, amount in one.holds:
            left[key] += amount
    found: dict[str, Holdings[Key]] = {}
    for one in sorted(holders, key=lambda each: (each.day, each.name)):
        shelf = [LotStock(lot.key, lot.lot_number, lot.usable_until, lot.received_on, left[lot.key]) for lot in lots]
        got = allocate(lots=shelf, quantity=one.quantity, on=one.day)
        if got.short:
            return None
        for key, amount in got.taken:
            left[key] -= amount
        found[one.name] = got.taken
    return found


def _used(holdings: Mapping[str, Holdings[Key]]) -> dict[Key, Decimal]:
    used: dict[Key, Decimal] = {}
    for one in holdings.values():
        for key, amount in one:
            used[key] = used.get(key, ZERO) + amount
    return used


def _lasts(until: datetime.date | None, day: datetime.date) -> bool:
    return until is None or until >= day
