"""Which lots serve a need: first expired, first out, over lots that may still be fitted on the day of the need."""

import datetime
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
ZERO = Decimal(0)


@dataclass(frozen=True)
class LotStock(Generic[Key]):
    """What is free of a lot in one place. ``usable_until`` is its last day; None where nothing in it ages."""

    key: Key
    lot_number: str
    usable_until: datetime.date | None
    received_on: datetime.date
    free: Decimal


@dataclass(frozen=True)
class PassedOver:
    """A lot that was not taken although something of it is there, and why."""

    lot_number: str
    usable_until: datetime.date | None
    reason: str


@dataclass(frozen=True)
class Allocation(Generic[Key]):
    """What is taken of which lot, what is still missing, and lots that were passed over."""

    taken: tuple[tuple[Key, Decimal], ...]
    short: Decimal
    passed_over: tuple[PassedOver, ...]


def allocate(*, lots: Sequence[LotStock[Key]], quantity: Decimal, on: datetime.date) -> Allocation[Key]:
    """Serve ``quantity`` on a day from lots in date, the one that expires first taken first.

    Ties go to the lot received first, then to the lower number, so the same stock always gives the same answer. Lots
    that do not age come last. That serving in this order serves the most: Glover 1967, Naval Research Logistics
    Quarterly 14:313-316 (maximum matching in a convex bipartite graph). Raises `ValueError` for a quantity below zero.
    """
    if quantity < 0:
        raise ValueError("a need cannot be below zero")
    left, taken, passed_over = quantity, [], []
    for lot in sorted(lots, key=_order):
        if lot.free <= 0:
            continue
        if lot.usable_until is not None and lot.usable_until < on:
            reason = f"may be fitted until {lot.usable_until}, the need is on {on}"
            passed_over.append(PassedOver(lot.lot_number, lot.usable_until, reason))
            continue
        take = min(left, lot.free)
        if take > 0:
            taken.append((lot.key, take))
            left -= take
    return Allocation(tuple(taken), max(left, ZERO), tuple(passed_over))


def _order(lot: LotStock[Key]) -> tuple[datetime.date, datetime.date, str, str]:
    return lot.usable_until or datetime.date.max, lot.received_on, lot.lot_number, str(lot.key)
