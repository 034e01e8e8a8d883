"""How low the inventory position may fall before more is ordered.

Order when the position is at or below the reorder point. The service is the fill rate: the share of needs met from
the shelf. Formulas: Axsaeter, Inventory Control, 3rd ed., ch. 5; mean and variance over a random lead time as in
Silver, Pyke, Thomas, Inventory and Production Management, 4th ed., ch. 7 (both value from memory); check cases in the
tests.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import special

DAYS_OF_MONTH = 30.4375
HIGHEST = 10_000


@dataclass(frozen=True)
class LeadTimeDemand:
    """Demand from ordering until the goods are there, in whole units: Poisson, or negative binomial where it varies
    more than that."""

    mean: float
    variance: float

    @property
    def distribution(self) -> Literal["poisson", "negative-binomial", "counted", "none"]:
        """Which distribution is used."""
        if self.mean <= 0:
            return "none"
        return "negative-binomial" if self.variance > self.mean * (1 + 1e-9) else "poisson"

    def at_most(self, counts: np.ndarray) -> np.ndarray:
        """Chance of at most so many, for whole numbers from 0. Raises `ValueError` where there is no demand.

        Poisson by the incomplete gamma function, negative binomial by the incomplete beta function (Abramowitz, Stegun,
        26.4.21 and 26.5.26; numbers value from memory).
        """
        if self.distribution == "none":
            raise ValueError("no demand, no distribution")
        if self.distribution == "poisson":
            return np.asarray(special.pdtr(counts, self.mean))
        size = self.mean**2 / (self.variance - self.mean)
        return np.asarray(special.betainc(size, counts + 1.0, self.mean / self.variance))


@dataclass(frozen=True)
class ReorderPoint:
    """``level`` may be -1: then only what is owed is ordered. ``fill_rate`` is what it reaches."""

    level: int
    fill_rate: float
    demand: LeadTimeDemand


def lead_time_demand(
    *,
    monthly_mean: float,
    monthly_variance: float,
    variance_of_mean: float,
    lead_time_days: float,
    lead_time_sd_days: float,
    review_days: float,
) -> LeadTimeDemand:
    """Demand over lead time and review period: mean ``m L``, variance ``s2 L + m2 sL2 + vm L2``.

    ``vm`` is the variance of the estimated mean: an error of it acts over the whole period. A month has 30.4375 days.
    """
    months = (lead_time_days + review_days) / DAYS_OF_MONTH
    spread = lead_time_sd_days / DAYS_OF_MONTH
    variance = monthly_variance * months + monthly_mean**2 * spread**2 + variance_of_mean * months**2
    return LeadTimeDemand(monthly_mean * months, variance)


def expected_shortage(demand: LeadTimeDemand, level: int) -> float:
    """``B(x) = E[max(D - x, 0)]``, by ``B(x+1) = B(x) - (1 - F(x))`` from ``B(0) = mean``; ``mean - x`` below 0."""
    if level <= 0:
        return demand.mean - level
    below = demand.at_most(np.arange(level))
    return max(demand.mean - float(np.sum(1.0 - below)), 0.0)


def fill_rate(demand: LeadTimeDemand, level: int, quantity: int) -> float:
    """Share of unit needs met from the shelf when ``quantity`` is ordered at ``level``:
    ``1 - (B(r) - B(r + Q)) / Q``."""
    if demand.distribution == "none":
        return 1.0
    short = expected_shortage(demand, level) - expected_shortage(demand, level + quantity)
    return 1.0 - short / quantity


def reorder_point(demand: LeadTimeDemand, *, target: float, quantity: int) -> ReorderPoint:
    """The lowest level that reaches the target fill rate. Raises `ValueError` for a target outside 0 to 1."""
    if not 0 < target < 1:
        raise ValueError("a fill rate lies between 0 and 1")
    if quantity < 1:
        raise ValueError("an order holds at least one")
    if demand.distribution == "none":
        return ReorderPoint(-1, 1.0, demand)
    level = -1
    while fill_rate(demand, level, quantity) < target:
        level += 1
        if level > HIGHEST:
            raise ValueError("no stock that could be kept reaches the target")
    return ReorderPoint(level, fill_rate(demand, level, quantity), demand)
