"""Which sites lend to which, in one run for one item.

The k-th unit at a site is worth what waiting costs times the chance that so many are needed before the next receipt.
These worths fall with k, so a linear programme takes them in order and no thresholds are needed; its constraints are
those of flow in a network, so a vertex is whole. The simplex method ends in one, an interior point need not.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment, linprog
from scipy.sparse import coo_array

from kits.calculations.reorder_point import LeadTimeDemand

# Decides between plans of equal cost and is too small to decide anything else.
TIE = 1e-7
NOTHING = 1e-6
# Of the first unit's worth: a unit worth less than this share is not worth moving at any cost.
NO_WORTH = 1e-9


@dataclass(frozen=True)
class SiteStock:
    """One item at one site until its next receipt.

    ``own``: usable units that no job holds; ``firm``: of the needs, those that are certain; ``demand``: the others;
    ``waiting_cost``: of one need that waits until the next receipt. ``lends_down_to``: the inventory position
    (``position``) that lending never goes below, the site's reorder point; None where a person lifted it.
    """

    site: str
    own: int
    demand: LeadTimeDemand
    waiting_cost: float
    position: int = 0
    lends_down_to: int | None = None
    firm: int = 0
    days_of_cover: float = 0.0

    @property
    def lendable(self) -> int:
        """The most that it may give."""
        if self.lends_down_to is None:
            return max(self.own, 0)
        return max(min(self.own, self.position - self.lends_down_to), 0)

    def worths(self, count: int) -> np.ndarray:
        """What the first, second .. unit is worth (count,): never rising."""
        chances = np.zeros(max(count, self.firm))
        chances[: self.firm] = 1.0
        open_ones = len(chances) - self.firm
        if open_ones and self.demand.distribution != "none":
            chances[self.firm :] = 1.0 - self.demand.at_most(np.arange(open_ones))
        return np.asarray(self.waiting_cost * chances[:count])


@dataclass(frozen=True)
class Lane:
    """A way between two sites. ``cost`` of moving one unit; ``in_time``: before the receiver's next receipt.

    ``usable``: units of the lender whose lots may still be fitted on arrival, None for all.
    """

    cost: float
    in_time: bool = True
    usable: int | None = None


@dataclass(frozen=True)
class Arc:
    """So many from one site to another, and what that is worth after the cost of moving."""

    lender: str
    receiver: str
    quantity: int
    gain: float


def marginal_gain(lender: SiteStock, receiver: SiteStock, cost: float) -> float:
    """What moving one unit is worth: ``p_i P(D_i > x_i) - p_j P(D_j >= x_j) - c``."""
    if lender.own < 1:
        raise ValueError("a site without stock lends nothing")
    gained = receiver.worths(receiver.own + 1)[receiver.own]
    return float(gained - lender.worths(lender.own)[lender.own - 1] - cost)


def plan_transfers(stocks: Sequence[SiteStock], lanes: Mapping[tuple[str, str], Lane]) -> list[Arc]:
    """The moves with the greatest gain in all, bundled by lender and receiver, sorted by both.

    Of plans of equal gain, sites with more days of cover lend first, then in the order of their names. Raises
    `ValueError` where a site is named twice or the answer is not whole.
    """
    sites = sorted(stocks, key=lambda one: one.site)
    if len({one.site for one in sites}) < len(sites):
        raise ValueError("a site is named once")
    place = {one.site: number for number, one in enumerate(sites)}
    lends = {one.site for one in sites if one.lendable > 0}
    ways = [
        (place[lender], place[receiver], lane)
        for (lender, receiver), lane in sorted(lanes.items())
        if lane.in_time and lender != receiver and lender in place and receiver in place
        and lender in lends and lane.usable != 0
    ]  # fmt: skip
    if not ways:
        return []
    moved = _solve(sites, ways)
    places = {(lender, receiver): number for number, (lender, receiver, _) in enumerate(ways)}
    for (lender, receiver), number in places.items():
        back = places.get((receiver, lender))
        if back is not None:
            both = min(moved[number], moved[back])
            moved[number] -= both
            moved[back] -= both
    return _with_gains(sites, ways, moved)


def _solve(sites: list[SiteStock], ways: list[tuple[int, int, Lane]]) -> list[int]:
    """Units by way. Unknowns: units by way, then slices of worth by site; a site's slices hold what it ends up with."""
    reach = sum(one.lendable for one in sites)
    worths = [_above_nothing(one.worths(max(one.own, 0) + reach), one.own) for one in sites]
    first = np.cumsum([len(ways), *(len(one) for one in worths)])
    place_of_cover = {
        number: place
        for place, number in enumerate(sorted(range(len(sites)), key=lambda one: (-sites[one].days_of_cover, one)))
    }
    scale = max(max((one.waiting_cost for one in sites), default=0.0), 1.0) * TIE / (len(sites) ** 2 + 1)
    costs = [lane.cost + scale * (1 + place_of_cover[lender] * len(sites) + end) for lender, end, lane in ways]
    given: list[list[tuple[int, Lane]]] = [[] for _ in sites]
    taken: list[list[int]] = [[] for _ in sites]
    for way, (lender, receiver, lane) in enumerate(ways):
        given[lender].append((way, lane))
        taken[receiver].append(way)
    rows: list[tuple[int, int, float]] = []
    limits: list[float] = []
    for number, one in enumerate(sites):
        rows += [(len(limits), int(first[number]) + k, 1.0) for k in range(len(worths[number]))]
        rows += [(len(limits), way, 1.0) for way, _ in given[number]]
        rows += [(len(limits), way, -1.0) for way in taken[number]]
        limits.append(max(one.own, 0))
        rows += [(len(limits), way, 1.0) for way, _ in given[number]]
        limits.append(one.lendable)
        # Lots that live long enough for a slow way do for a quick one too: the limits lie inside one another.
        for usable in sorted({lane.usable for _, lane in given[number] if lane.usable is not None}):
            within = [way for way, lane in given[number] if lane.usable is not None and lane.usable <= usable]
            rows += [(len(limits), way, 1.0) for way in within]
            limits.append(usable)
    lines, columns, values = zip(*rows, strict=True)
    table = coo_array((values, (lines, columns)), shape=(len(limits), int(first[-1]))).tocsr()
    highest = [np.inf] * len(ways) + [1.0] * int(first[-1] - len(ways))
    objective = np.concatenate([costs, *(-one for one in worths)])
    spans = [(0.0, one) for one in highest]
    # The stubs know no sparse tables.
    answer = linprog(objective, A_ub=table, b_ub=limits, bounds=spans, method="highs-ds")  # type: ignore[call-overload]
    if not answer.success:
        raise ValueError(f"no plan of transfers: {answer.message}")
    moved = answer.x[: len(ways)]
    if np.abs(moved - np.round(moved)).max() > NOTHING:
        raise ValueError("a plan of transfers is not whole")
    return [round(float(one)) for one in moved]


