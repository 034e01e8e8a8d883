"""What will be out of date before anybody uses it, and how many may be bought so that little is.

Demand is random, so some waste is expected even where mean demand would use everything up; the idea is that of
Broekmeulen, van Donselaar 2009, Computers & Operations Research 36:3013-3018.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from kits.calculations.count_probabilities import pmf_rows
from kits.calculations.demand_arrays import Floats
from kits.calculations.reorder_arrays import period_moments
from kits.calculations.reorder_point import HIGHEST, LeadTimeDemand

BLOCK = 8192
# Of an order, the share that may be expected to die on the shelf (common practice, no source).
MOST_DYING = 0.10


def expected_waste(lots: Sequence[tuple[float, int]], *, rate: float) -> list[float]:
    """Pieces of each lot expected to be out of date unused, in the order given.

    ``lots`` are (days until out of date, pieces), all on the shelf; demand is Poisson with ``rate`` pieces a day and
    takes what dies first. How many are left is followed from expiry to expiry: where k are left of which y are younger,
    ``max(k - y, 0)`` die. Raises `ValueError` for days, pieces or a rate below 0.
    """
    if rate < 0 or any(days < 0 or pieces < 0 for days, pieces in lots):
        raise ValueError("days, pieces and the rate are not below 0")
    order = sorted(range(len(lots)), key=lambda place: (lots[place][0], place))
    left = np.zeros(sum(pieces for _, pieces in lots) + 1)
    left[-1] = 1.0
    counts, since = np.arange(len(left)), 0.0
    younger, found = len(left) - 1, [0.0] * len(lots)
    for place in order:
        days, pieces = lots[place]
        left = _after(left, rate * (days - since))
        since = days
        younger -= pieces
        dying = np.maximum(counts - younger, 0)
        found[place] = float(left @ dying)
        left[younger] += left[younger + 1 :].sum()
        left[younger + 1 :] = 0.0
    return found


def _after(left: NDArray[np.float64], mean: float) -> NDArray[np.float64]:
    """Chances of what is left after Poisson demand; what cannot be met finds nothing more."""
    if mean <= 0:
        return left
    highest = len(left) - 1
    rows = pmf_rows(np.array([mean]), np.array([mean]), highest)
    demand = np.array([float(row[0]) for row in rows])
    found = np.zeros_like(left)
    for count in np.flatnonzero(left):
        found[1 : count + 1] += left[count] * demand[:count][::-1]
        found[0] += left[count] * max(1.0 - demand[:count].sum(), 0.0)
    return found


def dying_share(demand: LeadTimeDemand, pieces: int) -> float:
    """Share of so many fresh pieces expected to die where ``demand`` is that of their life: ``E[max(S - D, 0)] / S``.
    Raises `ValueError` for less than one piece."""
    if pieces < 1:
        raise ValueError("a share of at least one piece")
    if demand.distribution == "none":
        return 1.0
    return float(demand.at_most(np.arange(pieces)).sum()) / pieces


def shelf_life_cap(
    *,
    monthly_mean: float,
    monthly_variance: float,
    variance_of_mean: float,
    months: float | None,
    most_dying: float = MOST_DYING,
) -> int | None:
    """How many may be ordered at once so that at most ``most_dying`` of them are expected to die; at least 1, since
    what is asked for has to be ordered however it ages.

    ``months`` is the life left on arrival; None where nothing in it ages: then there is no cap. Mean and variances of a
    month's demand as of a forecast. Raises `ValueError` for a share that is not between 0 and 1.
    """
    if months is None:
        return None
    monthly = tuple(np.array([float(one)]) for one in (monthly_mean, monthly_variance, variance_of_mean))
    return int(
        shelf_life_caps((monthly[0], monthly[1], monthly[2]), months=np.array([months]), most_dying=most_dying)[0]
    )


def shelf_life_caps(
    monthly: tuple[Floats, Floats, Floats], *, months: Floats, most_dying: float = MOST_DYING
) -> Floats:
    """`shelf_life_cap` of many items: mean, variance and variance of the mean of a month's demand, each (items,), and
    the life left on arrival in months, infinite where nothing ages: so is the cap then. Never above `HIGHEST` else."""
    if not 0 < most_dying < 1:
        raise ValueError("the share that may die lies between 0 and 1")
    caps = np.full(monthly[0].shape, np.inf)
    ageing = np.flatnonzero(np.isfinite(months))
    caps[ageing] = 1
    mean, variance = period_moments(
        (monthly[0][ageing], monthly[1][ageing], monthly[2][ageing]), months=np.maximum(months[ageing], 0)
    )
    used = np.flatnonzero(mean > 0)
    used = used[np.argsort(mean[used], kind="stable")]
    for start in range(0, len(used), BLOCK):
        block = used[start : start + BLOCK]
        caps[ageing[block]] = _caps(mean[block], variance[block], most_dying)
    return caps


def _caps(mean: Floats, variance: Floats, most_dying: float) -> NDArray[np.int64]:
    caps, growing = np.ones(len(mean), np.int64), np.ones(len(mean), bool)
    below, dying = np.zeros(len(mean)), np.zeros(len(mean))
    for pieces, chance in enumerate(pmf_rows(mean, variance), 1):
        # E[max(S - D, 0)] is the sum of P(D <= j) for j below S; its share of S never falls as S grows.
        below += chance
        dying += below
        growing &= dying <= most_dying * pieces
        caps[growing] = pieces
        if not growing.any() or pieces >= HIGHEST:
            break
    return caps
