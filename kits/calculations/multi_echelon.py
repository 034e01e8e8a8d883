"""A central store and its sites: how much to keep where.

Sites keep a base stock, order one for one from the central store, and wait where it has none. Three models of the wait:
METRIC (Sherbrooke 1968, Operations Research 16:122-141), VARI-METRIC (Graves 1985, Management Science 31:1247-1256;
Sherbrooke, Optimal Inventory Modeling of Systems, 2nd ed., 2004: details value from memory), and the exact split of the
central store's backorders for constant transit times, first come first served (Graves, MIT working paper 1299-82).

Left out: moves between sites, order sizes above one, expiry, demand that varies more than Poisson.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import special
from scipy.optimize import isotonic_regression

from kits.calculations.count_probabilities import pmf_rows

Model = Literal["metric", "vari-metric", "exact"]
Floats = np.ndarray

NO_GAIN = 1e-12
BLOCK = 2_000_000


@dataclass(frozen=True)
class Network:
    """Items at one central store and its sites. Rates are units a day, times days.

    ``rates`` (items, sites); ``depot_days`` (items,): the supplier's lead time; ``transit_days`` (sites,): from the
    central store, or for a site outside ``supplied`` (sites,) its own lead time; ``stocked`` (sites,): whether it may
    keep stock of its own. Raises `ValueError` for figures below zero or shapes that do not fit.
    """

    rates: Floats
    depot_days: Floats
    transit_days: Floats
    supplied: Floats
    stocked: Floats

    def __post_init__(self) -> None:
        items, sites = self.rates.shape
        if self.depot_days.shape != (items,) or any(
            one.shape != (sites,) for one in (self.transit_days, self.supplied, self.stocked)
        ):
            raise ValueError("rates are by item and site, lead times by item, transit days by site")
        if not all(np.isfinite(one).all() and (one >= 0).all() for one in (self.rates, self.depot_days)):
            raise ValueError("rates and lead times are numbers from zero on")
        if not (np.isfinite(self.transit_days).all() and (self.transit_days >= 0).all()):
            raise ValueError("transit days are numbers from zero on")

    @property
    def depot_mean(self) -> Floats:
        """Mean units on their way to the central store (items,)."""
        return np.asarray((self.rates * self.supplied).sum(1) * self.depot_days)

    @property
    def shares(self) -> Floats:
        """Each site's share of the demand on the central store (items, sites); 0 where there is none."""
        asked = self.rates * self.supplied
        total = asked.sum(1, keepdims=True)
        return np.divide(asked, total, out=np.zeros_like(asked), where=total > 0)

    def some(self, places: slice | Floats) -> "Network":
        """The same with some of the items."""
        return Network(self.rates[places], self.depot_days[places], self.transit_days, self.supplied, self.stocked)


def network(
    rates: object, depot_days: object, transit_days: object, *, supplied: object = True, stocked: object = True
) -> Network:
    """A `Network` from anything like arrays; one item may be given by its sites' rates alone."""
    by_item = np.atleast_2d(np.asarray(rates, dtype=np.float64))
    items, sites = by_item.shape

    def spread(value: object, count: int, kind: type) -> Floats:
        return np.broadcast_to(np.asarray(value, dtype=kind), (count,))

    return Network(
        by_item,
        spread(depot_days, items, float),
        spread(transit_days, sites, float),
        spread(supplied, sites, bool),
        spread(stocked, sites, bool),
    )


def backorders(mean: Floats, variance: Floats, highest: int) -> Floats:
    """``B(x) = E[max(D - x, 0)]`` for x from 0 to ``highest``, on a last axis: ``B(x+1) = B(x) - P(D > x)``."""
    found = np.empty((*mean.shape, highest + 1))
    found[..., 0], above = mean, np.ones_like(mean)
    for level, chance in enumerate(pmf_rows(mean, variance, highest - 1)):
        above = above - chance
        np.maximum(found[..., level] - above, 0.0, out=found[..., level + 1])
    return found


def depot_backorders(mean: Floats, highest: int) -> tuple[Floats, Floats]:
    """(mean, variance) of the central store's backorders by level, on a last axis; demand on its way is Poisson.

    The second moment falls by ``2 B(x) - P(D > x)`` with each unit, since (y - 1)^2 = y^2 - 2y + 1.
    """
    first = np.empty((*mean.shape, highest + 1))
    second = np.empty_like(first)
    first[..., 0], second[..., 0], above = mean, mean + mean**2, np.ones_like(mean)
    for level, chance in enumerate(pmf_rows(mean, mean, highest - 1)):
        above = above - chance
        np.maximum(second[..., level] - 2 * first[..., level] + above, 0.0, out=second[..., level + 1])
        np.maximum(first[..., level] - above, 0.0, out=first[..., level + 1])
    return first, np.maximum(second - first**2, 0.0)


def site_backorders(items: Network, *, depot_levels: int, site_levels: int, model: Model) -> Floats:
    """Expected backorders (items, depot level, site, site level), levels from 0 to the highest given, both included."""
    if model == "exact":
        return np.stack([_exact(items, place, depot_levels, site_levels) for place in range(len(items.rates))])
    waiting, spread = depot_backorders(items.depot_mean, depot_levels)
    shares = items.shares[:, None, :]
    base = (items.rates * items.transit_days)[:, None, :]
    mean = base + shares * waiting[:, :, None]
    variance = mean
    if model == "vari-metric":
        variance = mean + shares**2 * (spread - waiting)[:, :, None]
    found = backorders(mean, np.maximum(variance, mean), site_levels)
    return _without_stock(items, found)


