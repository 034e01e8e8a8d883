"""Reorder points and stock levels of many series at once, exact and in whole units.

The demand of a period is Poisson, or negative binomial where it varies more. Measures as in `reorder_point`: Axsaeter,
Inventory Control, 3rd ed., ch. 5 (value from memory). Low levels are found by counting up, all series together; where
that would take long, by halving.
"""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.count_probabilities import pmf_rows
from kits.calculations.demand_arrays import Floats, Ints
from kits.calculations.job_size_arrays import CLASSES, Jobs, without_jobs
from kits.calculations.large_levels import (
    counts_until,
    counts_until_short,
    fill_rates,
    large_reorder_levels,
    large_stock_levels,
)

BLOCK = 8192
# Beyond so many counts halving is as quick, and the chance of none comes near the smallest number there is.
MOST_COUNTED = 500
REMEMBERED = 2_000_000


def _blocks(order: Ints, lots: Ints | None = None) -> Iterator[Ints]:
    """Few enough at once that what is remembered of the counts before, one an order's piece, stays small."""
    start = 0
    while start < len(order):
        size = BLOCK
        if lots is not None:
            while size > 1 and size * int(lots[order[start : start + size]].max()) > REMEMBERED:
                size //= 2
        yield order[start : start + size]
        start += size


def reorder_levels(
    mean: Floats,
    variance: Floats,
    *,
    target: Floats | float,
    quantity: Ints | int = 1,
    measure: str = "fill",
    jobs: Jobs | None = None,
) -> tuple[NDArray[np.int64], Floats]:
    """Lowest level of each series (series,) that reaches its target with its order quantity, and what it reaches.

    ``measure`` is ``fill``, the share of unit needs met from the shelf (the mean of P(D <= j) for j from r to
    r + Q - 1), or ``cycle``, the chance of no shortage in a lead time. With the sizes of ``jobs`` needs come by the
    job, and of a job's pieces those count that the shelf has. No demand: -1, everything is met. Raises `ValueError` for
    a target that is not between 0 and 1 or a quantity below 1.
    """
    wanted = np.broadcast_to(np.asarray(target, np.float64), mean.shape)
    lots = np.broadcast_to(np.asarray(quantity, np.int64), mean.shape)
    if ((wanted <= 0) | (wanted >= 1)).any():
        raise ValueError("a target lies between 0 and 1")
    if (lots < 1).any():
        raise ValueError("an order holds at least one")
    if measure == "cycle":
        lots = np.ones_like(lots)
    levels, reached = np.full(mean.shape, -1, np.int64), np.ones(mean.shape)
    by_cycle = np.full(mean.shape, measure == "cycle")
    ways = _ways(mean, variance, wanted, lots, jobs)
    for block, chances in _counted(mean, variance, lots, ways, by_cycle):
        levels[block], reached[block] = _fill_levels(chances, wanted[block], lots[block])
    if len(large := ways.large):
        levels[large], reached[large] = large_reorder_levels(
            mean[large], variance[large], target=wanted[large], quantity=lots[large]
        )
    return levels, reached


@dataclass(frozen=True)
class _Ways:
    """Places of the series with demand: counted up to by two moments, by the sizes of ``jobs``, or too large for that:
    of very many pieces two moments tell enough."""

    by_moments: Ints
    by_jobs: Ints
    large: Ints
    jobs: Jobs


def _ways(mean: Floats, variance: Floats, target: Floats, lots: Ints, jobs: Jobs | None) -> _Ways:
    found = without_jobs(len(mean)) if jobs is None else jobs
    by_jobs = np.flatnonzero(found.known & (mean > 0))
    if len(by_jobs):
        sizes = found.of(by_jobs)
        spread = sizes.variance_of_pieces(mean[by_jobs], variance[by_jobs])
        counts = counts_until(mean[by_jobs], spread, target[by_jobs]) + lots[by_jobs] + len(sizes.shares)
        by_jobs = by_jobs[counts <= MOST_COUNTED]
    others = mean > 0
    others[by_jobs] = False
    few = counts_until(mean, variance, target) + lots <= MOST_COUNTED
    return _Ways(np.flatnonzero(others & few), by_jobs, np.flatnonzero(others & ~few), found)


