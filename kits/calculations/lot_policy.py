"""What ordering a fixed quantity at a reorder point costs and serves, under Poisson or wider demand.

The position is evenly spread over r + 1 .. r + Q; what is on the shelf is the position less the demand of a lead time.
Measures: Axsaeter, Inventory Control, 3rd ed., ch. 5; Snyder, Shen, Fundamentals of Supply Chain Theory, 2nd ed., ch. 5
(both value from memory). Base stock S is r = S - 1 with Q = 1.
"""

from dataclasses import dataclass

import numpy as np

from kits.calculations.reorder_point import HIGHEST, LeadTimeDemand, expected_shortage, fill_rate


@dataclass(frozen=True)
class Measures:
    """``fill_rate``: share of needs met from the shelf. ``cycle_service``: chance that the demand of a lead time is
    within the reorder point. ``owed`` and ``on_hand``: pieces on average."""

    fill_rate: float
    cycle_service: float
    owed: float
    on_hand: float


def measures_of_lots(demand: LeadTimeDemand, *, level: int, quantity: int) -> Measures:
    """What ordering ``quantity`` at ``level`` gives; ``demand`` is of a lead time. Raises `ValueError` for a quantity
    below 1 or where nothing is needed."""
    if quantity < 1:
        raise ValueError("an order holds at least one")
    if demand.distribution == "none":
        raise ValueError("no demand, no measure of service")
    positions = range(level + 1, level + quantity + 1)
    owed = sum(expected_shortage(demand, one) for one in positions) / quantity
    return Measures(
        fill_rate(demand, level, quantity),
        cycle_service(demand, level),
        owed,
        level + (quantity + 1) / 2 - demand.mean + owed,
    )


def cycle_service(demand: LeadTimeDemand, level: int) -> float:
    """Chance that the demand of a lead time is at most ``level``."""
    return 0.0 if level < 0 else float(demand.at_most(np.array([level]))[0])


def cost_of_position(demand: LeadTimeDemand, position: int, *, holding: float, shortage: float) -> float:
    """What a position costs a period once its lead time is over: ``h (y - mean) + (h + p) B(y)``."""
    return holding * (position - demand.mean) + (holding + shortage) * expected_shortage(demand, position)


def cost_of_lots(
    demand: LeadTimeDemand, *, level: int, quantity: int, rate: float, order_cost: float, holding: float,
    shortage: float,
) -> float:  # fmt: skip
    """``(K d + sum of the cost of r + 1 .. r + Q) / Q`` a period, ``rate`` being the demand of a period."""
    waiting = sum(
        cost_of_position(demand, one, holding=holding, shortage=shortage)
        for one in range(level + 1, level + quantity + 1)
    )
    return (order_cost * rate + waiting) / quantity


def cheapest_lots(
    demand: LeadTimeDemand, *, rate: float, order_cost: float, holding: float, shortage: float
) -> tuple[int, int, float]:
    """Reorder point, quantity and cost a period of the cheapest policy.

    The positions taken in one after the other, always the cheaper neighbour, until the next costs more than the
    average so far (Federgruen, Zheng 1992, Operations Research 40:808-813; value from memory). Raises `ValueError` for
    costs that are not above 0.
    """
    if min(rate, order_cost, holding, shortage) <= 0:
        raise ValueError("rate and costs are above 0")

    def cost(position: int) -> float:
        return cost_of_position(demand, position, holding=holding, shortage=shortage)

    low = _cheapest_position(demand, holding=holding, shortage=shortage)
    high, total = low, order_cost * rate + cost(low)
    while True:
        average = total / (high - low + 1)
        below, above = cost(low - 1), cost(high + 1)
        if min(below, above) >= average:
            return low - 1, high - low + 1, average
        total += min(below, above)
        low, high = (low - 1, high) if below <= above else (low, high + 1)


def _cheapest_position(demand: LeadTimeDemand, *, holding: float, shortage: float) -> int:
    """The lowest position with P(D <= y) of at least p / (p + h)."""
    position = 0
    while cycle_service(demand, position) < shortage / (shortage + holding):
        position += 1
        if position > HIGHEST:
            raise ValueError("no stock that could be kept reaches the critical ratio")
    return position
