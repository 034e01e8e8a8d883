"""Jobs that take several pieces at once, of many items together: what their sizes are, and what is then needed.

Two moments tell too little of such demand: of a job for three the shelf may serve two, or one. The pieces of a random
number of jobs are worked out one from the other as in `compound_demand`, all items in step.
"""

import itertools
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kits.calculations.demand_arrays import THOUSANDTHS, Floats, Ints
from kits.calculations.lead_time_choice import FEWEST_JOBS, LEAST_SHARE_ABOVE_ONE

# Who takes more at once takes it by the box: then two moments are enough (common practice, no source).
MOST_PIECES = 20
# Items whose largest job is of one class are worked out together.
CLASSES = (2, 4, 8, MOST_PIECES)
# Odd and without a pattern: the golden section of 64 bits.
SCATTER = np.uint64(0x9E3779B97F4A7C15)
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Jobs:
    """``counts`` (`MOST_PIECES`, items): how many past jobs took one piece, two, and so on. All are 0 where two moments
    are enough: few jobs, hardly one of more than a piece, or one of more than `MOST_PIECES`, or of parts of a piece."""

    counts: Ints

    @property
    def known(self) -> Flags:
        """Of which items sizes count, (items,)."""
        found: Flags = self.counts.max(axis=0, initial=0) > 0
        return found

    @property
    def largest(self) -> Ints:
        """Pieces of each item's largest job, (items,); 0 where sizes do not count."""
        found: Ints = ((self.counts > 0) * np.arange(1, MOST_PIECES + 1)[:, None]).max(axis=0)
        return found

    def sizes_of(self, place: int) -> dict[int, int]:
        """Numbers of past jobs by size, of one item."""
        return {int(size) + 1: int(self.counts[size, place]) for size in np.flatnonzero(self.counts[:, place])}

    def of(self, places: Ints) -> "JobSizes":
        """Shares of the sizes of some items that are known."""
        some = self.counts[:, places]
        largest = int(np.flatnonzero(some.any(axis=1))[-1]) + 1
        return JobSizes(some[:largest] / some.sum(axis=0))


@dataclass(frozen=True)
class JobSizes:
    """``shares`` (sizes, items) of jobs by pieces, from one piece on."""

    shares: Floats

    @property
    def pieces(self) -> Floats:
        """The sizes, as a column."""
        return np.arange(1.0, len(self.shares) + 1)[:, None]

    @property
    def mean(self) -> Floats:
        """Pieces of a job, (items,)."""
        found: Floats = (self.pieces * self.shares).sum(axis=0)
        return found

    @property
    def variance(self) -> Floats:
        """Of the pieces of a job, (items,)."""
        found: Floats = (np.square(self.pieces - self.mean) * self.shares).sum(axis=0)
        return found

    def number_of_jobs(self, mean: Floats, variance: Floats) -> tuple[Floats, Floats]:
        """Mean and variance of the number of jobs that gives so many pieces: as uneven as leaves the variance of the
        pieces at least as it is, ``E[N] Var[size] + Var[N] E[size]^2`` (Wald), and at least Poisson."""
        size = self.mean
        jobs = mean / size
        return jobs, np.maximum(jobs, (variance - jobs * self.variance) / np.square(size))

    def variance_of_pieces(self, mean: Floats, variance: Floats) -> Floats:
        """What the variance of the pieces is then."""
        found: Floats = np.maximum(variance, mean / self.mean * (self.variance + np.square(self.mean)))
        return found

    def shelf_shares(self, by_cycle: Flags) -> Floats:
        """By how many pieces a job looks past the first (sizes, items): the chance that it takes more than 0, 1, 2 ..
        over its mean. ``E[min(size, shelf)] / E[size]`` is then the chance that need and look together are within what
        there is (Axsaeter, Inventory Control, 3rd ed., ch. 5; value from memory). By cycle only the need counts."""
        more = np.flip(np.cumsum(np.flip(self.shares, axis=0), axis=0), axis=0) / self.mean
        more[:, by_cycle] = 0.0
        more[0, by_cycle] = 1.0
        found: Floats = more
        return found

    def rows(self, mean: Floats, variance: Floats, *, by_cycle: Flags, highest: int) -> Iterator[Floats]:
        """Chances of 0, 1 .. ``highest`` of what a shelf must hold so that needs are served, each (items,): the pieces
        needed, and what a job that comes then looks for past its first.

        ``P(n) = sum over k of (a + b k / n) g(k) P(n - k)`` (Panjer 1981, ASTIN Bulletin 12:22-26; value from memory).
        """
        jobs, spread = self.number_of_jobs(mean, variance)
        wide = spread > jobs * (1 + 1e-9)
        ratio = np.divide(jobs, spread, out=np.ones_like(jobs), where=wide)
        count = np.divide(jobs * ratio, 1 - ratio, out=np.zeros_like(jobs), where=wide)
        a = np.where(wide, 1 - ratio, 0.0)
        b = np.where(wide, (count - 1) * (1 - ratio), jobs)
        steady, falling = a * self.shares, b * self.pieces * self.shares
        looked = self.shelf_shares(by_cycle)
        # The latest first; what lies below 0 has no chance.
        nothing = np.zeros_like(jobs)
        latest = deque([nothing] * len(self.shares), maxlen=len(self.shares))
        for n in itertools.islice(itertools.count(), highest + 1):
            if n:
                chance = _summed(steady + falling * (1 / n), latest)
            else:
                chance = np.where(wide, np.exp(count * np.log(ratio)), np.exp(-jobs))
            latest.appendleft(chance)
            yield _summed(looked, latest)