def _above_nothing(worths: np.ndarray, own: int) -> np.ndarray:
    """Slices beyond the last that is worth anything fill nothing and are left out; what is there keeps its own."""
    kept = max(own, 0)
    worth = np.count_nonzero(worths > NO_WORTH * max(float(worths[0]) if len(worths) else 0.0, 1e-300))
    return worths[: max(kept, int(worth))]


def _with_gains(sites: list[SiteStock], ways: list[tuple[int, int, Lane]], moved: list[int]) -> list[Arc]:
    """Arcs with their gains, which add up to that of the plan: moves to sites that lend too are counted first."""
    lending = {lender for (lender, _, _), units in zip(ways, moved, strict=True) if units}
    have = [max(one.own, 0) for one in sites]
    most = max(have) + sum(moved)
    worths = [one.worths(most + 1) for one in sites]
    found = []
    for (lender, receiver, lane), units in sorted(
        zip(ways, moved, strict=True), key=lambda one: (one[0][1] not in lending, one[0][:2])
    ):
        if units == 0:
            continue
        gained = worths[receiver][have[receiver] : have[receiver] + units].sum()
        lost = worths[lender][have[lender] - units : have[lender]].sum()
        have[receiver] += units
        have[lender] -= units
        gain = float(gained - lost - lane.cost * units)
        found.append(Arc(sites[lender].site, sites[receiver].site, units, gain))
    return sorted(found, key=lambda one: (one.lender, one.receiver))


def cost_of_moving(*, move: float, lost_worth: float, late_cost_a_day: float = 0.0, days_late: float = 0.0) -> float:
    """What borrowing one for a firm job costs: the move, what the lender loses, and the days it comes too late."""
    return move + lost_worth + late_cost_a_day * max(days_late, 0.0)


def cost_of_buying(*, order: float, late_cost_a_day: float, days_late: float) -> float:
    """What buying one for a firm job costs beyond its price, which is paid either way."""
    return order + late_cost_a_day * max(days_late, 0.0)


@dataclass(frozen=True)
class Cover:
    """Who covers which needs: units by lender and receiver, units bought by receiver, and what it costs in all."""

    moved: np.ndarray
    bought: np.ndarray
    cost: float


def cover_needs(surplus: Sequence[int], need: Sequence[int], costs: np.ndarray, buy: float | Sequence[float]) -> Cover:
    """Buy or borrow where each site has a plain surplus or need: unit by unit an assignment, at the least cost.

    ``costs`` (lenders, receivers) of moving one, infinite where it cannot be; ``buy`` of buying one for each receiver.
    Raises `ValueError` for quantities below zero.
    """
    if min([*surplus, *need], default=0) < 0:
        raise ValueError("a surplus or a need is not below zero")
    prices = np.broadcast_to(np.asarray(buy, dtype=float), (len(need),))
    lenders, receivers = np.repeat(np.arange(len(surplus)), surplus), np.repeat(np.arange(len(need)), need)
    moved, bought = np.zeros((len(surplus), len(need)), dtype=int), np.zeros(len(need), dtype=int)
    if not len(receivers):
        return Cover(moved, bought, 0.0)
    by_unit = np.asarray(costs, dtype=float)[np.ix_(lenders, receivers)]
    bought_units = np.broadcast_to(prices[receivers], (len(receivers), len(receivers)))
    # Moving at the price of buying or more is never better, and infinite costs cannot be assigned.
    table = np.vstack([np.minimum(by_unit, prices[receivers] + 1.0), bought_units])
    total = 0.0
    for row, column in zip(*linear_sum_assignment(table), strict=True):
        receiver = receivers[column]
        if row < len(lenders) and by_unit[row, column] <= prices[receiver]:
            moved[lenders[row], receiver] += 1
            total += by_unit[row, column]
        else:
            bought[receiver] += 1
            total += prices[receiver]
    return Cover(moved, bought, float(total))
