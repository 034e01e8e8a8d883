"""How often a supplier is ordered from."""

import datetime

# Where there were too few orders to tell, one a month is assumed (common practice, no source).
USUAL_DAYS = 30.0
FEWEST_ORDERS = 3


def order_cycle_days(orders: int, first: datetime.datetime | None, last: datetime.datetime | None) -> float:
    """Mean days between orders, at least one; a month where fewer than three tell."""
    if orders < FEWEST_ORDERS or first is None or last is None:
        return USUAL_DAYS
    return max((last - first) / datetime.timedelta(days=1) / (orders - 1), 1.0)
