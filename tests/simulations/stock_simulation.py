"""A shelf played through event by event, to hold the formulas of stock against.

The order of events is fixed. By the clock (``review_days`` left out), at one moment: what was ordered comes, what is
owed is served, a piece is needed, and at once it is looked whether to order. By the day: what was ordered comes, what
is owed is served, the day's needs, then at the end of every so many days the review; what is ordered at the end of day
t can be used from the start of day t + 1 + lead time. Needs and lead times come from streams of their own, so that two
policies with one seed meet the same of both.
"""

import heapq
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

BATCHES = 40


class LeadTimes(Protocol):
    """When what is ordered comes."""

    def arrival(self, place: int, ordered: float) -> float:
        """The moment at which the order of this place, counted from 0, placed at ``ordered``, comes."""


@dataclass(frozen=True)
class Fixed:
    """Every order takes as many days."""

    days: float

    def arrival(self, place: int, ordered: float) -> float:
        """So many days later."""
        return ordered + self.days


@dataclass(frozen=True)
class Crossing:
    """Every order takes its own time, whatever the others do: a later one may come earlier."""

    days: NDArray[np.float64]

    def arrival(self, place: int, ordered: float) -> float:
        """By the order's own time; the times begin anew where there are not enough."""
        return ordered + float(self.days[place % len(self.days)])


