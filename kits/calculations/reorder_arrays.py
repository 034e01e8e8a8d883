"""Reorder points and stock levels of many series at once, exact and in whole units.

The demand of a period is Poisson, or negative binomial where it varies more. Its probabilities follow the recursion
``p(k+1) = p(k) (a k + b) / (k + 1)`` (Panjer 1981, ASTIN Bulletin 12:22-26; value from memory). Measures as in
`reorder_point`: Axsaeter, Inventory Control, 3rd ed., ch. 5 (value from memory).
"""

from collections.abc import Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_arrays import Floats, Ints
from kits.calculations.reorder_point import LeadTimeDemand, reorder_point

BLOCK = 8192
# Above it exp(-mean) leaves what a float can hold: such series are worked out one by one.
LARGEST_MEAN = 600.0


class _Chances:
    """P(D <= k) for k = 0, 1, 2 ... of a block of series with mean above 0 or 0."""

    def __init__(self, mean: Floats, variance: Floats) -> None:
        wide = variance > mean * (1 + 1e-9)
        ratio = np.divide(mean, variance, out=np.ones_like(mean), where=wide)
        size = np.divide(mean * mean, variance - mean, out=np.zeros_like(mean), where=wide)
        self.a = 1 - ratio
        self.b = np.where(wide, size * self.a, mean)
        self.at = np.where(wide, np.exp(size * np.log(ratio)), np.exp(-mean))
        self.below = self.at.copy()
        self.count = 0

    def step(self) -> None:
        self.at *= (self.a * self.count + self.b) / (self.count + 1)
        self.below += self.at
        self.count += 1


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
    usual = (mean > 0) & (mean <= LARGEST_MEAN)
    for place in np.flatnonzero(mean > LARGEST_MEAN):
        point = reorder_point(
            LeadTimeDemand(float(mean[place]), float(variance[place])),
            target=float(wanted[place]),
            quantity=int(lots[place]),
        )
        levels[place], reached[place] = point.level, point.fill_rate
    picked = np.flatnonzero(usual)
    for block in _blocks(picked[np.argsort(mean[picked] + lots[picked], kind="stable")]):
        levels[block], reached[block] = _fill_levels(mean[block], variance[block], wanted[block], lots[block])
    return levels, reached


def _fill_levels(mean: Floats, variance: Floats, target: Floats, lots: Ints) -> tuple[NDArray[np.int64], Floats]:
    """Level by level; series that are done drop out, so that a few large ones do not carry all others along."""
    levels, reached = np.zeros(len(mean), np.int64), np.zeros(len(mean))
    alive = np.arange(len(mean))
    chances = _Chances(mean, variance)
    longest = int(lots.max())
    history = np.zeros((longest, len(mean)))
    summed = np.zeros(len(mean))
    lots_alive, target_alive = lots, target
    while True:
        count = chances.count
        summed += chances.below
        before = history[(count - lots_alive) % longest, np.arange(len(alive))]
        fill = (summed - np.where(count >= lots_alive, before, 0.0)) / lots_alive
        done = (fill >= target_alive) & (count >= lots_alive - 2)
        history[count % longest] = summed
        if done.any():
            levels[alive[done]] = count - lots_alive[done] + 1
            reached[alive[done]] = fill[done]
            stay = ~done
            if not stay.any():
                return levels, reached
            if stay.sum() < 0.7 * len(alive):
                alive, lots_alive, target_alive = alive[stay], lots_alive[stay], target_alive[stay]
                summed, history = summed[stay], history[:, stay]
                chances.a, chances.b = chances.a[stay], chances.b[stay]
                chances.at, chances.below = chances.at[stay], chances.below[stay]
            else:
                # Asked for more than ever comes, they stay without being found again.
                target_alive = np.where(done, 2.0, target_alive)
        if (target_alive > 1).all():
            return levels, reached
        chances.step()


def stock_levels(
    before: tuple[Floats, Floats], until: tuple[Floats, Floats], *, target: Floats | float, highest: int = 10_000
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
            _Chances(before[0][block], before[1][block]),
            _Chances(until[0][block], until[1][block]),
            short=asked[block].copy(),
            allowed=(1 - wanted[block]) * asked[block],
            highest=highest,
        )
    return levels


def _stock_levels(
    before: _Chances, until: _Chances, *, short: Floats, allowed: Floats, highest: int
) -> NDArray[np.int64]:
    levels: NDArray[np.int64] = np.full(len(short), -1, np.int64)
    for level in range(highest + 1):
        found = (levels < 0) & (short <= allowed)
        levels[found] = level
        if (levels >= 0).all():
            return levels
        # B(S + 1) = B(S) - (1 - F(S)), for both periods.
        short = short - (before.below - until.below)
        before.step()
        until.step()
    raise ValueError("no stock that could be kept reaches the target")


def period_moments(
    monthly: tuple[Floats, Floats, Floats], *, months: Floats | float, spread_months: Floats | float = 0.0
) -> tuple[Floats, Floats]:
    """Mean and variance of the demand of a period from mean, variance and variance of the mean of a month:
    ``m L`` and ``s2 L + m2 sL2 + vm L2``, as `reorder_point.lead_time_demand`."""
    mean, variance, of_mean = monthly
    total: Any = variance * months + mean**2 * np.square(spread_months) + of_mean * np.square(months)
    return mean * months, total
