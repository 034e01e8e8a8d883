"""What stock of many items one budget buys, by their best plans at every total (`multi_echelon`).

Steps between corners of each item's lower convex hull are taken by the drop of expected backorders for each unit of
money (van Houtum, Kranenburg, Spare Parts Inventory Control under System Oriented Constraints, 2015, ch. 2).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kits.calculations.multi_echelon import Plans


@dataclass(frozen=True)
class Chosen:
    """Units of each item, their cost, and expected backorders in all. ``least``: no plan at this budget has fewer."""

    totals: tuple[int, ...]
    cost: float
    backorders: float
    least: float


def steps(plans: Sequence[Plans], prices: Sequence[float]) -> list[tuple[int, int, float, float]]:
    """(item, total reached, cost, drop) along the hulls, the best for its money first. Raises `ValueError` for a price
    that is not above zero."""
    if min(prices, default=1.0) <= 0:
        raise ValueError("a price is above zero")
    found = []
    for item, (one, price) in enumerate(zip(plans, prices, strict=True)):
        for before, after in zip(one.corners[:-1], one.corners[1:], strict=True):
            drop = float(one.backorders[before] - one.backorders[after])
            found.append((item, int(after), float(price * (after - before)), drop))
    return sorted(found, key=lambda one: (-one[3] / one[2], one[0], one[1]))


def curve(plans: Sequence[Plans], prices: Sequence[float]) -> list[tuple[float, float]]:
    """(cost, expected backorders) after each step, from nothing on; each is the least for its own cost."""
    path = [(0.0, float(sum(one.backorders[0] for one in plans)))]
    for _, _, cost, drop in steps(plans, prices):
        path.append((path[-1][0] + cost, path[-1][1] - drop))
    return path


def within_budget(plans: Sequence[Plans], prices: Sequence[float], budget: float) -> Chosen:
    """Steps while the money lasts; what is left then goes to whatever it still buys, the largest drop for its money
    first."""
    totals, spent, owed, least = [0] * len(plans), 0.0, float(sum(one.backorders[0] for one in plans)), None
    for item, total, cost, drop in steps(plans, prices):
        if spent + cost > budget:
            least = owed - drop * (budget - spent) / cost
            break
        totals[item], spent, owed = total, spent + cost, owed - drop
    while (better := _best_filling(plans, prices, totals, budget - spent)) is not None:
        item, total = better
        spent += prices[item] * (total - totals[item])
        owed -= float(plans[item].backorders[totals[item]] - plans[item].backorders[total])
        totals[item] = total
    return Chosen(tuple(totals), spent, owed, owed if least is None else least)


def _best_filling(
    plans: Sequence[Plans], prices: Sequence[float], totals: Sequence[int], left: float
) -> tuple[int, int] | None:
    best, rate = None, 1e-12
    for item, (one, price) in enumerate(zip(plans, prices, strict=True)):
        for total in range(totals[item] + 1, min(len(one.backorders), totals[item] + 1 + int(left / price))):
            gained = float(one.backorders[totals[item]] - one.backorders[total]) / (price * (total - totals[item]))
            if gained > rate:
                best, rate = (item, total), gained
    return best


def to_availability(plans: Sequence[Plans], prices: Sequence[float], *, pumps: int, target: float) -> Chosen | None:
    """The first plan along the steps whose `availability` reaches the target; None where none does."""
    totals, spent, owed = [0] * len(plans), 0.0, [float(one.backorders[0]) for one in plans]
    for item, total, cost, drop in [(-1, 0, 0.0, 0.0), *steps(plans, prices)]:
        if item >= 0:
            totals[item], spent = total, spent + cost
            owed[item] -= drop
        if availability(owed, pumps) >= target:
            return Chosen(tuple(totals), spent, sum(owed), sum(owed))
    return None


def availability(backorders: Sequence[float], pumps: int) -> float:
    """Share of pumps that wait for nothing, each holding one of every item: ``prod(1 - EBO / N)`` (Sherbrooke 2004, ch.
    2; value from memory). Raises `ValueError` without pumps."""
    if pumps < 1:
        raise ValueError("availability is of at least one pump")
    return float(np.prod(np.maximum(1.0 - np.asarray(backorders) / pumps, 0.0)))
