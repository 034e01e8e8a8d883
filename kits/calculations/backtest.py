"""A demand table replayed month by month against a policy that knows only the months behind it.

The order of events in a period: receipts, what is owed is served, demand, review. What is ordered at the end of period
t can be used from the start of t + 1 + L. Needs that cannot be met wait.
"""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_arrays import Ints
from kits.calculations.forecast_arrays import Forecaster
from kits.calculations.reorder_arrays import period_moments, stock_levels

FEWEST_DEMANDS = 5


class Policy(Protocol):
    """What decides on orders; it is told each month's demand after the month and nothing else."""

    def watch(self, demand: Ints) -> None:
        """The demand of a month that is over (series,)."""

    def start(self) -> Ints:
        """What is on the shelves when the replay begins (series,)."""

    def order(self, position: Ints) -> Ints:
        """What to order at the end of a month, given on hand + on order - owed (series,)."""


@dataclass(frozen=True)
class Replay:
    """By series: what was asked for and met at once, months with a shortage, orders; on hand at each month's end."""

    asked: Ints
    met: Ints
    stockouts: Ints
    orders: Ints
    on_hand: Ints

    @property
    def fill_rate(self) -> float | None:
        """Share of units met at once, pooled; None where fewer than five were asked for: that is no evidence."""
        asked = int(self.asked.sum())
        return None if asked < FEWEST_DEMANDS else int(self.met.sum()) / asked

    @property
    def standard_error(self) -> float | None:
        """Of the pooled fill rate, series being drawn as a whole (ratio estimator; Cochran, Sampling Techniques,
        3rd ed., eq. 6.13; value from memory)."""
        fill, count = self.fill_rate, len(self.asked)
        if fill is None or count < 2:
            return None
        residuals = self.met - fill * self.asked
        return float(np.sqrt(np.square(residuals).sum() * count / (count - 1)) / self.asked.sum())

    @property
    def mean_stock(self) -> float:
        """Units on all shelves at the end of a month, on average."""
        return float(self.on_hand.sum(axis=1).mean())


def replay(demand: Ints, policy: Policy, *, from_period: int, lead_time: int = 0) -> Replay:
    """Replay ``demand`` (periods, series), whole units, from a period (1 is the first). Raises `ValueError` for a
    period that is not in the table or a lead time below 0."""
    periods, series = demand.shape
    if not 1 <= from_period <= periods:
        raise ValueError(f"the table has periods 1 to {periods}")
    if lead_time < 0:
        raise ValueError("a lead time is not below 0")
    for month in demand[: from_period - 1]:
        policy.watch(month)
    on_hand = np.array(policy.start(), np.int64)
    owed = np.zeros(series, np.int64)
    coming = [np.zeros(series, np.int64) for _ in range(lead_time)]
    met, stockouts, orders = np.zeros(series, np.int64), np.zeros(series, np.int64), np.zeros(series, np.int64)
    ends: list[NDArray[np.int64]] = []
    arriving = np.zeros(series, np.int64)
    for month in demand[from_period - 1 :]:
        on_hand += arriving
        served = np.minimum(owed, on_hand)
        on_hand -= served
        owed -= served
        given = np.minimum(month, on_hand)
        on_hand -= given
        owed += month - given
        met += given
        stockouts += given < month
        ends.append(on_hand.copy())
        policy.watch(month)
        ordered = np.maximum(policy.order(on_hand + sum(coming, np.zeros(series, np.int64)) - owed), 0)
        orders += ordered > 0
        coming.append(ordered)
        arriving = coming.pop(0)
    return Replay(demand[from_period - 1 :].sum(axis=0), met, stockouts, orders, np.array(ends))


class TopUp:
    """Ordering up to a fixed level each month."""

    def __init__(self, levels: Ints) -> None:
        self.levels = levels

    def watch(self, demand: Ints) -> None:
        """Nothing is learned."""

    def start(self) -> Ints:
        """The levels themselves."""
        return self.levels

    def order(self, position: Ints) -> Ints:
        """What is missing to the level."""
        return self.levels - position


class DefaultPolicy:
    """What replenishment does: forecast, demand until the next chance to order has come in, level for the target."""

    def __init__(self, series: int, *, target: float, lead_time: int = 0, first: Ints | None = None) -> None:
        self.forecaster = Forecaster(series, first=first)
        self.target, self.lead_time = target, lead_time
        self.lasting = np.zeros(series, np.int64)

    def watch(self, demand: Ints) -> None:
        """Learn from a month."""
        self.forecaster.take(demand)

    def levels(self) -> Ints:
        """The level of each series after the months watched."""
        known = self.forecaster.forecasts()
        monthly = (known.mean, known.variance, known.variance_of_mean)
        return stock_levels(
            period_moments(monthly, months=self.lead_time),
            period_moments(monthly, months=self.lead_time + 1),
            target=self.target,
        )

    def start(self) -> Ints:
        """The levels after the months before."""
        return self.levels()

    def order(self, position: Ints) -> Ints:
        """What is missing to the level."""
        return self.levels() - position


class LastPeriod:
    """Ordering what was used last month, as people do by hand; starts with what the last months used."""

    def __init__(self, series: int, *, lead_time: int = 0) -> None:
        self.recent = [np.zeros(series, np.int64) for _ in range(lead_time + 1)]

    def watch(self, demand: Ints) -> None:
        """Remember a month."""
        self.recent = [*self.recent[1:], np.asarray(demand, np.int64)]

    def start(self) -> Ints:
        """What was used in as many months as an order takes."""
        return sum(self.recent, np.zeros_like(self.recent[0]))

    def order(self, position: Ints) -> Ints:
        """What was used in the month just over."""
        return self.recent[-1]


def fixed_levels(
    history: Ints, multiplier: float, *, lead_time: int = 0, first: Ints | None = None
) -> NDArray[np.int64]:
    """Levels a person sets from the mean of a history (periods, series): so many times it, at least 1. Periods before
    ``first`` (series,) are absent and do not lower the mean."""
    periods = len(history) if first is None else np.maximum(len(history) - first, 1)
    mean = history.sum(axis=0) / periods * (lead_time + 1)
    return np.maximum(1, np.ceil(multiplier * mean - 1e-9)).astype(np.int64)


def tuned_multiplier(
    history: Ints,
    replayed: Ints,
    wanted: float,
    *,
    from_period: int,
    lead_time: int = 0,
    first: Ints | None = None,
) -> float | None:
    """The lowest multiplier, to a hundredth, with which the fixed levels reach a fill rate in a replay; None where
    none does. More stock never serves less, so halving finds it."""

    def reaches(hundredths: int) -> bool:
        levels = fixed_levels(history, hundredths / 100, lead_time=lead_time, first=first)
        fill = replay(replayed, TopUp(levels), from_period=from_period, lead_time=lead_time).fill_rate
        return fill is not None and fill >= wanted

    high = 100
    while not reaches(high):
        high *= 2
        if high > 100 * 2 * max(int(replayed.sum()), 1) * max(len(history), 1):
            return None
    low = 0
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if reaches(middle) else (middle + 1, high)
    return low / 100
