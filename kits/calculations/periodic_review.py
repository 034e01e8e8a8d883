"""Stock looked at once a period: what topping up to a level below a trigger costs and serves, worked out exactly.

After a review the position is S - j with chance m(j) / M(S - s), where m counts how often the demand since the last
order comes through j (renewal): Zheng, Federgruen 1991, Operations Research 39:654-665. Order where the position is at
or below s. In a period: receipts, what is owed is served, demand, review; what is ordered at a review can be used after
``lead_time`` further periods, so the end of a period sees the demand of lead_time + 1 periods.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kits.calculations.counted_demand import Chances, counted
from kits.calculations.reorder_point import LeadTimeDemand, expected_shortage


@dataclass(frozen=True)
class ReviewedStock:
    """Of a period: chance of an order, pieces owed and on hand at its end, and share of needs met at once;
    ``undershoot`` is how far below s the position is, on average, when an order is placed."""

    orders: float
    owed: float
    fill_rate: float
    on_hand: float
    undershoot: float


def fill_rate_of_reviews(before: LeadTimeDemand, until: LeadTimeDemand, level: int) -> float:
    """Share of needs met at once where stock is topped up to ``level`` at every review: ``before`` is the demand of the
    lead time, ``until`` of lead time and review period. ``1 - (B_until - B_before) / (mean_until - mean_before)``
    (Axsaeter, Inventory Control, 3rd ed., ch. 5; value from memory). Raises `ValueError` where nothing is needed."""
    asked = until.mean - before.mean
    if asked <= 0:
        raise ValueError("no demand, no fill rate")
    return 1 - (expected_shortage(until, level) - expected_shortage(before, level)) / asked


def renewals(chances: Chances, count: int) -> NDArray[np.float64]:
    """``m(0) .. m(count - 1)``: how often, on average, the sum of periods' demand is j at the end of one, the start
    included. ``m(0) = 1 / (1 - p0)``, ``m(j) = m(0) sum of p(l) m(j - l)``. Raises `ValueError` where no period ever
    has demand."""
    if chances[0] >= 1:
        raise ValueError("without demand nothing is ordered")
    found = np.zeros(count)
    found[0] = 1 / (1 - chances[0])
    for place in range(1, count):
        reach = min(place, len(chances) - 1)
        found[place] = found[0] * float(chances[1 : reach + 1] @ found[place - np.arange(1, reach + 1)])
    return found


def reviewed_stock(chances: Chances, *, low: int, high: int, lead_time: int) -> ReviewedStock:
    """What ordering up to ``high`` at or below ``low`` does; ``chances`` are P(0), P(1) .. of a period's demand.

    Raises `ValueError` for levels the wrong way round, a lead time below 0, or no demand.
    """
    if high <= low:
        raise ValueError("the upper level is above the lower")
    if lead_time < 0:
        raise ValueError("a lead time is not below 0")
    places = renewals(chances, high - low)
    cycle = float(places.sum())
    period = counted(chances)
    before, until = counted(_sum_of(chances, lead_time)), counted(_sum_of(chances, lead_time + 1))
    positions = [(high - j, float(chance) / cycle) for j, chance in enumerate(places)]
    owed = sum(chance * expected_shortage(until, one) for one, chance in positions)
    owed_before = sum(chance * _shortage(before, one) for one, chance in positions)
    left = sum(chance * one for one, chance in positions) - until.mean + owed
    return ReviewedStock(
        orders=1 / cycle,
        owed=owed,
        fill_rate=1 - (owed - owed_before) / period.mean,
        on_hand=left,
        undershoot=period.mean * cycle - (high - low),
    )


def _shortage(demand: LeadTimeDemand, level: int) -> float:
    return max(-level, 0) if demand.distribution == "none" else expected_shortage(demand, level)


def _sum_of(chances: Chances, periods: int) -> Chances:
    found: Chances = np.ones(1)
    for _ in range(periods):
        found = np.convolve(found, chances)
    return found


def undershoot_in_the_long_run(chances: Chances) -> float:
    """How far below s a position is seen where S - s is many periods' demand: ``E[D^2] / (2 E[D]) - 1/2``. Raises
    `ValueError` where nothing is needed."""
    demand = counted(chances)
    if demand.mean <= 0:
        raise ValueError("without demand nothing is ordered")
    return (demand.variance + demand.mean**2) / (2 * demand.mean) - 0.5


def cost_of_levels(chances: Chances, cost: Callable[[int], float], *, low: int, high: int, order_cost: float) -> float:
    """``(K + sum of m(j) G(S - j)) / M(S - s)`` a period, ``cost`` being G. Raises `ValueError` as `reviewed_stock`."""
    if high <= low:
        raise ValueError("the upper level is above the lower")
    places = renewals(chances, high - low)
    return (order_cost + sum(float(one) * cost(high - j) for j, one in enumerate(places))) / float(places.sum())


def cheapest_levels(
    chances: Chances, until: LeadTimeDemand, *, order_cost: float, holding: float, shortage: float
) -> tuple[int, int, float]:
    """Lower level, upper level and cost a period of the cheapest policy (Zheng, Federgruen 1991).

    ``chances`` are of a period's demand, ``until`` of lead time and a period. The lower level moves down
    from the cheapest position until it costs more than the policy; then upper levels are tried as long as they could
    pay. Raises `ValueError` for costs that are not above 0 or where nothing is needed.
    """
    if min(order_cost, holding, shortage) <= 0:
        raise ValueError("costs are above 0")

    def cost(position: int) -> float:
        return holding * (position - until.mean) + (holding + shortage) * expected_shortage(until, position)

    def policy(low: int, high: int) -> float:
        return cost_of_levels(chances, cost, low=low, high=high, order_cost=order_cost)

    start = _bottom(cost)
    low, best = start - 1, start
    while policy(low, best) > cost(low):
        low -= 1
    cheapest, high = policy(low, best), best + 1
    while cost(high) <= cheapest:
        if policy(low, high) < cheapest:
            best = high
            while policy(low, best) <= cost(low + 1):
                low += 1
            cheapest = policy(low, best)
        high += 1
    return low, best, cheapest


def _bottom(cost: Callable[[int], float]) -> int:
    """Where a convex cost is lowest, from 0 on."""
    place = 0
    while cost(place + 1) < cost(place):
        place += 1
    return place
