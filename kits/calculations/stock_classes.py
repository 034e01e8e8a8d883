"""Which items deserve which service, and what stock buys the most of it.

A class by value used in a year says what ties up money, not what a shortage costs. Ranking: Teunter, Babai, Syntetos
2010, Production and Operations Management 19:343-352. Stock by marginal value: van Houtum, Kranenburg, Spare Parts
Inventory Control under System Oriented Constraints, 2015, ch. 2.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_arrays import Floats
from kits.calculations.reorder_arrays import reorder_levels
from kits.calculations.reorder_point import HIGHEST, LeadTimeDemand


@dataclass(frozen=True)
class StockPlan:
    """Stock of each item, what it is worth, and the share of all needs met from the shelf."""

    levels: NDArray[np.int64]
    value: float
    fill_rate: float


def service_criterion(
    *, shortage_cost: Floats, yearly_demand: Floats, yearly_holding_cost: Floats, quantity: Floats
) -> Floats:
    """``b D / (h Q)`` of each item: the higher, the more service it deserves. Raises `ValueError` where a holding cost
    or an order quantity is not above 0."""
    if (yearly_holding_cost <= 0).any() or (quantity <= 0).any():
        raise ValueError("holding costs and quantities are above 0")
    return shortage_cost * yearly_demand / (yearly_holding_cost * quantity)


def ranked(criterion: Floats) -> list[int]:
    """Places by falling criterion; of equal ones the first stays first."""
    return np.argsort(-criterion, kind="stable").tolist()


def critical_ratio(*, shortage: float, holding: float) -> float | None:
    """``p / (p + h)``: the chance of no shortage at which one more costs as much as it saves (the newsvendor's ratio:
    Snyder, Shen, 2nd ed., ch. 4, value from memory). None where a shortage costs less than holding: keep none. Raises
    `ValueError` for costs that are not above 0."""
    if shortage <= 0 or holding <= 0:
        raise ValueError("costs are above 0")
    return None if shortage < holding else shortage / (shortage + holding)


def flat_stock(means: Floats, costs: Floats, *, target: float) -> StockPlan:
    """The least stock of each item with which it reaches one target by itself; Poisson demand of a lead time. Raises
    `ValueError` for a target outside 0 to 1."""
    levels = reorder_levels(means, means, target=target)[0] + 1
    return _plan(levels, means, costs)


def best_stock(means: Floats, costs: Floats, *, target: float) -> StockPlan:
    """Stock that grows by the piece which saves the most expected waiting for its money, until all needs together
    reach the target.

    One more piece on S saves ``1 - P(D <= S)`` pieces of expected waiting, less with each: a greedy choice is then the
    best for what it costs. Raises `ValueError` for a target outside 0 to 1, costs not above 0, or no demand.
    """
    if not 0 < target < 1:
        raise ValueError("a target lies between 0 and 1")
    if (costs <= 0).any() or means.sum() <= 0:
        raise ValueError("costs are above 0 and something is needed")
    levels = np.zeros(len(means), np.int64)
    # P(D <= S - 1) and what the next piece saves.
    served, saves = np.zeros(len(means)), np.array([1 - _at_most(mean, 0) for mean in means])
    while float(served @ means) < target * float(means.sum()):
        place = int(np.argmax(saves / costs))
        levels[place] += 1
        if levels[place] > HIGHEST:
            raise ValueError("no stock that could be kept reaches the target")
        served[place] = _at_most(means[place], int(levels[place]) - 1)
        saves[place] = 1 - _at_most(means[place], int(levels[place]))
    return _plan(levels, means, costs)


def _at_most(mean: float, count: int) -> float:
    if mean <= 0:
        return 1.0
    return 0.0 if count < 0 else float(LeadTimeDemand(mean, mean).at_most(np.array([count]))[0])


def _plan(levels: NDArray[np.int64], means: Floats, costs: Floats) -> StockPlan:
    fills: Sequence[float] = [_at_most(mean, int(level) - 1) for mean, level in zip(means, levels, strict=True)]
    return StockPlan(levels, float(levels @ costs), float(np.array(fills) @ means / means.sum()))
