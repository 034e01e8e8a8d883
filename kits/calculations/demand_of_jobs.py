"""What one item's jobs need in a lead time, as a plan tells of it: its mean and variance, and the chance of so many."""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from kits.calculations.compound_demand import chances_of_jobs
from kits.calculations.counted_demand import SMALLEST_TAIL
from kits.calculations.job_size_arrays import JobSizes
from kits.calculations.reorder_point import HIGHEST, LeadTimeDemand


@dataclass(frozen=True)
class DemandOfJobs(LeadTimeDemand):
    """Pieces needed by ``jobs`` of these ``sizes``; the chances are worked out when they are asked for."""

    jobs: LeadTimeDemand = field(kw_only=True)
    sizes: Mapping[int, float] = field(kw_only=True)

    @property
    def distribution(self) -> Literal["poisson", "negative-binomial", "counted", "none"]:
        """Counted, or none where nothing is needed."""
        return "counted" if self.mean > 0 else "none"

    def at_most(self, counts: np.ndarray) -> np.ndarray:
        """Chance of at most so many, for whole numbers from 0; beyond what could be kept, as of that. Raises
        `ValueError` where there is no demand."""
        if self.distribution == "none":
            raise ValueError("no demand, no distribution")
        summed = self._summed
        return np.asarray(np.where(counts < 0, 0.0, summed[np.clip(counts, 0, len(summed) - 1)]))

    @cached_property
    def _summed(self) -> np.ndarray:
        found, total = [], 0.0
        for chance in itertools.islice(chances_of_jobs(self.jobs, self.sizes), HIGHEST + 1):
            total += chance
            found.append(total)
            if total >= 1 - SMALLEST_TAIL:
                break
        return np.array(found)


def demand_of_jobs(pieces: LeadTimeDemand, counts: Mapping[int, int]) -> DemandOfJobs:
    """Demand with mean and variance of ``pieces`` that comes by the job; ``counts`` are past jobs by the pieces they
    took. The number of jobs is as uneven as leaves the variance at least as it is (`job_size_arrays.JobSizes`)."""
    total = sum(counts.values())
    shares = {size: count / total for size, count in sorted(counts.items())}
    sizes = JobSizes(np.array([[shares.get(size, 0.0)] for size in range(1, max(shares) + 1)]))
    one = np.array([pieces.mean]), np.array([pieces.variance])
    jobs, spread = sizes.number_of_jobs(*one)
    return DemandOfJobs(
        pieces.mean,
        float(sizes.variance_of_pieces(*one)[0]),
        jobs=LeadTimeDemand(float(jobs[0]), float(spread[0])),
        sizes=shares,
    )
