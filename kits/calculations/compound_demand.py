"""Demand of jobs that take several pieces at once, and what share of it the shelf serves.

The number of jobs is Poisson or negative binomial, their sizes are drawn apart from each other. The sum's chances are
worked out one from the other: Panjer 1981, ASTIN Bulletin 12:22-26 (value from memory).
"""

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from kits.calculations.counted_demand import SMALLEST_TAIL, CountedDemand, chances_of, counted
from kits.calculations.reorder_point import HIGHEST, LeadTimeDemand, ReorderPoint

# From here on exp(-jobs) comes near the smallest number there is; the sum is then made of halves.
MOST_JOBS_AT_ONCE = 500.0


def sizes_of_jobs(quantities: Iterable[int]) -> dict[int, float]:
    """Share of jobs by size, from what past jobs took. Raises `ValueError` for a size below 1 or no job at all."""
    counts: dict[int, int] = {}
    for one in quantities:
        if one < 1:
            raise ValueError("a job takes at least one")
        counts[one] = counts.get(one, 0) + 1
    total = sum(counts.values())
    if not total:
        raise ValueError("without a job there are no sizes")
    return {size: float(Fraction(count, total)) for size, count in sorted(counts.items())}


def compound_demand(jobs: LeadTimeDemand, sizes: Mapping[int, float]) -> CountedDemand:
    """Pieces needed by so many jobs, ``sizes`` being the share of jobs by size, from 1.

    ``P(n) = sum over k of (a + b k / n) g(k) P(n - k)`` from ``P(0)``, with ``a = 0, b = m`` for Poisson jobs and
    ``a = 1 - p, b = (r - 1)(1 - p)`` for negative binomial ones. Raises `ValueError` for shares that do not sum to 1,
    sizes below 1, or more than could ever be kept.
    """
    if not sizes or min(sizes) < 1 or min(sizes.values()) < 0 or abs(sum(sizes.values()) - 1) > 1e-9:
        raise ValueError("sizes are 1 or more and their shares sum to 1")
    if isinstance(jobs, CountedDemand):
        raise ValueError("the number of jobs is Poisson or negative binomial")
    if jobs.distribution == "none":
        return counted([1.0])
    if jobs.mean > MOST_JOBS_AT_ONCE:
        half = compound_demand(LeadTimeDemand(jobs.mean / 2, jobs.variance / 2), sizes).chances
        return counted(np.convolve(half, half))
    found: list[float] = []
    total, mean, largest = 0.0, jobs.mean * sum(size * share for size, share in sizes.items()), max(sizes)
    for n, chance in enumerate(chances_of_jobs(jobs, sizes)):
        found.append(chance)
        total += chance
        if total >= 1 - SMALLEST_TAIL or (n > mean and sum(found[-largest:]) < SMALLEST_TAIL * 1e-3):
            break
        if n > HIGHEST * largest:
            raise ValueError("more is needed than could be kept")
    return counted(found)


def chances_of_jobs(jobs: LeadTimeDemand, sizes: Mapping[int, float]) -> Iterator[float]:
    """P(0), P(1) .. without end, of at most `MOST_JOBS_AT_ONCE`."""
    a, b, first = 0.0, jobs.mean, math.exp(-jobs.mean)
    if jobs.distribution == "negative-binomial":
        ratio = jobs.mean / jobs.variance
        size = jobs.mean * ratio / (1 - ratio)
        a, b, first = 1 - ratio, (size - 1) * (1 - ratio), ratio**size
    shares = sorted(sizes.items())
    found = [first]
    yield first
    for n in itertools.count(1):
        found.append(sum((a + b * size / n) * share * found[n - size] for size, share in shares if size <= n))
        yield found[-1]


@dataclass(frozen=True)
class ServiceOfJobs:
    """``fill_rate``: share of pieces given from the shelf; ``whole_jobs``: share of jobs that got all of theirs."""

    fill_rate: float
    whole_jobs: float


def service_of_jobs(
    demand: LeadTimeDemand, sizes: Mapping[int, float], *, level: int, quantity: int = 1
) -> ServiceOfJobs:
    """What jobs get from the shelf where multiples of ``quantity`` are ordered at ``level`` or below.

    The position is evenly spread over r + 1 .. r + Q, what is left of it after a lead time is met by a job of size k,
    which gets ``min(k, what is on the shelf)`` (Axsaeter, Inventory Control, 3rd ed., ch. 5; value from memory). Raises
    `ValueError` for a quantity below 1.
    """
    if quantity < 1:
        raise ValueError("an order holds at least one")
    chances = chances_of(demand)
    highest = max(level + quantity, 0)
    # P(on the shelf = j), averaged over the positions.
    shelf = np.zeros(highest + 1)
    for position in range(max(level + 1, 0), level + quantity + 1):
        served = chances[: position + 1]
        shelf[position - np.arange(len(served))] += served / quantity
    counts = np.arange(highest + 1)
    given = sum(share * float(shelf @ np.minimum(counts, size)) for size, share in sizes.items())
    asked = sum(share * size for size, share in sizes.items())
    return ServiceOfJobs(
        given / asked, sum(share * float(shelf[counts >= size].sum()) for size, share in sizes.items())
    )


def reorder_point_of_jobs(
    demand: LeadTimeDemand, sizes: Mapping[int, float], *, target: float, quantity: int = 1
) -> ReorderPoint:
    """The lowest level with which jobs get the target share of their pieces from the shelf. Raises `ValueError` for a
    target outside 0 to 1 or one that no stock reaches."""
    if not 0 < target < 1:
        raise ValueError("a fill rate lies between 0 and 1")
    if demand.distribution == "none":
        return ReorderPoint(-1, 1.0, demand)

    def reached(level: int) -> float:
        return service_of_jobs(demand, sizes, level=level, quantity=quantity).fill_rate

    # More is never worse, so halving finds it.
    below, level = -2, 0
    while reached(level) < target:
        below, level = level, max(2 * level, 1)
        if level > HIGHEST:
            raise ValueError("no stock that could be kept reaches the target")
    while level - below > 1:
        middle = (below + level) // 2
        below, level = (below, middle) if reached(middle) >= target else (middle, level)
    return ReorderPoint(level, reached(level), demand)