def _counted(
    mean: Floats, variance: Floats, lots: Ints, ways: _Ways, by_cycle: NDArray[np.bool_]
) -> Iterator[tuple[Ints, Iterator[Floats]]]:
    """Blocks of series that are counted up together, with their chances count by count."""
    for block in _blocks(ways.by_moments[np.argsort((mean + lots)[ways.by_moments], kind="stable")], lots):
        yield block, pmf_rows(mean[block], variance[block], MOST_COUNTED + 1)
    largest = ways.jobs.largest[ways.by_jobs]
    for smaller, most in itertools.pairwise((0, *CLASSES)):
        alike = ways.by_jobs[(largest > smaller) & (largest <= most)]
        for block in _blocks(alike[np.argsort((mean + lots)[alike], kind="stable")], lots):
            yield (
                block,
                ways.jobs.of(block).rows(
                    mean[block], variance[block], by_cycle=by_cycle[block], highest=MOST_COUNTED + 1
                ),
            )


def _fill_levels(chances: Iterator[Floats], target: Floats, lots: Ints) -> tuple[NDArray[np.int64], Floats]:
    # Where the last digits of a target near 1 are never met, the bound that was counted up to is.
    levels, reached = np.full(len(lots), MOST_COUNTED, np.int64), np.ones(len(lots))
    waiting = np.ones(len(lots), bool)
    for level, fill, counts in _fills(chances, lots):
        found = waiting & (fill >= target) & counts
        levels[found] = level[found]
        reached[found] = fill[found]
        waiting &= ~found
        if not waiting.any():
            break
    return levels, reached


def _fills(chances: Iterator[Floats], lots: Ints) -> Iterator[tuple[Ints, Floats, NDArray[np.bool_]]]:
    """Step by step the level of each series, its fill rate there, and whether that is a level from -1 on already."""
    longest, places = int(lots.max()), np.arange(len(lots))
    # Sums of P(D <= j) as they stood so many counts ago: an order of Q looks back over Q of them.
    earlier = np.zeros((longest, len(lots)))
    below, summed = np.zeros(len(lots)), np.zeros(len(lots))
    for count, chance in enumerate(chances):
        below += chance
        summed += below
        fill = (summed - earlier[count % lots, places]) / lots
        earlier[count % lots, places] = summed
        yield count - lots + 1, fill, count >= lots - 2


@dataclass(frozen=True)
class Banded:
    """Levels of many series that stay where they are while they serve well enough: what was lowest for the target, the
    ends of the band, the level that holds, the fill rate it reaches, and whether the sizes of jobs went into it."""

    lowest: Ints
    band_from: Ints
    band_to: Ints
    level: Ints
    fill_rate: Floats
    by_jobs: NDArray[np.bool_]


def banded_levels(
    mean: Floats,
    variance: Floats,
    *,
    target: Floats,
    quantity: Ints,
    kept: Ints,
    width: float,
    by_cycle: NDArray[np.bool_] | None = None,
    jobs: Jobs | None = None,
) -> Banded:
    """Reorder points (series,) that do not follow every small change of a forecast.

    The level kept holds while it reaches ``target - width`` and one less does not reach ``target + width`` yet, both as
    shares of needs; else the lowest that reaches the target takes its place. A level below -1 was never kept.
    ``by_cycle`` tells which are measured so, whatever is ordered then; ``jobs`` and what raises `ValueError` as in
    `reorder_levels`.
    """
    if ((target <= 0) | (target >= 1)).any():
        raise ValueError("a target lies between 0 and 1")
    if (quantity < 1).any():
        raise ValueError("an order holds at least one")
    # Nothing reaches more than all: there the band ends half way up to it.
    ends = (np.maximum(target - width, target / 2), target, np.minimum(target + width, (1 + target) / 2))
    found = np.full((3, len(mean)), -1, np.int64)
    level, fill_rate = np.full(len(mean), -1, np.int64), np.ones(len(mean))
    cycles = np.zeros(mean.shape, bool) if by_cycle is None else by_cycle
    lots = np.where(cycles, 1, quantity)
    ways = _ways(mean, variance, ends[2], lots, jobs)
    for block, chances in _counted(mean, variance, lots, ways, cycles):
        marks = [end[block] for end in ends]
        found[:, block], level[block], fill_rate[block] = _banded(chances, marks, lots[block], kept[block])
    if len(large := ways.large):
        some = mean[large], variance[large]
        for place, end in enumerate(ends):
            found[place, large] = large_reorder_levels(*some, target=end[large], quantity=lots[large])[0]
        level[large] = _held(kept[large], found[:, large])
        fill_rate[large] = fill_rates(*some, level[large], lots[large])
    by_jobs = np.zeros(mean.shape, bool)
    by_jobs[ways.by_jobs] = True
    return Banded(found[1], found[0], found[2], level, fill_rate, by_jobs)