@dataclass
class InTurn:
    """One supplier whose lead time is as it is for a spell; who ordered first is served first."""

    days: NDArray[np.float64]
    spell: float
    last: float = field(default=0.0, init=False)

    def arrival(self, place: int, ordered: float) -> float:
        """By the time of the spell, not before the order before it."""
        self.last = max(self.last, ordered + float(self.days[int(ordered // self.spell) % len(self.days)]))
        return self.last


@dataclass(frozen=True)
class Estimate:
    """A mean and its standard error, from means of batches."""

    mean: float
    error: float

    def holds(self, theory: float, errors: float = 3.0) -> bool:
        """Whether a theory lies within so many standard errors."""
        return abs(self.mean - theory) <= errors * self.error


@dataclass(frozen=True)
class Simulated:
    """What came of it. ``positions`` are the lowest and highest of on hand + on order - owed after it was looked
    whether to order; ``orders`` how many were placed after the warm-up."""

    needs: int
    met: int
    fill_rate: Estimate
    on_hand: Estimate
    owed: Estimate
    orders: int
    positions: tuple[int, int]


class _Shelf:
    def __init__(self, level: int, quantity: int, lead_times: LeadTimes, *, lost: bool) -> None:
        self.level, self.quantity, self.lead_times, self.lost = level, quantity, lead_times, lost
        self.on_hand, self.owed, self.on_order, self.orders = max(level + quantity, 0), max(-level - quantity, 0), 0, 0
        self.coming: list[tuple[float, int, int]] = []
        self.lowest = self.highest = level + quantity

    def receive(self) -> float:
        moment, _, pieces = heapq.heappop(self.coming)
        self.on_order -= pieces
        served = min(self.owed, pieces)
        self.owed -= served
        self.on_hand += pieces - served
        return moment

    def need(self) -> bool:
        if self.on_hand > 0:
            self.on_hand -= 1
            return True
        self.owed += not self.lost
        return False

    def review(self, moment: float) -> None:
        position = self.on_hand + self.on_order - self.owed
        if position <= self.level:
            pieces = -(-(self.level + 1 - position) // self.quantity) * self.quantity
            heapq.heappush(self.coming, (self.lead_times.arrival(self.orders, moment), self.orders, pieces))
            self.orders += 1
            self.on_order += pieces
            position += pieces
        self.lowest, self.highest = min(self.lowest, position), max(self.highest, position)


class _Tally:
    """Sums by batch of the time after the warm-up."""

    def __init__(self, begin: float, end: float) -> None:
        self.begin, self.length = begin, (end - begin) / BATCHES
        self.needs, self.met = np.zeros(BATCHES), np.zeros(BATCHES)
        self.on_hand, self.owed, self.time = np.zeros(BATCHES), np.zeros(BATCHES), np.zeros(BATCHES)

    def batch(self, moment: float) -> int | None:
        return None if moment < self.begin else min(int((moment - self.begin) / self.length), BATCHES - 1)

    def stand(self, moment: float, shelf: _Shelf, length: float) -> None:
        place = self.batch(moment)
        if place is not None:
            self.on_hand[place] += shelf.on_hand * length
            self.owed[place] += shelf.owed * length
            self.time[place] += length

    def ask(self, moment: float, met: bool) -> None:
        place = self.batch(moment)
        if place is not None:
            self.needs[place] += 1
            self.met[place] += met

    def told(self, shelf: _Shelf, orders_before: int) -> Simulated:
        return Simulated(
            int(self.needs.sum()),
            int(self.met.sum()),
            _ratio(self.met, self.needs),
            _ratio(self.on_hand, self.time),
            _ratio(self.owed, self.time),
            shelf.orders - orders_before,
            (shelf.lowest, shelf.highest),
        )


def _ratio(of: NDArray[np.float64], to: NDArray[np.float64]) -> Estimate:
    """Ratio of sums with the error of a ratio estimator over batches."""
    if not to.sum():
        return Estimate(1.0, 0.0)
    mean = float(of.sum() / to.sum())
    residuals = of - mean * to
    return Estimate(mean, float(np.sqrt(np.square(residuals).sum() * BATCHES / (BATCHES - 1)) / to.sum()))


def simulate(
    *,
    rate: float,
    days: float,
    level: int,
    lead_times: LeadTimes,
    seed: int,
    quantity: int = 1,
    lost: bool = False,
    review_days: int | None = None,
    warm_up: float = 0.0,
) -> Simulated:
    """Play ``days`` days with Poisson needs, ``rate`` a day: multiples of ``quantity`` are ordered where the position
    is at ``level`` or below. ``lost``: a need that cannot be met goes elsewhere, else it waits. Base stock S is level
    S - 1, quantity 1. Raises `ValueError` for a rate below 0, a quantity or review below 1, or a warm-up as long as
    the whole.
    """
    if rate < 0 or quantity < 1 or (review_days is not None and review_days < 1) or not 0 <= warm_up < days:
        raise ValueError("a rate from 0, a quantity and a review from 1, and a warm-up within the days")
    draw = np.random.default_rng([seed, 0])
    moments = np.sort(draw.uniform(0, days, draw.poisson(rate * days)))
    shelf, tally = _Shelf(level, quantity, lead_times, lost=lost), _Tally(warm_up, days)
    if review_days is None:
        return _by_the_clock(shelf, tally, moments.tolist(), days)
    return _by_the_day(shelf, tally, np.bincount(moments.astype(np.int64), minlength=int(days)).tolist(), review_days)


def _by_the_clock(shelf: _Shelf, tally: _Tally, moments: list[float], days: float) -> Simulated:
    now, before = 0.0, 0
    for moment in [*moments, days]:
        while shelf.coming and shelf.coming[0][0] <= moment:
            tally.stand(shelf.coming[0][0], shelf, shelf.coming[0][0] - now)
            now = shelf.receive()
        tally.stand(moment, shelf, moment - now)
        now = moment
        if moment < tally.begin:
            before = shelf.orders
        if moment < days:
            tally.ask(moment, shelf.need())
            shelf.review(moment)
    return tally.told(shelf, before)


def _by_the_day(shelf: _Shelf, tally: _Tally, needs: list[int], review_days: int) -> Simulated:
    before = 0
    for day, asked in enumerate(needs):
        while shelf.coming and shelf.coming[0][0] <= day:
            shelf.receive()
        for _ in range(asked):
            tally.ask(day, shelf.need())
        tally.stand(day, shelf, 1.0)
        if day < tally.begin:
            before = shelf.orders
        if (day + 1) % review_days == 0:
            shelf.review(day + 1)
    return tally.told(shelf, before)
