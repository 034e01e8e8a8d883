"""How much is ordered at once: the economic quantity, the supplier's rules, and what will be used before it ages.

The economic order quantity is Harris 1913 as in Snyder, Shen, Fundamentals of Supply Chain Theory, 2nd ed., ch. 3;
its two feasible neighbours are compared by cost, since a rounded root may miss the better one.
"""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class OrderQuantity:
    """``quantity`` to order at once; ``capped_by_shelf_life`` and ``minimum_exceeds_cap`` say what shaped it."""

    quantity: int
    economic: float
    capped_by_shelf_life: bool = False
    minimum_exceeds_cap: bool = False


def economic_order_quantity(*, order_cost: float, yearly_demand: float, yearly_holding_cost: float) -> float:
    """``sqrt(2 K d / h)``; 0 where one of them is 0."""
    if order_cost <= 0 or yearly_demand <= 0 or yearly_holding_cost <= 0:
        return 0.0
    return math.sqrt(2 * order_cost * yearly_demand / yearly_holding_cost)


def yearly_cost(quantity: float, *, order_cost: float, yearly_demand: float, yearly_holding_cost: float) -> float:
    """``K d / Q + h Q / 2``."""
    return order_cost * yearly_demand / quantity + yearly_holding_cost * quantity / 2


def round_up(quantity: float, *, minimum: int, multiple: int) -> int:
    """The least quantity the supplier takes that is not below ``quantity``."""
    wanted = max(quantity, minimum, 1)
    return math.ceil(wanted / multiple - 1e-9) * multiple


def order_quantity(
    *,
    order_cost: float,
    yearly_demand: float,
    yearly_holding_cost: float,
    minimum: int = 1,
    multiple: int = 1,
    shelf_life_cap: int | None = None,
) -> OrderQuantity:
    """The quantity of a usual order. Raises `ValueError` for a minimum or multiple below 1.

    ``shelf_life_cap`` is how many will be used before they age; where the supplier's minimum is above it, the minimum
    stands and is said to exceed the cap, for a person to decide.
    """
    if minimum < 1 or multiple < 1:
        raise ValueError("minimum and multiple are at least 1")
    root = economic_order_quantity(
        order_cost=order_cost, yearly_demand=yearly_demand, yearly_holding_cost=yearly_holding_cost
    )
    low = max(round_up(minimum, minimum=minimum, multiple=multiple), math.floor(root / multiple) * multiple)
    choices = sorted({low, round_up(root, minimum=minimum, multiple=multiple)})
    if root > 0:
        best = min(
            choices,
            key=lambda one: (
                yearly_cost(
                    one,
                    order_cost=order_cost,
                    yearly_demand=yearly_demand,
                    yearly_holding_cost=yearly_holding_cost,
                ),
                one,
            ),
        )
    else:
        best = choices[0]
    if shelf_life_cap is None or best <= shelf_life_cap:
        return OrderQuantity(best, root)
    least = round_up(minimum, minimum=minimum, multiple=multiple)
    capped = max(math.floor(shelf_life_cap / multiple) * multiple, least)
    return OrderQuantity(capped, root, capped_by_shelf_life=capped < best, minimum_exceeds_cap=least > shelf_life_cap)
