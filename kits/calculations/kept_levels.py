"""What replenishment fills the stock of many items up to: reorder point and usual order together.

The way is that of a proposal, for all items at once and also for those nobody sells: there a usual lead time and single
pieces are taken.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kits.calculations.demand_forecast import Forecast, forecast_each
from kits.calculations.demand_history import MonthlyDemand
from kits.calculations.order_quantity import order_quantity
from kits.calculations.reorder_arrays import period_moments, reorder_levels
from kits.calculations.reorder_point import DAYS_OF_MONTH, HIGHEST
from kits.calculations.site_plan import HOLDING_RATE, REVIEW_DAYS

# Both: common practice, no source.
USUAL_LEAD_TIME_DAYS = 60.0
USUAL_TARGET = 0.95
# Above it the distribution is as good as normal, and counting it piece by piece is no use.
MANY = HIGHEST / 4


@dataclass(frozen=True)
class BuyingTerms:
    """What an item is bought on: days, pieces, and money a piece or an order."""

    lead_time_days: float = USUAL_LEAD_TIME_DAYS
    lead_time_sd_days: float = 0.0
    minimum: float = 1.0
    multiple: float = 1.0
    price: float = 0.0
    order_cost: float = 0.0


@dataclass(frozen=True)
class KeptLevel:
    """``level`` is what the stock is filled up to; ``monthly_use`` what is expected in a month, None where not even one
    whole month is known."""

    level: int
    monthly_use: float | None


def kept_levels(
    histories: Sequence[MonthlyDemand], terms: Sequence[BuyingTerms], targets: Sequence[float]
) -> list[KeptLevel]:
    """The levels of items of one site, by their whole months of needs, all as of the same day. Raises `ValueError` for
    a target outside 0 to 1."""
    if not histories:
        return []
    expected = forecast_each([[float(amount) for amount in one.amounts] for one in histories])
    lots = np.array([_usual(*one) for one in zip(expected, terms, strict=True)], np.int64)
    months = np.array([one.lead_time_days + REVIEW_DAYS for one in terms]) / DAYS_OF_MONTH
    spread = np.array([one.lead_time_sd_days for one in terms]) / DAYS_OF_MONTH
    figures = np.array([[one.mean, one.variance, one.variance_of_mean] for one in expected]).T
    mean, variance = period_moments((figures[0], figures[1], figures[2]), months=months, spread_months=spread)
    points = np.ceil(mean + 3 * np.sqrt(variance)).astype(np.int64)
    few = np.flatnonzero(mean + lots <= MANY)
    points[few] = reorder_levels(mean[few], variance[few], target=np.array(targets)[few], quantity=lots[few])[0]
    return [
        KeptLevel(int(point + lot), one.mean if one.months else None)
        for point, lot, one in zip(points, lots, expected, strict=True)
    ]


def _usual(expected: Forecast, terms: BuyingTerms) -> int:
    return order_quantity(
        order_cost=terms.order_cost,
        yearly_demand=expected.mean * 12,
        yearly_holding_cost=terms.price * HOLDING_RATE,
        minimum=max(1, math.ceil(terms.minimum)),
        multiple=max(1, math.ceil(terms.multiple)),
    ).quantity
