"""When what is on order will come, where its day has passed.

Past due it is expected from today by the supplier's usual lateness; past a limit it is no longer counted on.
"""

import datetime
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assets.calculations.written_numbers import plain

# So many days past its day an order line is left out of what is counted on (common practice, no source).
LIMIT_DAYS = 30
# Days late at which others are told again (common practice, no source); the limit is told as well.
TELLING_DAYS = (1, 7, 14)


@dataclass(frozen=True)
class OpenLine:
    """A line of an order still to come: ``due_on`` is what the supplier promised last, else the day expected."""

    order: str
    supplier: Any
    due_on: datetime.date
    quantity: Decimal


@dataclass(frozen=True)
class ExpectedReceipt:
    """``counted_on`` is the day to count on, None where it is left out; ``days_late`` is 0 while it is not due."""

    line: OpenLine
    counted_on: datetime.date | None
    days_late: int


def expected_receipts(
    lines: Iterable[OpenLine],
    lateness: Mapping[Any, int],
    as_of: datetime.date,
    *,
    limit_days: int = LIMIT_DAYS,
) -> list[ExpectedReceipt]:
    """When each line is counted on, in the order given.

    ``lateness`` is the usual lateness in days by supplier; at least 1 is taken. A line that is past due at a supplier
    of which nothing is known, or past due by more than the limit, is not counted on.
    """
    return [_expected(one, lateness.get(one.supplier), as_of, limit_days) for one in lines]


def _expected(line: OpenLine, lateness: int | None, as_of: datetime.date, limit_days: int) -> ExpectedReceipt:
    late = (as_of - line.due_on).days
    if late <= 0:
        return ExpectedReceipt(line, line.due_on, 0)
    if lateness is None or late > limit_days:
        return ExpectedReceipt(line, None, late)
    return ExpectedReceipt(line, as_of + datetime.timedelta(days=max(lateness, 1)), late)


def threshold(days_late: int, *, limit_days: int = LIMIT_DAYS) -> int:
    """The highest day-late mark that is reached, 0 where none is. Beyond the limit it is the limit and a day."""
    marks = [*(one for one in TELLING_DAYS if one <= limit_days), limit_days + 1]
    return max((one for one in marks if days_late >= one), default=0)


def left_out_words(found: Iterable[ExpectedReceipt], transfers: Iterable[tuple[str, int]] = ()) -> str:
    """A sentence on what is no longer counted on; empty where there is nothing. ``transfers`` that are left out as well
    are (number, days late)."""
    lost = [
        f"{plain(one.line.quantity)} on order {one.line.order} ({_late(one.days_late)})"
        for one in found
        if one.counted_on is None
    ]
    lost += [f"what transfer {number} should bring ({_late(days)})" for number, days in transfers]
    return f"Not counted on any more: {', '.join(lost)}." if lost else ""


def _late(days: int) -> str:
    return f"{days} {'day' if days == 1 else 'days'} past due"
