"""How much will be needed in a month, and how surely.

From four months with demand on, the method of Teunter, Syntetos, Babai 2011 (Eur. J. Oper. Res.,
doi 10.1016/j.ejor.2011.05.018): the chance of demand and its size are smoothed apart, so the rate falls while nothing
is used. With fewer, a rate of events with a gamma prior, so that three quiet years do not mean *never*.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

Method = Literal["tsb", "gamma-poisson", "none"]

ALPHA = 0.1
BETA = 0.1
FEWEST_FOR_SMOOTHING = 4
# Prior shape; without a prior length it is the usual vague choice for a rate.
PRIOR_EVENTS = 0.5
# Shrinks the ratio of variance to mean towards 1, the value of a Poisson process (common practice, no source).
PRIOR_MONTHS_OF_VARIANCE = 8


@dataclass(frozen=True)
class Forecast:
    """Mean and variance of a month's demand, and the variance of the mean itself, since it is only estimated.

    ``events`` and ``months`` are what it was learned from.
    """

    method: Method
    mean: float
    variance: float
    variance_of_mean: float
    events: float
    months: int


def forecast(amounts: Sequence[float]) -> Forecast:
    """The forecast for the month after the last; none without a single whole month. Raises `ValueError` for a figure
    that is none.

    The variance of a smoothed mean is ``s2 a / (2 - a)``; that of a gamma-Poisson rate is ``mean / months``, which
    makes the demand of a lead time exactly negative binomial.
    """
    series = np.asarray(amounts, dtype=np.float64)
    if len(series) == 0:
        return Forecast("none", 0.0, 0.0, 0.0, 0.0, 0)
    if not np.isfinite(series).all():
        raise ValueError("a month's demand is not a number")
    hits = int((series > 0).sum())
    if hits >= FEWEST_FOR_SMOOTHING:
        mean = tsb(series)
        variance = mean * variance_to_mean(series)
        return Forecast("tsb", mean, variance, variance * ALPHA / (2 - ALPHA), float(series.sum()), len(series))
    events = max(float(series.sum()), 0.0)
    months = len(series)
    mean = (PRIOR_EVENTS + events) / months
    return Forecast("gamma-poisson", mean, mean, mean / months, events, months)


def tsb(series: Sequence[float] | np.ndarray, alpha: float = ALPHA, beta: float = BETA) -> float:
    """Rate of the next month: chance of demand times its size. Starts as statsforecast does: size with the first
    demand, chance 1 or 0 with the first month."""
    chance, size = 0.0, 0.0
    for place, amount in enumerate(series):
        hit = amount > 0
        if place == 0:
            chance = 1.0 if hit else 0.0
        else:
            chance += beta * (float(hit) - chance)
        if hit:
            size = float(amount) if size == 0.0 else size + alpha * (float(amount) - size)
    return chance * size


def variance_to_mean(series: np.ndarray) -> float:
    """Ratio of variance to mean, never below 1, shrunk towards 1 where few months tell (common practice, no source)."""
    mean = float(series.mean()) if len(series) else 0.0
    if mean <= 0:
        return 1.0
    hits = int((series > 0).sum())
    ratio = float(series.var(ddof=1)) / mean if len(series) > 1 else 1.0
    return max(1.0, (hits * ratio + PRIOR_MONTHS_OF_VARIANCE) / (hits + PRIOR_MONTHS_OF_VARIANCE))
