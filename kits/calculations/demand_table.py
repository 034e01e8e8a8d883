"""The monthly needs of a site's items as one table of whole units, and what does not belong in it.

Months before an item was kept are absent, not zero: ``first`` says where each series begins. What came back is taken
off the needs of the month it came back in and, where that leaves less than none, off those of the months after, so that
no month is changed by what only came later.
"""

import datetime
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_history import monthly_demand

ItemId = TypeVar("ItemId", bound=Hashable)
ZERO = Decimal(0)


@dataclass(frozen=True)
class DatedNeed(Generic[ItemId]):
    """What was taken for a need (or came back, below 0) on a day; ``job`` where it was for one."""

    item: ItemId
    day: datetime.date
    quantity: Decimal
    job: Hashable = None


@dataclass(frozen=True)
class Claimed:
    """A job's claim on an item as it stands in the book: the day it was made and the day it is for."""

    made_on: datetime.date
    need_date: datetime.date


@dataclass(frozen=True)
class DemandTable(Generic[ItemId]):
    """``demand`` (months, items) from ``first_month`` on, ``first`` the place of each item's first month; ``new`` are
    items that came too late to be judged, ``in_parts`` those of which less than whole units are taken."""

    first_month: datetime.date
    demand: NDArray[np.int64]
    first: NDArray[np.int64]
    items: tuple[ItemId, ...]
    new: tuple[ItemId, ...]
    in_parts: tuple[ItemId, ...]


def unplanned(
    needs: Iterable[DatedNeed[ItemId]], claims: Mapping[tuple[Any, ItemId], Claimed], *, horizon_days: float
) -> dict[ItemId, list[tuple[datetime.date, Decimal]]]:
    """Needs that were not claimed ``horizon_days`` before their day, by item, on the day they were due.

    What was claimed earlier could be ordered for by itself and is not forecast. A need that waited is dated by its
    claim, not by the day it was served.
    """
    found: dict[ItemId, list[tuple[datetime.date, Decimal]]] = {}
    for one in needs:
        claim = None if one.job is None else claims.get((one.job, one.item))
        if claim is None:
            found.setdefault(one.item, []).append((one.day, one.quantity))
            continue
        due = min(one.day, claim.need_date)
        if (due - claim.made_on).days < horizon_days:
            found.setdefault(one.item, []).append((due if one.quantity > 0 else one.day, one.quantity))
    return found


def demand_table(
    needs: Mapping[ItemId, Iterable[tuple[datetime.date, Decimal]]],
    kept_since: Mapping[ItemId, datetime.date],
    *,
    as_of: datetime.date,
    months: int,
    from_period: int | None = None,
) -> DemandTable[ItemId]:
    """The last ``months`` whole months before ``as_of`` at most, from the month in which the first item was kept whole.

    Items need a whole month before ``from_period`` (1 is the table's first month); the others are ``new``.
    """
    histories = {
        item: monthly_demand(needs.get(item, ()), kept_since=since, as_of=as_of, months=months)
        for item, since in kept_since.items()
    }
    length = max((len(one.amounts) for one in histories.values()), default=0)
    begin = 1 if from_period is None else from_period
    kept: list[ItemId] = []
    new: list[ItemId] = []
    in_parts: list[ItemId] = []
    for item, history in histories.items():
        if length - len(history.amounts) >= begin - 1 and from_period is not None:
            new.append(item)
        elif any(one != int(one) for one in history.amounts):
            in_parts.append(item)
        else:
            kept.append(item)
    table, first = np.zeros((length, len(kept)), np.int64), np.zeros(len(kept), np.int64)
    for place, item in enumerate(kept):
        amounts = carried_forward([int(one) for one in histories[item].amounts])
        first[place] = length - len(amounts)
        table[first[place] :, place] = amounts
    start = min((one.first for one in histories.values()), default=as_of.replace(day=1))
    return DemandTable(start, table, first, tuple(kept), tuple(new), tuple(in_parts))


def carried_forward(amounts: Iterable[Any]) -> list[Any]:
    """Months without any below zero, each a number or an array of (items,): what came back beyond a month's needs is
    taken off those of the next ones."""
    found: list[Any] = []
    over: Any = 0
    for one in amounts:
        left = one - over
        over = np.maximum(-left, 0)
        found.append(np.maximum(left, 0))
    return found
