"""Demand of many series at once: smoothing month by month, and the class of each pattern.

Arrays are (months, series), oldest month first, each month one contiguous row. Formulas: Croston 1972, Operational
Research Quarterly 23:289-303; Syntetos, Boylan 2005 (SBA: Croston less half the interval's constant); Teunter,
Syntetos, Babai 2011, Eur. J. Oper. Res., doi 10.1016/j.ejor.2011.05.018 (TSB). Start values are those of the library
statsforecast: size with the first demand, interval with its place, chance 1 or 0 with the first month.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]
Ints = NDArray[np.integer[Any]]

ALPHA = 0.1
BETA = 0.1
METHODS = ("tsb", "ses", "croston", "sba")
PATTERNS = ("none", "smooth", "intermittent", "erratic", "lumpy")
# Amounts have at most three places; whole thousandths keep the class exact.
THOUSANDTHS = 1000
# Beyond it, 100 n S^2 may leave 64 bits over a hundred months; then unbounded whole numbers are used.
LARGEST_SUM = 30_000_000


@dataclass(frozen=True)
class Rates:
    """Demand of the month after the last, a series each, by method."""

    tsb: Floats
    ses: Floats
    croston: Floats
    sba: Floats
    sbj: Floats

    def of(self, method: str) -> Floats:
        """The rates of a method by its name. Raises `AttributeError` for an unknown one."""
        rates: Floats = getattr(self, method)
        return rates


class Smoothing:
    """What smoothing remembers between months; it never looks ahead.

    ``first`` is the place of the first month of each series: months before it are absent, not zero. The interval of
    Croston's method starts at the place of the first demand; with ``mean_interval`` given (series,), at that.
    """

    def __init__(
        self,
        series: int,
        *,
        alpha: float = ALPHA,
        beta: float = BETA,
        first: Ints | None = None,
        mean_interval: Floats | None = None,
        kind: type[np.floating[Any]] = np.float64,
    ) -> None:
        self.alpha, self.beta = kind(alpha), kind(beta)
        self.first = first
        self.mean_interval = mean_interval
        self.months = 0
        self.size = np.zeros(series, kind)
        self.interval = np.ones(series, kind)
        self.chance = np.zeros(series, kind)
        self.level = np.zeros(series, kind)
        self.since = np.zeros(series, kind)
        self.seen = np.zeros(series, bool)

    def take(self, amounts: Floats | Ints) -> None:
        """Take in the next month (series,)."""
        y = amounts.astype(self.size.dtype, copy=False)
        hit = y > 0
        begins = None
        if self.first is not None:
            there = self.first <= self.months
            begins = self.first == self.months
            hit &= there
            self.since += there
        else:
            self.since += 1
        new = hit & ~self.seen
        again = hit & self.seen
        self.size += self.alpha * again * (y - self.size)
        self.interval += self.beta * again * (self.since - self.interval)
        np.copyto(self.size, y, where=new)
        np.copyto(self.interval, self.since if self.mean_interval is None else self.mean_interval, where=new)
        self.since[hit] = 0
        self.seen |= hit
        self._take_chance_and_level(y, hit, begins)
        self.months += 1

    def _take_chance_and_level(self, y: Floats, hit: NDArray[np.bool_], begins: NDArray[np.bool_] | None) -> None:
        if begins is None and self.months == 0:
            self.chance[:] = hit
            self.level[:] = y
            return
        if begins is None:
            self.chance += self.beta * (hit - self.chance)
            self.level += self.alpha * (y - self.level)
            return
        runs = self.first < self.months  # type: ignore[operator]
        self.chance += self.beta * runs * (hit - self.chance)
        self.level += self.alpha * runs * (y - self.level)
        np.copyto(self.chance, hit.astype(self.chance.dtype), where=begins)
        np.copyto(self.level, y, where=begins)

    def rate(self, method: str) -> Floats:
        """The rates of one method after the months taken in."""
        if method == "tsb":
            return self.chance * self.size
        if method == "ses":
            return self.level.copy()
        croston = self.size / self.interval
        croston[~self.seen] = 0
        if method == "croston":
            return croston
        if method == "sba":
            return croston * (1 - self.beta / 2)
        if method == "sbj":
            return croston * (1 - self.beta / (2 - self.beta))
        raise ValueError(f"no such method: {method}")

    def rates(self) -> Rates:
        """The rates of every method after the months taken in."""
        return Rates(*(self.rate(one) for one in ("tsb", "ses", "croston", "sba", "sbj")))


def smooth(demand: Floats | Ints, **options: Any) -> Rates:
    """Rates after all months of ``demand`` (months, series); options as of `Smoothing`. Raises `ValueError` for a
    figure that is none."""
    if np.issubdtype(demand.dtype, np.floating) and not np.isfinite(demand).all():
        raise ValueError("a month's demand is not a number")
    smoothing = Smoothing(demand.shape[1], **options)
    for month in demand:
        smoothing.take(month)
    return smoothing.rates()


def patterns(demand: Floats | Ints, months: Ints | None = None) -> NDArray[np.int8]:
    """Places in ``PATTERNS`` of each series; ``months`` (series,) where series are shorter than the table.

    Cuts of Syntetos, Boylan, Croston 2005, J. Oper. Res. Soc. 56:495-503: interval 1.32, squared variation 0.49; on a
    border the upper class counts. Worked out in whole numbers, because 0.7 squared is not 0.49 in binary.
    """
    amounts = np.rint(np.maximum(demand, 0) * float(THOUSANDTHS)).astype(np.int64)
    count, total = (amounts > 0).sum(axis=0), amounts.sum(axis=0)
    if (total >= LARGEST_SUM).any():
        amounts, count, total = amounts.astype(object), count.astype(object), total.astype(object)
    squares = (amounts * amounts).sum(axis=0)
    length = np.full(demand.shape[1], demand.shape[0]) if months is None else months
    rare = 100 * length >= 132 * count
    varied = 100 * count * squares >= 149 * total * total
    return np.where(count == 0, 0, 1 + rare + 2 * varied.astype(bool)).astype(np.int8)
