"""How much of each item to keep at a central store and its sites, for a budget or for an availability.

Expected backorders by `multi_echelon`, money by `network_budget`; here are the levels looked at, the plan that is
chosen with its levels by site, and the same figures for stock that is there already.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from kits.calculations.multi_echelon import BLOCK, Model, Network, Plans, levels_of, plans_of, site_backorders
from kits.calculations.network_budget import Chosen, availability_curve, steps, to_availability, within_budget

# Levels looked at end so many deviations above the mean; what is beyond is under a millionth of a unit of Poisson
# demand.
DEVIATIONS = 5.0
# Unit by unit is for slow movers; units on their way to the central store and to any site.
HIGHEST_MEAN = 200.0
HIGHEST_MEAN_EXACT = 60.0
# The curve that is shown ends where so much of the backorders is left, or at the plan if that goes further.
SHOWN = 0.001
# Prices have four decimals; in these units sums of money are whole, so a budget is never exceeded by rounding.
PARTS_OF_MONEY = 10_000


@dataclass(frozen=True)
class Stock:
    """Whole units: ``depot`` (items,), ``sites`` (items, sites), and expected ``backorders`` (items, sites)."""

    depot: np.ndarray
    sites: np.ndarray
    backorders: np.ndarray

    @property
    def totals(self) -> np.ndarray:
        """Units of each item everywhere (items,)."""
        return np.asarray(self.depot + self.sites.sum(1))


@dataclass(frozen=True)
class Point:
    """What a plan costs, the backorders to be expected, and of a fleet the share of pumps that wait for nothing."""

    cost: float
    backorders: float
    availability: float | None


@dataclass(frozen=True)
class Target:
    """``stock`` is the plan; ``least``: no plan that costs as much has fewer backorders. ``now``: what is there, judged
    in the same way. ``curve`` is thinned and ends where next to nothing is left; each of its points is the least for
    its own cost."""

    stock: Stock
    chosen: Chosen
    now: Stock
    curve: tuple[Point, ...]

    @property
    def least(self) -> float:
        """Expected backorders that no plan of this cost can be under."""
        return self.chosen.least


class TooFast(ValueError):
    """An item moves too fast to be planned unit by unit; ``item`` is its place."""

    def __init__(self, item: int, mean: float) -> None:
        super().__init__(f"{mean:.0f} units on their way at once are too many to be planned one by one")
        self.item = item
        self.mean = mean


class NotReached(ValueError):
    """No stock that was looked at reaches the availability; ``highest`` is what the largest reaches."""

    def __init__(self, highest: float) -> None:
        super().__init__(f"no more than {highest:.6f} is reached")
        self.highest = highest


def level_limits(items: Network, *, model: Model) -> tuple[np.ndarray, np.ndarray]:
    """Highest levels worth looking at, of the central store and of any site (items,), from the means on their way.

    A site's mean is the one with nothing at the central store. Raises `TooFast`.
    """
    depot = items.depot_mean
    longest = items.transit_days + np.where(items.supplied, items.depot_days[:, None], 0.0)
    site = np.where(items.stocked, items.rates * longest, 0.0).max(axis=1, initial=0.0)
    most = HIGHEST_MEAN_EXACT if model == "exact" else HIGHEST_MEAN
    for mean in (depot, site):
        if (mean > most).any():
            raise TooFast(int(mean.argmax()), float(mean.max()))
    return _above(depot), _above(site)


def _above(mean: np.ndarray) -> np.ndarray:
    return np.ceil(mean + DEVIATIONS * np.sqrt(mean) + 2).astype(int)


def _groups(items: Network, limits: tuple[np.ndarray, np.ndarray]) -> Iterator[tuple[np.ndarray, int, int]]:
    """Places of items whose levels end about equally high, with the limits of the group: one table holds them all."""
    places: dict[tuple[int, int], list[int]] = defaultdict(list)
    for place, (depot, site) in enumerate(zip(*limits, strict=True)):
        places[_step(int(depot)), _step(int(site))].append(place)
    for (depot, site), found in sorted(places.items()):
        yield np.array(found), depot, site


def _step(level: int) -> int:
    """Rounded up to two leading bits: 1, 2, 3, 4, 6, 8, 12 .."""
    unit = 1 << max(level.bit_length() - 2, 0)
    return -(-level // unit) * unit


def _blocks(
    items: Network, limits: tuple[np.ndarray, np.ndarray], model: Model
) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Places of items with their `site_backorders`, a few at a time."""
    for places, depot, site in _groups(items, limits):
        size = max(1, BLOCK // ((depot + 1) * items.rates.shape[1] * (site + 1)))
        for start in range(0, len(places), size):
            part = places[start : start + size]
            yield part, site_backorders(items.some(part), depot_levels=depot, site_levels=site, model=model)


def best_by_total(items: Network, *, model: Model) -> list[Plans]:
    """`Plans` of every item over all levels worth looking at. Raises `TooFast`."""
    found: dict[int, Plans] = {}
    for places, depot, site in _groups(items, level_limits(items, model=model)):
        plans = plans_of(items.some(places), depot_levels=depot, site_levels=site, model=model)
        found.update(zip(map(int, places), plans, strict=True))
    return [found[place] for place in range(len(items.rates))]


def target_stock(
    items: Network,
    prices: Sequence[int],
    *,
    now: tuple[np.ndarray, np.ndarray],
    budget: int | None = None,
    availability: float | None = None,
    pumps: int | None = None,
    model: Model = "vari-metric",
) -> Target:
    """The stock that a budget buys, or the first along the best steps that reaches the availability of a fleet.

    ``prices`` (items,) and ``budget`` are whole ten-thousandths of the currency, so that sums of them are exact;
    ``now``: units of the central store (items,) and of the sites (items, sites). Raises `ValueError` unless one of the
    two is asked for, `TooFast`, `NotReached`.
    """
    plans = best_by_total(items, model=model)
    money = [float(one) for one in prices]
    path = steps(plans, money)
    if budget is not None and availability is None:
        chosen = within_budget(plans, money, float(budget), path)
    elif availability is not None and budget is None and pumps is not None:
        reached = to_availability(plans, path, pumps=pumps, target=availability)
        if reached is None:
            raise NotReached(float(availability_curve(plans, path, pumps=pumps)[2, -1]))
        chosen = reached
    else:
        raise ValueError("either a budget, or an availability and the pumps that it is of")
    wanted, present = _stocks(items, plans, chosen.totals, now, model)
    points = availability_curve(plans, path, pumps=pumps or 1)
    enough = points[0, points[1] <= SHOWN * points[1, 0]]
    shown = max(chosen.cost, enough[0]) if len(enough) else points[0, -1]
    kept = thinned(points[:, points[0] <= shown])
    curve = [Point(cost / PARTS_OF_MONEY, owed, share if pumps else None) for cost, owed, share in kept.T.tolist()]
    return Target(wanted, chosen, present, tuple(curve))


def _stocks(
    items: Network, plans: Sequence[Plans], totals: Sequence[int], now: tuple[np.ndarray, np.ndarray], model: Model
) -> tuple[Stock, Stock]:
    """The chosen plan, and what is there now, with the backorders of both; levels above those looked at owe as little
    as the highest."""
    shape = items.rates.shape
    depot = np.zeros(shape[0], dtype=int)
    sites, owed, owed_now = np.zeros(shape, dtype=int), np.zeros(shape), np.zeros(shape)
    every = np.arange(shape[1])
    for places, tables in _blocks(items, level_limits(items, model=model), model):
        for place, table in zip(map(int, places), tables, strict=True):
            depot[place] = plans[place].depot_levels[totals[place]]
            sites[place] = levels_of(table, int(depot[place]), totals[place])
            owed[place] = table[depot[place], every, sites[place]]
            held = min(int(now[0][place]), len(table) - 1)
            owed_now[place] = table[held, every, np.minimum(now[1][place], table.shape[2] - 1)]
    return Stock(depot, sites, owed), Stock(*now, owed_now)


def thinned(points: np.ndarray, most: int = 40) -> np.ndarray:
    """At most so many of the points, (cost, backorders, ..) by column, the first and last among them: evenly over the
    fourth root of the backorders, so that the tail, where little is left to gain, keeps some."""
    count, owed = points.shape[1], points[1]
    if count <= most or owed[0] <= owed[-1]:
        return points[:, :most]
    share = 1.0 - (np.maximum(owed - owed[-1], 0.0) / (owed[0] - owed[-1])) ** 0.25
    _, first = np.unique(np.floor(share * (most - 2)).astype(int), return_index=True)
    return points[:, np.unique([*first, count - 1])]
