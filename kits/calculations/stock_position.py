"""The inventory position: what counts when it is asked whether to order.

On hand and usable, less what will be out of date before it is used, plus what is on order, less what jobs claim.
"""

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from kits.calculations.demand_arrays import Ints

ZERO = Decimal(0)


@dataclass(frozen=True)
class StockPosition:
    """Each figure of the position, and their sum."""

    usable: Decimal
    dying: Decimal
    on_order: Decimal
    held_for_jobs: Decimal
    claimed: Decimal

    @property
    def total(self) -> Decimal:
        """The inventory position."""
        return self.usable - self.dying + self.on_order - self.held_for_jobs - self.claimed


def stock_position(
    *,
    usable: Decimal,
    held_for_jobs: Decimal,
    lots: Iterable[tuple[datetime.date | None, Decimal]],
    claims: Iterable[tuple[datetime.date, Decimal]],
    on_order: Iterable[tuple[datetime.date, Decimal]],
    horizon: datetime.date,
) -> StockPosition:
    """The position over the days until ``horizon``: lead time and review period.

    ``usable`` is on hand in date today; ``lots`` what is free of it by last day; ``claims`` of jobs without lots, by
    day of need; ``on_order`` by expected day. A claim beyond the horizon does not count yet. A claim served by a lot
    that dies in between takes it before it dies.
    """
    due = sorted((day, quantity) for day, quantity in claims if day <= horizon)
    return StockPosition(
        usable=usable,
        dying=_dying(lots, due, horizon),
        on_order=sum((quantity for day, quantity in on_order if day <= horizon), ZERO),
        held_for_jobs=held_for_jobs,
        claimed=sum((quantity for _, quantity in due), ZERO),
    )


def _dying(
    lots: Iterable[tuple[datetime.date | None, Decimal]],
    due: list[tuple[datetime.date, Decimal]],
    horizon: datetime.date,
) -> Decimal:
    lasting = sorted(lots, key=lambda one: one[0] or datetime.date.max)
    left = [free for _, free in lasting]
    for day, quantity in due:
        wanted = quantity
        for place, (until, _) in enumerate(lasting):
            if wanted > 0 and (until is None or until >= day):
                taken = min(left[place], wanted)
                left[place] -= taken
                wanted -= taken
    return sum(
        (free for free, (until, _) in zip(left, lasting, strict=True) if until is not None and until < horizon), ZERO
    )


def dying_thousandths(
    lots: tuple[Ints, Ints, Ints], *, promised: Ints, claims: tuple[Ints, Ints, Ints], horizon: Ints
) -> Ints:
    """`stock_position`'s ``dying`` of many items at once, (items,).

    ``lots`` are place of the item, last day and free quantity, by item and day; ``claims`` place, day and quantity, by
    item and day, none beyond the horizon; ``promised`` (items,) leaves first, from what dies first; ``horizon``
    (items,) a day. Only items with a lot that dies within it are looked at one by one.
    """
    place, until, free = lots
    found = np.zeros(len(horizon), np.int64)
    at_risk = (until < horizon[place]) & (free > 0)
    for item in np.unique(place[at_risk]):
        rows = slice(*np.searchsorted(place, [item, item + 1]))
        mine = np.arange(rows.start, rows.stop)[at_risk[rows]]
        asked = slice(*np.searchsorted(claims[0], [item, item + 1]))
        left, gone = free[mine].copy(), int(promised[item])
        for number, amount in enumerate(left):
            taken = min(gone, int(amount))
            left[number] -= taken
            gone -= taken
        for day, quantity in zip(claims[1][asked], claims[2][asked], strict=True):
            wanted = int(quantity)
            for number, last in enumerate(until[mine]):
                if wanted > 0 and last >= day:
                    taken = min(int(left[number]), wanted)
                    left[number] -= taken
                    wanted -= taken
        found[item] = left.sum()
    return found
