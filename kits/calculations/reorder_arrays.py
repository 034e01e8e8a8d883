"""Reorder points and stock levels of many series at once, exact and in whole units.

The demand of a period is Poisson, or negative binomial where it varies more. Measures as in `reorder_point`: Axsaeter,
Inventory Control, 3rd ed., ch. 5 (value from memory).
"""

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.count_probabilities import pmf_rows
from kits.calculations.demand_arrays import Floats, Ints
from kits.calculations.reorder_point import HIGHEST

BLOCK = 8192


def _blocks(order: Ints) -> Iterator[Ints]:
    for start in range(0, len(order), BLOCK):
        yield order[start : start + BLOCK]


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
    picked = np.flatnonzero(mean > 0)
    for block in _blocks(picked[np.argsort(mean[picked] + lots[picked], kind="stable")]):
        levels[block], reached[block] = _fill_levels(mean[block], variance[block], wanted[block], lots[block])
    return levels, reached


def _fill_levels(mean: Floats, variance: Floats, target: Floats, lots: Ints) -> tuple[NDArray[np.int64], Floats]:
    levels, reached = np.zeros(len(mean), np.int64), np.zeros(len(mean))
    waiting = np.ones(len(mean), bool)
    longest, places = int(lots.max()), np.arange(len(mean))
    # Sums of P(D <= j) as they stood so many counts ago: an order of Q looks back over Q of them.
    earlier = np.zeros((longest, len(mean)))
    below, summed = np.zeros(len(mean)), np.zeros(len(mean))
    for count, chance in enumerate(pmf_rows(mean, variance)):
        below += chance
        summed += below
        fill = (summed - earlier[count % lots, places]) / lots
        earlier[count % lots, places] = summed
        found = waiting & (fill >= target) & (count >= lots - 2)
        levels[found] = count - lots[found] + 1
        reached[found] = fill[found]
        waiting &= ~found
        if not waiting.any() or count > HIGHEST + longest:
            break
    if waiting.any():
        raise ValueError("no stock that could be kept reaches the target")
    return levels, reached


def stock_levels(
    before: tuple[Floats, Floats], until: tuple[Floats, Floats], *, target: Floats | float, highest: int = HIGHEST
) -> NDArray[np.int64]:
    """Lowest level S of each series that, topped up to at every review, meets the target share of needs.

    ``before`` are mean and variance of the demand over the lead time, ``until`` over lead time and review period:
    fill is ``1 - (B_until(S) - B_before(S)) / (mean_until - mean_before)`` with ``B(S) = E[max(D - S, 0)]`` (Axsaeter,
    ch. 5; value from memory), which counts a shortage once however long it lasts. No demand: 0. Raises `ValueError` for
    a target that is not between 0 and 1, or where ``highest`` does not reach it.
    """
    wanted = np.broadcast_to(np.asarray(target, np.float64), until[0].shape)
    if ((wanted <= 0) | (wanted >= 1)).any():
        raise ValueError("a target lies between 0 and 1")
    levels = np.zeros(until[0].shape, np.int64)
    asked = until[0] - before[0]
    picked = np.flatnonzero(asked > 0)
    for block in _blocks(picked[np.argsort(until[0][picked], kind="stable")]):
        levels[block] = _stock_levels(
            zip(pmf_rows(before[0][block], before[1][block]), pmf_rows(until[0][block], until[1][block]), strict=True),
            short=asked[block].copy(),
            allowed=(1 - wanted[block]) * asked[block],
            highest=highest,
        )
    return levels


def _stock_levels(
    chances: Iterator[tuple[Floats, Floats]], *, short: Floats, allowed: Floats, highest: int
) -> NDArray[np.int64]:
    levels: NDArray[np.int64] = np.full(len(short), -1, np.int64)
    gap = np.zeros(len(short))
    for level, (before, until) in enumerate(chances):
        levels[(levels < 0) & (short <= allowed)] = level
        if (levels >= 0).all():
            return levels
        if level > highest:
            break
        # B(S + 1) = B(S) - (1 - F(S)), for both periods.
        gap += before - until
        short = short - gap
    raise ValueError("no stock that could be kept reaches the target")


def period_moments(
    monthly: tuple[Floats, Floats, Floats], *, months: Floats | float, spread_months: Floats | float = 0.0
) -> tuple[Floats, Floats]:
    """Mean and variance of the demand of a period from mean, variance and variance of the mean of a month:
    ``m L`` and ``s2 L + m2 sL2 + vm L2``, as `reorder_point.lead_time_demand`."""
    mean, variance, of_mean = monthly
    total: Any = variance * months + mean**2 * np.square(spread_months) + of_mean * np.square(months)
    return mean * months, total
