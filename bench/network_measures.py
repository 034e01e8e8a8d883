"""Stock over a network of sites, and moves between them: the calculations, without a database."""

from collections.abc import Iterator

import numpy as np
from scipy.optimize import linear_sum_assignment

from bench.timing import Comparison, compare
from kits.calculations.count_probabilities import pmf_rows
from kits.calculations.multi_echelon import Network, network
from kits.calculations.network_target import Target, level_limits, target_stock
from kits.calculations.reorder_point import LeadTimeDemand
from kits.calculations.transfer_plan import Lane, SiteStock, cover_needs, plan_transfers

ITEMS, SITES, LENDERS = 5_000, 50, 200
BUDGET = 300_000_0000
TURNS = 5


def measures_of_the_network() -> Iterator[Comparison]:
    """Each measure in turn, on made-up slow movers."""
    yield targets_of_many_kits()
    yield moves_over_many_sites()
    yield covering_needs()


def slow_movers() -> tuple[Network, list[int]]:
    """Kits needed about once in ten years at each of many sites, two weeks to three months from their supplier, with
    their prices in ten-thousandths."""
    draw = np.random.default_rng(20)
    rates = draw.gamma(0.5, 0.02, (ITEMS, SITES)) / 30.4375
    items = network(rates, draw.uniform(14, 90, ITEMS), draw.uniform(1, 7, SITES))
    return items, [int(one) for one in draw.integers(20_0000, 900_0000, ITEMS)]


def targets_of_many_kits() -> Comparison:
    """The floor adds up the chances of every count that has to be looked at, for each kit, site and level of the
    central store, and does nothing with them."""
    items, prices = slow_movers()
    now = (np.zeros(ITEMS, dtype=int), np.zeros((ITEMS, SITES), dtype=int))
    depot, site = (int(one.mean()) for one in level_limits(items, model="vari-metric"))
    mean = items.rates * (items.transit_days + items.depot_days[:, None])

    def ours(_: int) -> Target:
        return target_stock(items, prices, now=now, budget=BUDGET)

    def floor(_: int) -> None:
        for _level in range(depot + 1):
            total = np.zeros_like(mean)
            for chances in pmf_rows(mean, mean, site):
                total += chances

    return compare(
        f"Stock of {ITEMS} kits at {SITES} sites and a central store for a budget", ours, floor,
        floor_words=f"sums of Poisson chances, {depot + 1} levels of the central store, {site + 1} of each site",
        unit="kits", per_turn=ITEMS, turns=TURNS,
    )  # fmt: skip


def moves_over_many_sites() -> Comparison:
    """One kit that two hundred sites may lend to one another. The floor assigns each unit that could leave to a unit
    that could be wanted, at random costs."""
    draw = np.random.default_rng(21)
    stocks = [
        SiteStock(
            f"{number:03}", int(draw.integers(0, 4)), LeadTimeDemand(float(mean), float(mean)), 400.0,
            position=int(draw.integers(0, 5)), lends_down_to=0,
        )
        for number, mean in enumerate(draw.uniform(0.05, 2, LENDERS))
    ]  # fmt: skip
    costs = draw.uniform(10, 90, (LENDERS, LENDERS))
    lanes = {
        (start.site, end.site): Lane(float(costs[place, other]))
        for place, start in enumerate(stocks)
        for other, end in enumerate(stocks)
        if place != other
    }
    units = np.array([place for place, one in enumerate(stocks) for _ in range(one.lendable)])

    def ours(_: int) -> None:
        assert plan_transfers(stocks, lanes)

    def floor(_: int) -> None:
        linear_sum_assignment(costs[units, :])

    return compare(
        f"Moves of one kit between {LENDERS} sites, {len(lanes)} ways", ours, floor,
        floor_words=f"linear_sum_assignment of {len(units)} units to {LENDERS} sites", unit="plans", turns=TURNS,
    )  # fmt: skip


def covering_needs() -> Comparison:
    """The simpler question, plain surplus and need, costs little more than the assignment itself."""
    draw = np.random.default_rng(22)
    costs = draw.uniform(1, 40, (LENDERS, LENDERS))
    ones = [1] * LENDERS

    def ours(_: int) -> None:
        assert cover_needs(ones, ones, costs, 25.0).cost > 0

    def floor(_: int) -> None:
        linear_sum_assignment(costs)

    return compare(
        f"Borrow or buy for {LENDERS} sites with one to spare or one lacking", ours, floor,
        floor_words=f"linear_sum_assignment of {LENDERS} by {LENDERS}", unit="plans", turns=TURNS,
    )  # fmt: skip
