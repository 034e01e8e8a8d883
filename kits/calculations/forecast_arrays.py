"""The forecast of many series at once, and which method each one gets.

From four months with demand on TSB: the chance of demand and its size are smoothed apart, so the rate falls while
nothing is used. With fewer, a rate of events with a gamma prior, so that three quiet years do not mean *never*.
Another method takes TSB's place only where it wins over rolling origins: every month from the thirteenth on is forecast
from the months before it, and the other's squared errors must be lower by more than two standard errors of the paired
difference (Diebold, Mariano 1995, J. Business & Economic Statistics 13:253-263, one step ahead; common practice).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_arrays import ALPHA, METHODS, Floats, Ints, Smoothing

METHOD_NAMES = ("none", "gamma-poisson", *METHODS)
FEWEST_FOR_SMOOTHING = 4
# Prior shape; without a prior length it is the usual vague choice for a rate.
PRIOR_EVENTS = 0.5
# Shrinks the ratio of variance to mean towards that of all series together (common practice, no source).
PRIOR_MONTHS_OF_VARIANCE = 8
FIRST_ORIGIN = 12
FEWEST_ORIGINS = 12
STANDARD_ERRORS = 2.0


@dataclass(frozen=True)
class Forecasts:
    """A month's demand of each series: place in ``METHOD_NAMES``, mean, variance, variance of the estimated mean.

    ``months`` is the length of each history, ``hits`` its months with demand, ``used`` the sum; ``squared_errors``
    (methods, series) the mean squared errors over ``origins`` rolling origins, in the order of ``METHODS``.
    """

    method: NDArray[np.int8]
    mean: Floats
    variance: Floats
    variance_of_mean: Floats
    months: Ints
    hits: Ints
    used: Floats
    pooled_variance_to_mean: Floats
    squared_errors: Floats
    origins: Ints


class Forecaster:
    """Takes months in one after the other and can forecast after each; it never looks ahead.

    ``first`` (series,) is the place of the first month of each series in the table.
    """

    def __init__(self, series: int, *, first: Ints | None = None, kind: type[np.floating[Any]] = np.float64) -> None:
        self.smoothing = Smoothing(series, first=first, kind=kind)
        self.first = np.zeros(series, np.int64) if first is None else first
        self.total = np.zeros(series)
        self.squares = np.zeros(series)
        self.hits = np.zeros(series, np.int64)
        self.errors = np.zeros((len(METHODS), series), kind)
        # Squares of what each method's squared error is below that of the first, TSB.
        self.gains = np.zeros((len(METHODS), series), kind)

    def take(self, amounts: Floats | Ints) -> None:
        """Take in the next month (series,). Raises `ValueError` for a figure that is none."""
        y = np.asarray(amounts, np.float64)
        if not np.isfinite(y).all():
            raise ValueError("a month's demand is not a number")
        months = self.smoothing.months
        if months >= FIRST_ORIGIN:
            judged = self.first + FIRST_ORIGIN <= months
            missed = [judged * np.square(self.smoothing.rate(method) - y) for method in METHODS]
            for place, one in enumerate(missed):
                self.errors[place] += one
                self.gains[place] += np.square(missed[0] - one)
        present = y if not months or (self.first <= months).all() else np.where(self.first <= months, y, 0)
        self.total += present
        self.squares += present * present
        self.hits += present > 0
        self.smoothing.take(amounts)

    def forecasts(self, *, pooled: float | None = None, groups: Ints | None = None) -> Forecasts:
        """The forecasts after the months taken in; ``pooled`` where the ratio of the other series is known already.

        Ratio of variance to mean: each series' own, shrunk to the one pooled over all series of its group (``groups``,
        whole numbers from 0; one group if left out) that smooth, by months
        with demand against 8, never below 1 (common practice, no source). The variance of a smoothed mean is
        ``s2 a / (2 - a)``, of a gamma-Poisson rate ``mean / months``.
        """
        months = np.maximum(self.smoothing.months - self.first, 0)
        long = np.maximum(months, 1)
        average = self.total / long
        spread = np.maximum(self.squares - self.total * average, 0) / np.maximum(months - 1, 1)
        smooths = (self.hits >= FEWEST_FOR_SMOOTHING) & (average > 0)
        counted = smooths & (months > 1)
        of_group = _pooled(spread, average, counted, groups) if pooled is None else np.full(len(average), float(pooled))
        own = np.divide(spread, average, out=np.ones_like(spread), where=(average > 0) & (months > 1))
        weight = self.hits + PRIOR_MONTHS_OF_VARIANCE
        ratio = np.maximum(1.0, (self.hits * own + PRIOR_MONTHS_OF_VARIANCE * of_group) / weight)
        method, origins, errors = self._method(months, smooths)
        few = (months > 0) & ~smooths
        mean = np.where(few, (PRIOR_EVENTS + np.maximum(self.total, 0)) / long, 0.0)
        for name in METHODS:
            chosen = method == METHOD_NAMES.index(name)
            if chosen.any():
                np.copyto(mean, self.smoothing.rate(name).astype(np.float64), where=chosen)
        variance = mean * np.where(few, of_group, ratio)
        of_mean = np.where(few, mean / long, variance * ALPHA / (2 - ALPHA))
        return Forecasts(
            method, mean, variance, of_mean, months, self.hits.copy(), self.total.copy(), of_group, errors, origins
        )

    def _method(self, months: Ints, smooths: NDArray[np.bool_]) -> tuple[NDArray[np.int8], Ints, Floats]:
        method = np.where(months == 0, 0, np.where(smooths, METHOD_NAMES.index("tsb"), 1)).astype(np.int8)
        origins = np.maximum(months - FIRST_ORIGIN, 0)
        errors = self.errors / np.maximum(origins, 1)
        best = errors.argmin(axis=0)
        gain = errors[0] - errors.min(axis=0)
        spread = np.take_along_axis(self.gains, best[None, :], axis=0)[0] / np.maximum(origins, 1) - np.square(gain)
        error = np.sqrt(np.maximum(spread, 0) / np.maximum(origins - 1, 1))
        wins = smooths & (origins >= FEWEST_ORIGINS) & (gain > STANDARD_ERRORS * error)
        np.copyto(method, (best + METHOD_NAMES.index("tsb")).astype(np.int8), where=wins)
        return method, origins, errors


def _pooled(spread: Floats, average: Floats, counted: NDArray[np.bool_], groups: Ints | None) -> Floats:
    """The pooled ratio of each series' group, never below 1; 1 where fewer than two series of the group count."""
    member = np.zeros(len(average), np.int64) if groups is None else groups
    size = int(member.max(initial=0)) + 1
    summed = np.bincount(member[counted], spread[counted], size)
    over = np.bincount(member[counted], average[counted], size)
    enough = np.bincount(member[counted], minlength=size) > 1
    ratios = np.maximum(1.0, np.divide(summed, over, out=np.ones(size), where=enough & (over > 0)))
    found: Floats = ratios[member]
    return found


def forecast_all(
    demand: Floats | Ints, *, first: Ints | None = None, pooled: float | None = None, groups: Ints | None = None
) -> Forecasts:
    """Forecasts after all months of ``demand`` (months, series). Raises `ValueError` for a figure that is none."""
    forecaster = Forecaster(demand.shape[1], first=first)
    for month in demand:
        forecaster.take(month)
    return forecaster.forecasts(pooled=pooled, groups=groups)
