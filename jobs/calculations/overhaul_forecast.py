"""How many overhauls the pumps of a site will need of each kit, month by month.

A pump counts with its chance of coming up once within the time looked at; what would follow a first overhaul is left
out. A pump with a planned job is certain on that day, leaves the chances of the others, and from that day on only has
the small chance of a second life as short. Planned jobs are certain whatever they use; all other overhauls use a kit in
the share in which past ones did.

Where what is measured on a pump comes to its limit sooner than the life of its family lets expect, the chance of wear
counts: of the two chances until each day the larger one. Not both together, since the lives hold overhauls for wear
already (common practice, no source).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import csr_array
from scipy.special import gamma, gammaln

from jobs.calculations.life_families import FamilyFit
from jobs.calculations.overhaul_chances import chances_by_period, poisson_binomial, quantile, quantiles_of_draws
from jobs.calculations.running_lives import Counts, Floats

# Chances that differ by less are told as one.
LEAST_CHANCE = 0.005
# Items whose quantiles are worked out together: a matter of memory.
AT_ONCE = 50


@dataclass(frozen=True)
class SitePumps:
    """Pumps of a site [pumps].

    ``age`` in running hours since the last overhaul, NaN where nothing tells: then the chance of a pump of any age is
    taken. ``per_day`` hours a day from now on, 0 where it stands. ``from_day`` days from now until a planned job, 0
    without one; its age is then 0. ``family`` codes. ``worn`` [pumps x periods] the chance that wear comes to a limit
    until the end of each; None where nothing is measured.
    """

    family: Sequence[str]
    age: Floats
    per_day: Floats
    from_day: Floats
    worn: Floats | None = None


@dataclass(frozen=True)
class Uses:
    """Which kits an overhaul of which pump may use [uses]: number of the pump, number of the item, and the share of its
    overhauls that use it, sorted by item."""

    pump: Counts
    item: Counts
    share: Floats


@dataclass(frozen=True)
class Period:
    """Figures of one item and period; planned jobs are in ``q95`` and ``q95_until`` only.

    ``none``: the chance that no overhaul that nobody planned needs one. ``q95``: what 19 of 20 such periods need at
    most, the fits' own uncertainty included. ``*_until`` from now until the period's end.
    """

    mean: float
    variance: float
    none: float
    q95: int
    q95_at_best_fit: int
    certain: int
    mean_until: float
    variance_until: float
    q95_until: int
    certain_until: int


@dataclass(frozen=True)
class ItemForecast:
    """Periods of one item; ``families``: pumps counted, and the mean of each period, by family. ``sooner``: of each
    period the pumps whose wear comes sooner than their life, with the chance of the life and of wear until its end."""

    pumps: int
    periods: list[Period]
    sooner: list[list[tuple[int, float, float]]]
    families: dict[str, tuple[int, list[float]]] = field(default_factory=dict)


def forecast_site(
    pumps: SitePumps, uses: Uses, fits: Mapping[str, FamilyFit], ends: Floats, certain: Counts
) -> list[ItemForecast]:
    """The forecast of each item. ``ends`` [periods] days from now to the end of each; ``certain`` [items x periods]
    planned jobs that need one. Pumps of a family without a fit have no chance that anything tells."""
    items, periods = certain.shape
    names = sorted(fits)
    number = {name: place for place, name in enumerate(names)}
    family = np.array([number.get(one, -1) for one in pumps.family], dtype=np.int64)
    kept = family[uses.pump] >= 0 if len(uses.pump) else np.zeros(0, dtype=bool)
    pump, item, share = uses.pump[kept], uses.item[kept], uses.share[kept]
    bounds = np.searchsorted(item, np.arange(items + 1))
    of_item = csr_array((share, (item, pump)), shape=(items, len(family)))
    hours = pumps.per_day[:, None] * np.maximum(ends[None, :] - pumps.from_day[:, None], 0.0)
    best = np.array([[fits[name].fit.shape, fits[name].fit.scale] for name in names]).reshape(-1, 2)
    worn = np.zeros((len(family), periods)) if pumps.worn is None else pumps.worn
    fitted = _chances(pumps.age, hours, family, best)
    chances = _with_wear(fitted, worn)
    mean, variance = _moments(of_item, chances)
    q95 = _quantiles(pumps.age, hours, family, [fits[name].draws for name in names], of_item,
                     np.diff(bounds), worn)  # fmt: skip
    until = np.cumsum(certain, axis=1)
    found = []
    for place in range(items):
        rows = slice(int(bounds[place]), int(bounds[place + 1]))
        each = chances[pump[rows]] * share[rows, None]
        count = rows.stop - rows.start
        most = int(mean[place].max(initial=0) + 10 * np.sqrt(variance[place].max(initial=0)) + 10)
        spread = poisson_binomial(each[:, :periods], most)
        found.append(
            ItemForecast(
                count,
                [
                    Period(
                        float(mean[place, one]),
                        float(variance[place, one]),
                        float(spread[0, one]),
                        int(q95[place, one]) + int(certain[place, one]),
                        quantile(spread[:, one]) + int(certain[place, one]),
                        int(certain[place, one]),
                        float(mean[place, periods + one]),
                        float(variance[place, periods + one]),
                        int(q95[place, periods + one]) + int(until[place, one]),
                        int(until[place, one]),
                    )
                    for one in range(periods)
                ],
                _sooner(pump[rows], fitted[:, periods:], worn),
                _by_family(names, family[pump[rows]], each[:, :periods]),
            )
        )
    return found


def _chances(age: Floats, hours: Floats, family: Counts, lives: Floats) -> Floats:
    """[pumps x 2 periods]: within each period, then until each end; ``lives`` [families x 2] shape and scale."""
    if not len(lives):
        return np.zeros((len(age), 2 * hours.shape[1]))
    shape, scale = lives[family, 0], lives[family, 1]
    unknown = np.isnan(age)
    scale = np.where(unknown, scale * gamma(1 + 1 / shape), scale)
    within, until = chances_by_period(np.where(unknown, 0.0, age), hours, np.where(unknown, 1.0, shape), scale)
    return np.hstack([within, until])


def _with_wear(chances: Floats, worn: Floats) -> Floats:
    """The larger of two chances until each end, and what that leaves within each period; shaped as `_chances`."""
    if not worn.any():
        return chances
    until = np.maximum(chances[:, worn.shape[1] :], worn)
    return np.hstack([np.diff(until, axis=1, prepend=0.0), until])


def _sooner(pump: Counts, life: Floats, worn: Floats) -> list[list[tuple[int, float, float]]]:
    """By period the pumps whose wear comes sooner, if only by a chance worth telling."""
    one = np.unique(pump)
    return [
        [
            (int(place), float(life[place, period]), float(worn[place, period]))
            for place in one[worn[one, period] > life[one, period] + LEAST_CHANCE]
        ]
        for period in range(worn.shape[1])
    ]


def _moments(of_item: csr_array, chances: Floats) -> tuple[Floats, Floats]:
    """[items x columns] mean and variance of the numbers of pumps, each with its chance times its share."""
    mean = of_item @ chances
    return mean, np.maximum(mean - of_item.multiply(of_item) @ (chances * chances), 0.0)


def _quantiles(
    age: Floats, hours: Floats, family: Counts, draws: Sequence[Floats], of_item: csr_array, pumps: Counts, worn: Floats
) -> Counts:
    """[items x 2 periods] within each period, then until each end: 95 % of what the draws of lives let be needed."""
    items, columns = of_item.shape[0], 2 * hours.shape[1]
    if not draws:
        return np.zeros((items, columns), dtype=np.int64)
    lives = np.log(np.array(draws))  # [families x draws x 2]
    unknown = np.isnan(age)
    with np.errstate(divide="ignore"):
        logs = np.log(np.where(unknown, 0.0, age)[:, None] + np.hstack([np.zeros((len(age), 1)), hours]))
    moments = np.empty((2, lives.shape[1], items, columns))
    for place in range(lives.shape[1]):
        shape, scale = np.exp(lives[family, place, 0]), lives[family, place, 1]
        scale = np.where(unknown, scale + gammaln(1 + 1 / shape), scale)
        hazard = np.exp(np.where(unknown, 1.0, shape)[:, None] * (logs - scale[:, None]))
        until = np.maximum(-np.expm1(hazard[:, :1] - hazard[:, 1:]), worn)
        within = np.diff(until, axis=1, prepend=0.0)
        moments[:, place] = _moments(of_item, np.hstack([within, until]))
    found = np.empty((items, columns), dtype=np.int64)
    for begin in range(0, items, AT_ONCE):
        block = slice(begin, begin + AT_ONCE)
        means, variances = (one[:, block].reshape(lives.shape[1], -1) for one in moments)
        found[block] = quantiles_of_draws(means, variances, np.repeat(pumps[block], columns)).reshape(-1, columns)
    return found


def _by_family(names: Sequence[str], family: Counts, each: Floats) -> dict[str, tuple[int, list[float]]]:
    return {
        names[one]: (int((family == one).sum()), [float(value) for value in each[family == one].sum(axis=0)])
        for one in np.unique(family)
    }


@dataclass(frozen=True)
class KitUsed:
    """A kit as past overhauls of one family used it, and how often."""

    kit: str
    number: str
    times: int


def shares_of_kits(offered: Sequence[tuple[str, str]], used: Sequence[KitUsed]) -> list[float]:
    """The share of overhauls that use each of the kits offered, given as (kit, number): as past jobs of the family used
    them. A revision that is no longer offered counts for the last one offered of its number; equal where no past job
    used any (common practice, no source)."""
    place_of = {kit: place for place, (kit, _) in enumerate(offered)}
    last = {number: place for place, (_, number) in enumerate(offered)}
    counts = [0] * len(offered)
    for one in used:
        place = place_of.get(one.kit, last.get(one.number))
        if place is not None:
            counts[place] += one.times
    total = sum(counts)
    return [one / total for one in counts] if total else [1 / len(offered)] * len(offered)
