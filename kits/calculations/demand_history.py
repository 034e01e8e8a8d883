"""Demand by month, and the class of its pattern.

A month that is not over is left out: it would look like less demand than there is. Months before the item was kept at
the site are absent, not zero. What came back is taken off the month it came back in; a month is never cut to zero, so
that nothing is counted twice.
"""

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from kits.calculations.demand_arrays import PATTERNS, patterns

# Replenishment looks back so many whole months, and reads one more, since the first day may lie anywhere in its month.
MONTHS = 36
HISTORY = datetime.timedelta(days=(MONTHS + 1) * 31)


@dataclass(frozen=True)
class MonthlyDemand:
    """Whole months from ``first`` on, oldest first."""

    first: datetime.date
    amounts: tuple[Decimal, ...]

    @property
    def months_with_demand(self) -> int:
        """Months in which something was needed."""
        return sum(1 for one in self.amounts if one > 0)


def monthly_demand(
    needs: Iterable[tuple[datetime.date, Decimal]],
    *,
    kept_since: datetime.date,
    as_of: datetime.date,
    months: int = MONTHS,
) -> MonthlyDemand:
    """The last ``months`` whole months before ``as_of``, at most back to the month after the item was first kept.

    The month in which the item came is not whole either, unless it came on its first day.
    """
    last = as_of.replace(day=1)
    started = kept_since.replace(day=1) if kept_since.day == 1 else months_after(kept_since, 1)
    first = max(started, months_before(last, months))
    if first >= last:
        return MonthlyDemand(last, ())
    amounts = {}
    month = first
    while month < last:
        amounts[month] = Decimal(0)
        month = months_after(month, 1)
    for day, quantity in needs:
        place = day.replace(day=1)
        if place in amounts:
            amounts[place] += quantity
    return MonthlyDemand(first, tuple(amounts.values()))


def pattern(amounts: Iterable[Decimal]) -> str:
    """The class of one item's demand pattern; the rule is `demand_arrays.patterns`."""
    series = np.array([float(one) for one in amounts])
    return PATTERNS[patterns(series[:, None])[0]]


def months_after(day: datetime.date, count: int) -> datetime.date:
    """The first of the month so many months after that of a day."""
    place = day.year * 12 + day.month - 1 + count
    return datetime.date(place // 12, place % 12 + 1, 1)


def months_before(day: datetime.date, count: int) -> datetime.date:
    """The first of the month so many months before that of a day."""
    return months_after(day, -count)
