"""Demand by month, and the class of its pattern.

A month that is not over is left out: it would look like less demand than there is. Months before the item was kept at
the site are absent, not zero. What came back is taken off the month it came back in; a month is never cut to zero, so
that nothing is counted twice.
"""

import datetime
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Pattern = Literal["none", "smooth", "erratic", "intermittent", "lumpy"]


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
    needs: Iterable[tuple[datetime.date, Decimal]], *, kept_since: datetime.date, as_of: datetime.date, months: int = 36
) -> MonthlyDemand:
    """The last ``months`` whole months before ``as_of``, at most back to the month after the item was first kept.

    The month in which the item came is not whole either, unless it came on its first day.
    """
    last = as_of.replace(day=1)
    started = kept_since.replace(day=1) if kept_since.day == 1 else _next(kept_since.replace(day=1))
    first = max(started, _back(last, months))
    if first >= last:
        return MonthlyDemand(last, ())
    amounts = {}
    month = first
    while month < last:
        amounts[month] = Decimal(0)
        month = _next(month)
    for day, quantity in needs:
        place = day.replace(day=1)
        if place in amounts:
            amounts[place] += quantity
    return MonthlyDemand(first, tuple(amounts.values()))


def pattern(amounts: Iterable[Decimal]) -> Pattern:
    """The class of a demand pattern after Syntetos, Boylan, Croston 2005, J. Oper. Res. Soc. 56:495-503.

    The average interval between months with demand against 1.32, the squared coefficient of variation of what was
    needed in them against 0.49; on a border the upper class counts. Worked out in whole hundredths, because 0.7
    squared is not 0.49 in binary.
    """
    series = list(amounts)
    hits = [one for one in series if one > 0]
    if not hits:
        return "none"
    count, total, squares = len(hits), sum(hits), sum(one * one for one in hits)
    rare = 100 * len(series) >= 132 * count
    varied = 100 * (count * squares - total * total) >= 49 * total * total
    if rare:
        return "lumpy" if varied else "intermittent"
    return "erratic" if varied else "smooth"


def _next(month: datetime.date) -> datetime.date:
    return month.replace(year=month.year + month.month // 12, month=month.month % 12 + 1)


def _back(month: datetime.date, count: int) -> datetime.date:
    place = month.year * 12 + month.month - 1 - count
    return datetime.date(place // 12, place % 12 + 1, 1)
