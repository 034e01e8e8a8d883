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


@dataclass(frozen=True)
class Steps:
    """Steps along the hulls of many items, the best for its money first; all (steps,): the item, the total it reaches,
    what it costs, and the item's expected backorders before and after."""

    items: np.ndarray
    totals: np.ndarray
    costs: np.ndarray
    before: np.ndarray
    after: np.ndarray

    @property
    def drops(self) -> np.ndarray:
        """Backorders that each step takes away (steps,)."""
        return np.asarray(self.before - self.after)

    def __len__(self) -> int:
        return len(self.items)

    def taken(self, count: int, items: int) -> np.ndarray:
        """Units of each item (items,) after the first ``count`` steps."""
        found = np.zeros(items, dtype=int)
        np.maximum.at(found, self.items[:count], self.totals[:count])
        return found


def steps(plans: Sequence[Plans], prices: Sequence[float]) -> Steps:
    """`Steps` of items in the order of ``plans``; of equal worth the item that comes first. Raises `ValueError` for a
    price that is not above zero."""
    if min(prices, default=1.0) <= 0:
        raise ValueError("a price is above zero")
    if not plans:
        none = np.zeros(0)
        return Steps(none.astype(int), none.astype(int), none, none, none)
    counts = [len(one.corners) - 1 for one in plans]
    items = np.repeat(np.arange(len(plans)), counts)
    totals = np.concatenate([one.corners[1:] for one in plans]).astype(int)
    sizes = np.concatenate([np.diff(one.corners) for one in plans])
    before = np.concatenate([one.backorders[one.corners[:-1]] for one in plans])
    after = np.concatenate([one.backorders[one.corners[1:]] for one in plans])
    costs = np.asarray(prices, dtype=float)[items] * sizes
    order = np.lexsort((totals, items, (after - before) / costs))
    return Steps(items[order], totals[order], costs[order], before[order], after[order])


def _at_first(plans: Sequence[Plans]) -> float:
    return float(sum(one.backorders[0] for one in plans))


def curve(plans: Sequence[Plans], path: Steps) -> np.ndarray:
    """Cost and expected backorders (2, steps + 1) after each step, from nothing on; each is the least for its own
    cost."""
    owed = _at_first(plans) - np.concatenate([[0.0], np.cumsum(path.drops)])
    return np.stack([np.concatenate([[0.0], np.cumsum(path.costs)]), owed])


def within_budget(plans: Sequence[Plans], prices: Sequence[float], budget: float, path: Steps) -> Chosen:
    """Steps while the money lasts; what is left then goes to whatever it still buys, the largest drop for its money
    first. More money never leaves more backorders."""
    costs = np.cumsum(path.costs)
    count = int(np.searchsorted(costs, budget, side="right"))
    spent = float(costs[count - 1]) if count else 0.0
    owed = _at_first(plans) - float(path.drops[:count].sum())
    least = None
    if count < len(path):
        least = owed - float(path.drops[count]) * (budget - spent) / float(path.costs[count])
    totals = path.taken(count, len(plans)).tolist()
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


def availability_curve(plans: Sequence[Plans], path: Steps, *, pumps: int) -> np.ndarray:
    """Cost, expected backorders and `availability` (3, steps + 1) after each step, from nothing on. Raises
    `ValueError` without pumps."""
    first = _shares(np.array([one.backorders[0] for one in plans]), pumps)
    before, after = _shares(path.before, pumps), _shares(path.after, pumps)
    # Logarithms add up; factors of nought are counted apart.
    none = np.count_nonzero(first == 0) + np.concatenate([[0], np.cumsum((after == 0) * 1 - (before == 0))])
    logs = _logarithms(first).sum() + np.concatenate([[0.0], np.cumsum(_logarithms(after) - _logarithms(before))])
    return np.vstack([curve(plans, path), np.where(none > 0, 0.0, np.exp(logs))])


def _logarithms(shares: np.ndarray) -> np.ndarray:
    return np.log(np.where(shares > 0, shares, 1.0))


def to_availability(plans: Sequence[Plans], path: Steps, *, pumps: int, target: float) -> Chosen | None:
    """The first plan along the steps whose `availability` reaches the target; None where none does. A plan between two
    steps may be cheaper: this one is near the best, not surely the best."""
    costs, owed, reached = availability_curve(plans, path, pumps=pumps)
    if not (reached >= target).any():
        return None
    count = int((reached >= target).argmax())
    totals = path.taken(count, len(plans))
    return Chosen(tuple(totals.tolist()), float(costs[count]), float(owed[count]), float(owed[count]))


def availability(backorders: Sequence[float], pumps: int) -> float:
    """Share of pumps that wait for nothing, each holding one of every item: ``prod(1 - EBO / N)`` (Sherbrooke 2004, ch.
    2; value from memory). Raises `ValueError` without pumps."""
    return float(np.prod(_shares(np.asarray(backorders, dtype=float), pumps)))


def _shares(backorders: np.ndarray, pumps: int) -> np.ndarray:
    if pumps < 1:
        raise ValueError("availability is of at least one pump")
    return np.maximum(1.0 - backorders / pumps, 0.0)