def _held(kept: Ints, found: Ints) -> Ints:
    """The levels kept where they lie in the band, else the lowest that reach the target."""
    return np.where((kept >= found[0]) & (kept <= found[2]), kept, found[1])


def _banded(chances: Iterator[Floats], marks: list[Floats], lots: Ints, kept: Ints) -> tuple[Ints, Ints, Floats]:
    found, fills = np.full((3, len(lots)), MOST_COUNTED, np.int64), np.ones((3, len(lots)))
    of_kept = np.zeros(len(lots))
    waiting = np.ones((3, len(lots)), bool)
    for level, fill, counts in _fills(chances, lots):
        np.copyto(of_kept, fill, where=level == kept)
        for place, mark in enumerate(marks):
            reached = waiting[place] & (fill >= mark) & counts
            np.copyto(found[place], level, where=reached)
            np.copyto(fills[place], fill, where=reached)
            waiting[place] &= ~reached
        if not waiting[2].any():
            break
    level = _held(kept, found)
    return found, level, np.where(level == kept, of_kept, fills[1])


def stock_levels(
    before: tuple[Floats, Floats], until: tuple[Floats, Floats], *, target: Floats | float
) -> NDArray[np.int64]:
    """Lowest level S of each series that, topped up to at every review, meets the target share of needs.

    ``before`` are mean and variance of the demand over the lead time, ``until`` over lead time and review period:
    fill is ``1 - (B_until(S) - B_before(S)) / (mean_until - mean_before)`` with ``B(S) = E[max(D - S, 0)]`` (Axsaeter,
    ch. 5; value from memory), which counts a shortage once however long it lasts. No demand: 0. Raises `ValueError` for
    a target that is not between 0 and 1.
    """
    wanted = np.broadcast_to(np.asarray(target, np.float64), until[0].shape)
    if ((wanted <= 0) | (wanted >= 1)).any():
        raise ValueError("a target lies between 0 and 1")
    levels = np.zeros(until[0].shape, np.int64)
    asked = until[0] - before[0]
    allowed = (1 - wanted) * asked
    some = np.where(asked > 0, allowed, 1.0)
    few = counts_until_short(*until, some) <= MOST_COUNTED
    counted, large = np.flatnonzero((asked > 0) & few), np.flatnonzero((asked > 0) & ~few)
    for block in _blocks(counted[np.argsort(until[0][counted], kind="stable")]):
        levels[block] = _stock_levels(
            zip(_pmf(before, block), _pmf(until, block), strict=True),
            short=asked[block].copy(),
            allowed=allowed[block],
        )
    if len(large):
        levels[large] = large_stock_levels(
            (before[0][large], before[1][large]), (until[0][large], until[1][large]), allowed=allowed[large]
        )
    return levels


def _pmf(demand: tuple[Floats, Floats], block: Ints) -> Iterator[Floats]:
    return pmf_rows(demand[0][block], demand[1][block], MOST_COUNTED + 1)


def _stock_levels(chances: Iterator[tuple[Floats, Floats]], *, short: Floats, allowed: Floats) -> NDArray[np.int64]:
    levels: NDArray[np.int64] = np.full(len(short), MOST_COUNTED, np.int64)
    waiting = np.ones(len(short), bool)
    gap = np.zeros(len(short))
    for level, (before, until) in enumerate(chances):
        found = waiting & (short <= allowed)
        levels[found] = level
        waiting &= ~found
        if not waiting.any():
            break
        # B(S + 1) = B(S) - (1 - F(S)), for both periods.
        gap += before - until
        short = short - gap
    return levels


def period_moments(
    monthly: tuple[Floats, Floats, Floats], *, months: Floats | float, spread_months: Floats | float = 0.0
) -> tuple[Floats, Floats]:
    """Mean and variance of the demand of a period from mean, variance and variance of the mean of a month:
    ``m L`` and ``s2 L + m2 sL2 + vm L2``, as `reorder_point.lead_time_demand`."""
    mean, variance, of_mean = monthly
    total: Any = variance * months + mean**2 * np.square(spread_months) + of_mean * np.square(months)
    return mean * months, total
