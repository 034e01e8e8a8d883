"""Which distribution the demand of a lead time gets, by what is known of jobs and of past lead times.

Two moments are enough for most items. They are not where jobs take several pieces at once, or where the lead time is
one of a few: then the chances are worked out count by count.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kits.calculations.compound_demand import compound_demand, reorder_point_of_jobs
from kits.calculations.counted_demand import mixture
from kits.calculations.reorder_point import LeadTimeDemand, ReorderPoint, lead_time_demand, reorder_point

# All that follows: common practice, no source. Below so many jobs their sizes are chance; with fewer than one job in
# ten above one piece, sizes make no difference worth the words.
FEWEST_JOBS = 8
LEAST_SHARE_ABOVE_ONE = 0.10
# A lead time is one of a few where the past ones lie in two to four groups, each of so many receipts and of a tenth
# of all, parted by gaps of more than a week and of a quarter of the mean.
FEWEST_IN_A_GROUP = 4
LEAST_SHARE_OF_A_GROUP = 0.10
MOST_GROUPS = 4
LEAST_GAP_DAYS = 7.0
LEAST_GAP_SHARE = 0.25


@dataclass(frozen=True)
class LeadTimeGroup:
    """Lead times that lie together: share of all, mean and standard deviation in days."""

    share: float
    mean_days: float
    sd_days: float


@dataclass(frozen=True)
class ChosenDemand:
    """Demand of lead time and review period, the sizes of jobs it was made from (empty where jobs take one each), the
    groups of lead times (empty where there is one), and why."""

    demand: LeadTimeDemand
    sizes: Mapping[int, float]
    groups: tuple[LeadTimeGroup, ...]
    because: str


def groups_of_lead_times(days: Sequence[float]) -> tuple[LeadTimeGroup, ...]:
    """The two to four groups in which past lead times lie; empty where they do not. Raises `ValueError` for a lead time
    below 0."""
    found = np.sort(np.asarray(days, np.float64))
    if len(found) and found[0] < 0:
        raise ValueError("a lead time is not below 0")
    if len(found) < 2 * FEWEST_IN_A_GROUP:
        return ()
    gap = max(LEAST_GAP_DAYS, LEAST_GAP_SHARE * float(found.mean()))
    groups = np.split(found, np.flatnonzero(np.diff(found) > gap) + 1)
    least = max(FEWEST_IN_A_GROUP, LEAST_SHARE_OF_A_GROUP * len(found))
    if not 2 <= len(groups) <= MOST_GROUPS or min(map(len, groups)) < least:
        return ()
    return tuple(LeadTimeGroup(len(one) / len(found), float(one.mean()), float(one.std(ddof=1))) for one in groups)


def sizes_that_matter(jobs: Mapping[int, int]) -> dict[int, float]:
    """Share of jobs by size where it makes a difference, else empty; ``jobs`` are numbers of past jobs by size."""
    total = sum(jobs.values())
    if total < FEWEST_JOBS or total - jobs.get(1, 0) < LEAST_SHARE_ABOVE_ONE * total:
        return {}
    return {size: count / total for size, count in sorted(jobs.items()) if count}


def choose_demand(
    *,
    monthly_mean: float,
    monthly_variance: float,
    variance_of_mean: float,
    lead_time_days: float,
    lead_time_sd_days: float,
    review_days: float,
    jobs: Mapping[int, int] | None = None,
    lead_times: Sequence[float] = (),
) -> ChosenDemand:
    """Demand from ordering until the goods are there, by the model the data call for.

    ``jobs`` are numbers of past jobs by size, ``lead_times`` the days past orders took. With groups of lead times their
    mixture replaces ``lead_time_days`` and its deviation. With sizes, jobs come at the rate of the mean over the mean
    size, as a Poisson process or as unevenly as leaves the monthly variance at least as it is (that of a sum of N jobs:
    ``E[N] Var[size] + Var[N] E[size]^2``, Wald), and their rate is as unsure as the mean.
    Without either: `reorder_point.lead_time_demand`. Raises `ValueError` as `compound_demand`.
    """
    sizes, groups = sizes_that_matter(jobs or {}), groups_of_lead_times(lead_times)
    mean_size = sum(size * share for size, share in sizes.items()) or 1.0
    spread = sum((size - mean_size) ** 2 * share for size, share in sizes.items())
    rate = monthly_mean / mean_size
    cases = []
    for one in groups or (LeadTimeGroup(1.0, lead_time_days, lead_time_sd_days),):
        pieces = lead_time_demand(
            monthly_mean=rate,
            monthly_variance=max(rate if sizes else 0.0, (monthly_variance - rate * spread) / mean_size**2),
            variance_of_mean=variance_of_mean / mean_size**2,
            lead_time_days=one.mean_days,
            lead_time_sd_days=one.sd_days,
            review_days=review_days,
        )
        cases.append((one.share, compound_demand(pieces, sizes) if sizes else pieces))
    demand = mixture(cases) if groups else cases[0][1]
    return ChosenDemand(demand, sizes, groups, _because(sizes, groups))


def reorder_point_by_data(chosen: ChosenDemand, *, target: float, quantity: int) -> ReorderPoint:
    """The lowest level that reaches the target fill rate with the chosen demand. Raises `ValueError` as
    `reorder_point`."""
    if chosen.sizes:
        return reorder_point_of_jobs(chosen.demand, chosen.sizes, target=target, quantity=quantity)
    return reorder_point(chosen.demand, target=target, quantity=quantity)


def _because(sizes: Mapping[int, float], groups: tuple[LeadTimeGroup, ...]) -> str:
    found = []
    if sizes:
        found.append(f"{1 - sizes.get(1, 0.0):.0%} of jobs take more than one, up to {max(sizes)}")
    if groups:
        days = ", ".join(f"{one.mean_days:.0f} days ({one.share:.0%})" for one in groups)
        found.append(f"goods take one of {len(groups)} times: {days}")
    return "; ".join(found) or "jobs take one each and lead times lie together: two moments tell enough"
