"""Levels too high to be counted up to, of many series at once: shortages in closed form, and halving.

The chances are those that are counted for lower levels, Poisson or negative binomial, so it makes no difference to a
level which way it was found. No normal or gamma distribution in their place is needed: the sums over the tail are
incomplete gamma and beta functions, however far out it begins. A gamma distribution of the same two moments would be
up to a piece away.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import special

from kits.calculations.demand_arrays import Floats, Ints

# Levels are kept as whole numbers of 32 bits: a shelf for more than so many is none.
HIGHEST_KEPT = 2_000_000_000
Levels = NDArray[np.int64]


def counts_until(mean: Floats, variance: Floats, target: Floats) -> Floats:
    """So many or fewer are needed with at least the target's chance: ``m + s sqrt(t / (1 - t))`` (Cantelli's
    inequality; any textbook on probability)."""
    bound: Floats = mean + np.sqrt(np.maximum(variance, mean) * target / (1 - target))
    return bound


def counts_until_short(mean: Floats, variance: Floats, allowed: Floats) -> Floats:
    """With so many or fewer on the shelf at most ``allowed`` are short: ``E[max(D - x, 0)] <= (sqrt(s2 + d2) - d) / 2``
    with ``d = x - m`` (Scarf 1958, A min-max solution of an inventory problem; value from memory)."""
    bound: Floats = mean + np.maximum(np.maximum(variance, mean) / (4 * allowed) - allowed, 0)
    return bound


def expected_shortages(mean: Floats, variance: Floats, levels: Ints) -> Floats:
    """``B(x) = E[max(D - x, 0)]`` of each series at its level; demand is above 0.

    Poisson: ``m P(D >= x) - x P(D > x)``; negative binomial ``m P(D' >= x) - x P(D > x)``, of D' the size is greater by
    1. Tails by the incomplete gamma and beta functions (Abramowitz, Stegun, 26.4.21 and 26.5.26; numbers value from
    memory).
    """
    wide = variance > mean * (1 + 1e-9)
    size = np.where(wide, mean**2 / np.where(wide, variance - mean, 1.0), 1.0)
    left = np.where(wide, 1 - mean / np.where(wide, variance, 1.0), 0.5)
    above = np.maximum(levels, 1).astype(np.float64)
    poisson = mean * special.gammainc(above, mean) - above * special.gammainc(above + 1, mean)
    binomial = mean * special.betainc(above, size + 1, left) - above * special.betainc(above + 1, size, left)
    return np.where(levels <= 0, mean - levels, np.maximum(np.where(wide, binomial, poisson), 0.0))


def fill_rates(mean: Floats, variance: Floats, levels: Ints, quantity: Ints) -> Floats:
    """Share of needs met from the shelf with orders of ``quantity`` at ``levels``: ``1 - (B(r) - B(r + Q)) / Q``, which
    is the chance of no shortage for a quantity of 1."""
    short = expected_shortages(mean, variance, levels) - expected_shortages(mean, variance, levels + quantity)
    return np.clip(1 - short / quantity, 0.0, 1.0)


def large_reorder_levels(mean: Floats, variance: Floats, *, target: Floats, quantity: Ints) -> tuple[Levels, Floats]:
    """Lowest level from -1 on that reaches its target, and the fill rate there; beyond `HIGHEST_KEPT` that, whatever it
    reaches."""
    levels = _lowest(
        lambda level: fill_rates(mean, variance, level, quantity) >= target,
        first=-1,
        highest=counts_until(mean, variance, target),
    )
    return levels, fill_rates(mean, variance, levels, quantity)


def large_stock_levels(before: tuple[Floats, Floats], until: tuple[Floats, Floats], *, allowed: Floats) -> Levels:
    """Lowest level from 0 on at which at most ``allowed`` are short between two reviews, as in
    `reorder_arrays.stock_levels`; beyond `HIGHEST_KEPT` that."""
    known = before[0] > 0
    earlier = np.where(known, before[0], 1.0), np.where(known, before[1], 1.0)

    def enough(level: Levels) -> NDArray[np.bool_]:
        owed = np.where(known, expected_shortages(*earlier, level), 0.0)
        served: NDArray[np.bool_] = expected_shortages(*until, level) - owed <= allowed
        return served

    return _lowest(enough, first=0, highest=counts_until_short(*until, allowed))


def _lowest(reached: Callable[[Levels], NDArray[np.bool_]], *, first: int, highest: Floats) -> Levels:
    """More is never worse, so halving finds it; ``highest`` reaches it."""
    high = _kept(highest)
    low = np.full(high.shape, first - 1, np.int64)
    while (high - low > 1).any():
        middle = (low + high) // 2
        enough = reached(middle)
        open_ones = high - low > 1
        high = np.where(open_ones & enough, middle, high)
        low = np.where(open_ones & ~enough, middle, low)
    return high


def _kept(highest: Floats) -> Levels:
    return np.minimum(np.ceil(highest), HIGHEST_KEPT).astype(np.int64)
