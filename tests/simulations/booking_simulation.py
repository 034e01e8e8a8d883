"""A shelf whose needs are partly booked ahead, played with bookings as they were known on the day, or as known later.

A replay that sees every booking from the start knows more than anybody did: it promises service that nobody had. The
order of events in a day is that of `stock_simulation` by the day; the review counts bookings due until what is ordered
now could be used.
"""

from dataclasses import dataclass

import numpy as np

from tests.simulations.stock_simulation import BATCHES, Estimate


@dataclass(frozen=True)
class Bookings:
    """Needs by day, each with the day it was booked; -1 where it never was."""

    needed: np.ndarray
    booked: np.ndarray


def draw_bookings(*, rate: float, days: int, share: float, ahead: tuple[int, int], seed: int) -> Bookings:
    """Poisson needs, ``rate`` a day; ``share`` of them booked between so many days ahead, evenly. Bookings from before
    the first day count as known on it."""
    draw = np.random.default_rng(seed)
    needed = np.sort(draw.integers(0, days, draw.poisson(rate * days)))
    early = draw.integers(ahead[0], ahead[1] + 1, len(needed))
    return Bookings(needed, np.where(draw.random(len(needed)) < share, np.maximum(needed - early, 0), -1))


def unseen_share(bookings: Bookings, horizon: int) -> float:
    """Share of needs that were not booked ``horizon`` days ahead: for the forecast they are unplanned."""
    seen = (bookings.booked >= 0) & (bookings.needed - bookings.booked >= horizon)
    return 1 - float(seen.mean())


def fill_with_bookings(
    bookings: Bookings, *, days: int, level: int, lead_time: int, as_known: bool, warm_up: int = 0
) -> Estimate:
    """Share of needs met at once where, at the end of every day, stock is topped up to ``level`` beyond the bookings
    due within lead time and a day. ``as_known``: each counts from the day it was booked; else from the start."""
    horizon = lead_time + 1
    booked = bookings.booked >= 0
    due = bookings.needed[booked]
    counts_from = np.maximum(due - horizon, bookings.booked[booked] if as_known else 0)
    counted = np.cumsum(
        np.bincount(np.maximum(counts_from, 0), minlength=days + 1)[: days + 1]
        - np.bincount(due, minlength=days + 1)[: days + 1]
    ).tolist()
    needs = np.bincount(bookings.needed, minlength=days).tolist()
    on_hand, owed, on_order = level, 0, 0
    coming = [0] * (days + horizon + 1)
    asked, met = np.zeros(BATCHES), np.zeros(BATCHES)
    length = (days - warm_up) / BATCHES
    for day in range(days):
        on_order -= coming[day]
        on_hand += coming[day]
        served = min(owed, on_hand)
        owed, on_hand = owed - served, on_hand - served
        given = min(needs[day], on_hand)
        on_hand -= given
        owed += needs[day] - given
        if day >= warm_up:
            place = min(int((day - warm_up) / length), BATCHES - 1)
            asked[place] += needs[day]
            met[place] += given
        ordered = max(level + counted[day] - (on_hand + on_order - owed), 0)
        coming[day + horizon] += ordered
        on_order += ordered
    mean = float(met.sum() / asked.sum())
    residuals = met - mean * asked
    return Estimate(mean, float(np.sqrt(np.square(residuals).sum() * BATCHES / (BATCHES - 1)) / asked.sum()))