def _without_stock(items: Network, found: Floats) -> Floats:
    found[..., ~items.stocked, :] = found[..., ~items.stocked, :1]
    return found


def pipelines(items: Network, place: int, depot_levels: int) -> list[Floats]:
    """By site the exact chances (depot level, units on their way to the site), for one item.

    Each of the central store's backorders is the site's with the chance of its share, apart from what is under way
    from the central store: one convolution.
    """
    mean = float(items.depot_mean[place])
    most = int(mean + 12 * np.sqrt(mean) + 20)
    ahead = np.array([float(one) for one in pmf_rows(np.array(mean), np.array(mean), depot_levels + most)])
    owed = np.zeros((depot_levels + 1, most + 1))
    for level in range(depot_levels + 1):
        owed[level] = ahead[level : level + most + 1]
        owed[level, 0] = ahead[: level + 1].sum()
    counts = np.arange(most + 1)
    found = []
    for site, share in enumerate(items.shares[place]):
        split = special.comb(counts[:, None], counts) * _power(share, counts) * _power(
            1 - share, np.maximum(counts[:, None] - counts, 0)
        )  # fmt: skip
        own = float(items.rates[place, site] * items.transit_days[site])
        length = int(own + 12 * np.sqrt(own) + 20)
        moving = np.array([float(one) for one in pmf_rows(np.array(own), np.array(own), length)])
        thinned = owed @ split
        found.append(np.stack([np.convolve(row, moving) for row in thinned]))
    return found


def _power(base: float, exponents: Floats) -> Floats:
    return np.power(np.float64(base), exponents)


def _exact(items: Network, place: int, depot_levels: int, site_levels: int) -> Floats:
    waiting, _ = depot_backorders(items.depot_mean[place], depot_levels)
    means = items.rates[place] * items.transit_days + items.shares[place] * waiting[:, None]
    found = np.empty((depot_levels + 1, len(means[0]), site_levels + 1))
    for site, chances in enumerate(pipelines(items, place, depot_levels)):
        found[:, site, 0] = means[:, site]
        above = 1 - np.cumsum(chances, axis=1)
        for level in range(site_levels):
            short = above[:, level] if level < above.shape[1] else 0.0
            found[:, site, level + 1] = np.maximum(found[:, site, level] - short, 0.0)
    return _without_stock(items, found)


def fill_rates(items: Network, place: int, depot_level: int, levels: Floats) -> Floats:
    """Share of needs met at once, by site, for one item: the chance that fewer than the level are on their way."""
    return np.array(
        [float(chances[depot_level, :level].sum()) for chances, level in
         zip(pipelines(items, place, depot_level), levels, strict=True)]
    )  # fmt: skip


@dataclass(frozen=True)
class Plans:
    """The best plan of one item for each total of units: expected backorders, and the central store's level in it.

    ``corners``: totals on the lower convex hull. The best plans are neither nested nor convex in the total.
    """

    backorders: Floats
    depot_levels: Floats
    corners: Floats


def best_plans(tables: Floats) -> list[Plans]:
    """`Plans` of each item from `site_backorders`.

    For one level of the central store, units go one by one to the site with the largest drop: expected backorders are
    convex in a site's stock, so that is best. Then the best level of the central store for each total.
    """
    items, levels = tables.shape[:2]
    drops = (tables[..., :-1] - tables[..., 1:]).reshape(items, levels, -1)
    drops = -np.sort(-drops, axis=2)
    units = min(drops.shape[2], max(int((drops > NO_GAIN).sum(2).max(initial=0)), 1))
    best = np.full((items, units + levels), np.inf)
    chosen = np.zeros((items, units + levels), dtype=np.int64)
    for level in range(levels):
        path = np.empty((items, units + 1))
        path[:, 0] = tables[:, level, :, 0].sum(1)
        path[:, 1:] = path[:, :1] - np.cumsum(drops[:, level, :units], axis=1)
        part = slice(level, level + units + 1)
        better = path < best[:, part] - NO_GAIN
        best[:, part] = np.where(better, path, best[:, part])
        chosen[:, part] = np.where(better, level, chosen[:, part])
    return [Plans(*_useful(best[place], chosen[place])) for place in range(items)]


def _useful(best: Floats, chosen: Floats) -> tuple[Floats, Floats, Floats]:
    best = np.maximum(best, 0.0)
    end = int(np.argmax(best <= best.min() + 1e-9)) + 1
    best, chosen = best[:end], chosen[:end]
    if end == 1:
        return best, chosen, np.array([0])
    # Slopes of the greatest convex function below are the isotonic regression of the steps.
    return best, chosen, np.asarray(isotonic_regression(np.diff(best)).blocks)


def levels_of(table: Floats, depot_level: int, total: int) -> Floats:
    """Each site's level in the best plan of one item (depot level, site, site level), given the central store's."""
    drops = table[depot_level, :, :-1] - table[depot_level, :, 1:]
    order = np.argsort(-drops, axis=None, kind="stable")[: total - depot_level]
    order = order[drops.ravel()[order] > NO_GAIN]
    return np.bincount(order // drops.shape[1], minlength=len(drops))


def plans_of(items: Network, *, depot_levels: int, site_levels: int, model: Model = "vari-metric") -> list[Plans]:
    """`Plans` of many items, in blocks that keep the memory small."""
    size = max(1, BLOCK // ((depot_levels + 1) * items.rates.shape[1] * (site_levels + 1)))
    found: list[Plans] = []
    for start in range(0, len(items.rates), size):
        part = items.some(slice(start, start + size))
        tables = site_backorders(part, depot_levels=depot_levels, site_levels=site_levels, model=model)
        found += best_plans(tables)
    return found
