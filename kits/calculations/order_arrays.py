"""The usual order quantity of many items at once; the rule is that of `order_quantity`."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_arrays import Floats, Ints

Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class OrderQuantities:
    """By item, as `order_quantity.OrderQuantity`."""

    quantity: Ints
    economic: Floats
    capped_by_shelf_life: Flags
    minimum_exceeds_cap: Flags


def rounded_up(quantity: Any, *, minimum: Ints, multiple: Ints) -> Ints:
    """The least quantities the suppliers take that are not below ``quantity``."""
    wanted = np.maximum(np.maximum(quantity, minimum), 1)
    return (np.ceil(wanted / multiple - 1e-9) * multiple).astype(np.int64)


def order_quantities(
    *,
    order_cost: Floats,
    yearly_demand: Floats,
    yearly_holding_cost: Floats,
    minimum: Ints,
    multiple: Ints,
    shelf_life_cap: Floats,
) -> OrderQuantities:
    """Arrays of (items,); ``shelf_life_cap`` is infinite where nothing ages. Raises `ValueError` for a minimum or
    multiple below 1."""
    if (minimum < 1).any() or (multiple < 1).any():
        raise ValueError("minimum and multiple are at least 1")
    known = (order_cost > 0) & (yearly_demand > 0) & (yearly_holding_cost > 0)
    holding = np.where(known, yearly_holding_cost, 1.0)
    root = np.where(known, np.sqrt(2 * order_cost * np.where(known, yearly_demand, 0.0) / holding), 0.0)
    least = rounded_up(minimum, minimum=minimum, multiple=multiple)
    low = np.maximum(least, (np.floor(root / multiple) * multiple).astype(np.int64))
    high = rounded_up(root, minimum=minimum, multiple=multiple)
    cost_of_low = order_cost * yearly_demand / low + holding * low / 2
    cost_of_high = order_cost * yearly_demand / high + holding * high / 2
    smaller, larger = np.minimum(low, high), np.maximum(low, high)
    cheaper_is_high = np.where(high > low, cost_of_high < cost_of_low, cost_of_low < cost_of_high)
    best = np.where(known & cheaper_is_high, larger, smaller)
    over = best > shelf_life_cap
    cap = np.where(np.isfinite(shelf_life_cap), shelf_life_cap, 0.0)
    capped = np.maximum((np.floor(cap / multiple) * multiple).astype(np.int64), least)
    quantity = np.where(over, capped, best)
    return OrderQuantities(quantity, root, over & (capped < best), over & (least > shelf_life_cap))
