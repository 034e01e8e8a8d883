"""Demand whose chances are known count by count, where no named distribution would be honest.

It can be asked whatever a `LeadTimeDemand` can, so reorder points and shortages are worked out in the same way.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from kits.calculations.count_probabilities import pmf_rows
from kits.calculations.reorder_point import HIGHEST, LeadTimeDemand

Chances = NDArray[np.float64]

# What may be missing of all chances together where counting stops.
SMALLEST_TAIL = 1e-12


@dataclass(frozen=True, eq=False)
class CountedDemand(LeadTimeDemand):
    """``chances`` are P(0), P(1) .. as far as they matter; what is missing to 1 lies beyond."""

    chances: Chances = field(kw_only=True)

    @property
    def distribution(self) -> Literal["poisson", "negative-binomial", "counted", "none"]:
        """Counted, or none where nothing is needed."""
        return "counted" if self.mean > 0 else "none"

    def at_most(self, counts: np.ndarray) -> np.ndarray:
        """Chance of at most so many, for whole numbers from 0. Raises `ValueError` where there is no demand."""
        if self.distribution == "none":
            raise ValueError("no demand, no distribution")
        summed = np.cumsum(self.chances)
        return np.asarray(np.where(counts < 0, 0.0, summed[np.clip(counts, 0, len(summed) - 1)]))


def counted(chances: Chances | Sequence[float]) -> CountedDemand:
    """Demand of these chances, with their mean and variance. Raises `ValueError` where they are no chances."""
    found = np.asarray(chances, np.float64)
    if found.ndim != 1 or not len(found) or (found < 0).any() or found.sum() > 1 + 1e-9:
        raise ValueError("chances are not negative and sum to at most 1")
    places = np.arange(len(found))
    mean = float(found @ places)
    return CountedDemand(mean, float(found @ places**2) - mean**2, chances=found)


def chances_of(demand: LeadTimeDemand) -> Chances:
    """P(0), P(1) .. of a demand until the rest is below a billionth of a thousandth. Raises `ValueError` where more
    than could ever be kept would be needed."""
    if isinstance(demand, CountedDemand):
        return demand.chances
    if demand.distribution == "none":
        return np.ones(1)
    found: list[float] = []
    total = 0.0
    for row in pmf_rows(np.array([demand.mean], float), np.array([demand.variance], float)):
        found.append(float(row[0]))
        total += found[-1]
        if total >= 1 - SMALLEST_TAIL or (len(found) > demand.mean and found[-1] < SMALLEST_TAIL * 1e-3):
            return np.array(found)
        if len(found) > HIGHEST:
            break
    raise ValueError("more is needed than could be kept")


def mixture(cases: Sequence[tuple[float, LeadTimeDemand]]) -> CountedDemand:
    """Demand that is one of several, each with its weight: chances are mixed, not means and variances.

    Where the lead time is one of a few (two suppliers, by sea or by air), a distribution fitted to the moments of all
    puts the demand where it hardly ever is. Raises `ValueError` where weights are not positive or no case is given.
    """
    total = sum(weight for weight, _ in cases)
    if not cases or any(weight <= 0 for weight, _ in cases):
        raise ValueError("each case has a weight above 0")
    rows = [chances_of(demand) for _, demand in cases]
    mixed: NDArray[Any] = np.zeros(max(len(row) for row in rows))
    for (weight, _), row in zip(cases, rows, strict=True):
        mixed[: len(row)] += weight / total * row
    return counted(mixed)