def _summed(weights: Floats, rows: deque[Any]) -> Floats:
    found: Floats = weights[0] * rows[0]
    for weight, row in zip(weights[1:], itertools.islice(rows, 1, None), strict=True):
        found += weight * row
    return found


def without_jobs(items: int) -> Jobs:
    """Two moments are enough for all."""
    return Jobs(np.zeros((MOST_PIECES, items), np.int64))


def jobs_of_takers(place: Ints, taker: NDArray[Any], quantity: Ints, *, items: int) -> Jobs:
    """From what was taken: the item's place, 16 bytes that name who took it, and the quantity in thousandths, a row
    each; what came back of it is below 0. Whoever has taken nothing in the end was no job."""
    if not len(place):
        return without_jobs(items)
    first, last = np.frombuffer(taker.tobytes(), "<u8").reshape(-1, 2).T
    # Sorting by one number takes a quarter of the time; whoever shares one by chance is told apart below.
    order = np.argsort(first ^ last ^ (place.astype(np.uint64) * SCATTER))
    one, begin, end = place[order], first[order], last[order]
    changes = (one[1:] != one[:-1]) | (begin[1:] != begin[:-1]) | (end[1:] != end[:-1])
    starts = np.flatnonzero(np.r_[True, changes])
    return _jobs(one[starts], np.add.reduceat(quantity[order], starts), items)


def jobs_of_sizes(each: Sequence[Mapping[int, int]]) -> Jobs:
    """From numbers of past jobs by thousandths of a piece, of each item."""
    rows = [(place, size, count) for place, one in enumerate(each) for size, count in one.items()]
    if not rows:
        return without_jobs(len(each))
    place, size, count = np.array(rows, np.int64).T
    return _jobs(place.repeat(count), size.repeat(count), len(each))


def _jobs(place: Ints, taken: Ints, items: int) -> Jobs:
    took = taken > 0
    place, taken = place[took], taken[took]
    pieces = taken // THOUSANDTHS
    strange = np.bincount(place[(taken % THOUSANDTHS != 0) | (pieces > MOST_PIECES)], minlength=items) > 0
    usual = ~strange[place]
    counts = np.bincount((pieces[usual] - 1) * items + place[usual], minlength=MOST_PIECES * items)
    table = counts.reshape(MOST_PIECES, items)
    total = table.sum(axis=0)
    table[:, (total < FEWEST_JOBS) | (total - table[0] < LEAST_SHARE_ABOVE_ONE * total)] = 0
    return Jobs(table)
