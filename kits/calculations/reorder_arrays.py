"""Reorder points and stock levels of many series at once, exact and in whole units.

The demand of a period is Poisson, or negative binomial where it varies more. Measures as in `reorder_point`: Axsaeter,
Inventory Control, 3rd ed., ch. 5 (value from memory). Low levels are found by counting up, all series together; where
that would take long, by halving.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.count_probabilities import pmf_rows
from kits.calculations.demand_arrays import Floats, Ints
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
    mean: Floats, variance: Floats, *, target: Floats | float, quantity: Ints | int = 1, measure: str = "fill"
) -> tuple[NDArray[np.int64], Floats]:
    """Lowest level of each series (series,) that reaches its target with its order quantity, and what it reaches.

    ``measure`` is ``fill``, the share of unit needs met from the shelf (the mean of P(D <= j) for j from r to
    r + Q - 1), or ``cycle``, the chance of no shortage in a lead time. No demand: -1, everything is met. Raises
    `ValueError` for a target that is not between 0 and 1 or a quantity below 1.
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
    counted, large = _counted_or_large(mean, counts_until(mean, variance, wanted) + lots)
    for block in _blocks(counted[np.argsort(mean[counted] + lots[counted], kind="stable")], lots):
        levels[block], reached[block] = _fill_levels(mean[block], variance[block], wanted[block], lots[block])
    if len(large):
        levels[large], reached[large] = large_reorder_levels(
            mean[large], variance[large], target=wanted[large], quantity=lots[large]
        )
    return levels, reached


def _counted_or_large(mean: Floats, counts: Floats) -> tuple[Ints, Ints]:
    """The series with demand, those that so many or fewer counts are enough for and the others."""
    few = counts <= MOST_COUNTED
    return np.flatnonzero((mean > 0) & few), np.flatnonzero((mean > 0) & ~few)


def _fill_levels(mean: Floats, variance: Floats, target: Floats, lots: Ints) -> tuple[NDArray[np.int64], Floats]:
    # Where the last digits of a target near 1 are never met, the bound that was counted up to is.
    levels, reached = np.full(len(mean), MOST_COUNTED, np.int64), np.ones(len(mean))
    waiting = np.ones(len(mean), bool)
    for level, fill, counts in _fills(mean, variance, lots):
        found = waiting & (fill >= target) & counts
        levels[found] = level[found]
        reached[found] = fill[found]
        waiting &= ~found
        if not waiting.any():
            break
    return levels, reached


def _fills(mean: Floats, variance: Floats, lots: Ints) -> Iterator[tuple[Ints, Floats, NDArray[np.bool_]]]:
    """Step by step the level of each series, its fill rate there, and whether that is a level from -1 on already."""
    longest, places = int(lots.max()), np.arange(len(mean))
    # Sums of P(D <= j) as they stood so many counts ago: an order of Q looks back over Q of them.
    earlier = np.zeros((longest, len(mean)))
    below, summed = np.zeros(len(mean)), np.zeros(len(mean))
    for count, chance in enumerate(pmf_rows(mean, variance, MOST_COUNTED + 1)):
        below += chance
        summed += below
        fill = (summed - earlier[count % lots, places]) / lots
        earlier[count % lots, places] = summed
        yield count - lots + 1, fill, count >= lots - 2


@dataclass(frozen=True)
class Banded:
    """Levels of many series that stay where they are while they serve well enough: what was lowest for the target, the
    ends of the band, the level that holds, and the fill rate it reaches."""

    lowest: Ints
    band_from: Ints
    band_to: Ints
    level: Ints
    fill_rate: Floats


def banded_levels(
    mean: Floats, variance: Floats, *, target: Floats, quantity: Ints, kept: Ints, width: float
) -> Banded:
    """Reorder points (series,) that do not follow every small change of a forecast.

    The level kept holds while it reaches ``target - width`` and one less does not reach ``target + width`` yet, both as
    shares of needs; else the lowest that reaches the target takes its place. A level below -1 was never kept. Raises
    `ValueError` as `reorder_levels`.
    """
    if ((target <= 0) | (target >= 1)).any():
        raise ValueError("a target lies between 0 and 1")
    if (quantity < 1).any():
        raise ValueError("an order holds at least one")
    # Nothing reaches more than all: there the band ends half way up to it.
    ends = (np.maximum(target - width, target / 2), target, np.minimum(target + width, (1 + target) / 2))
    found = np.full((3, len(mean)), -1, np.int64)
    level, fill_rate = np.full(len(mean), -1, np.int64), np.ones(len(mean))
    counted, large = _counted_or_large(mean, counts_until(mean, variance, ends[2]) + quantity)
    for block in _blocks(counted[np.argsort(mean[counted] + quantity[counted], kind="stable")], quantity):
        marks = [end[block] for end in ends]
        found[:, block], level[block], fill_rate[block] = _banded(
            mean[block], variance[block], marks, quantity[block], kept[block]
        )
    if len(large):
        some, lots = (mean[large], variance[large]), quantity[large]
        for place, end in enumerate(ends):
            found[place, large] = large_reorder_levels(*some, target=end[large], quantity=lots)[0]
        level[large] = _held(kept[large], found[:, large])
        fill_rate[large] = fill_rates(*some, level[large], lots)
    return Banded(found[1], found[0], found[2], level, fill_rate)


def _held(kept: Ints, found: Ints) -> Ints:
    """The levels kept where they lie in the band, else the lowest that reach the target."""
    return np.where((kept >= found[0]) & (kept <= found[2]), kept, found[1])


def _banded(mean: Floats, variance: Floats, marks: list[Floats], lots: Ints, kept: Ints) -> tuple[Ints, Ints, Floats]:
    found, fills = np.full((3, len(mean)), MOST_COUNTED, np.int64), np.ones((3, len(mean)))
    of_kept = np.zeros(len(mean))
    waiting = np.ones((3, len(mean)), bool)
    for level, fill, counts in _fills(mean, variance, lots):
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
    counted, large = _counted_or_large(asked, counts_until_short(*until, some))
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
