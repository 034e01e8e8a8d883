"""The stock that a budget buys over a central store and its sites, level by level."""

from itertools import product
from typing import Any

import numpy as np
import pytest

from kits.calculations.multi_echelon import network, site_backorders
from kits.calculations.network_target import NotReached, TooFast, level_limits, target_stock, thinned

# Case B of the multi-echelon checks: rates a week, weeks.
CASE_B = network([0.30, 0.12], 6.0, [0.5, 1.0])
NOTHING = (np.zeros(1, dtype=int), np.zeros((1, 2), dtype=int))


@pytest.mark.parametrize(
    ("units", "owed", "levels"),
    [(0, 2.79, (0, 0, 0)), (3, 0.681158, (2, 1, 0)), (5, 0.176298, (3, 1, 1)), (8, 0.015567, (5, 2, 1))],
)
def test_a_budget_buys_the_best_split(units, owed, levels):
    """Computed by enumeration of every split with the exact binomial thinning."""
    found = target_stock(CASE_B, [1_000_000], now=NOTHING, budget=units * 1_000_000 + 999_999, model="exact")
    assert (found.stock.depot[0], *found.stock.sites[0]) == levels
    assert found.stock.backorders.sum() == pytest.approx(owed, abs=6e-6)
    assert found.chosen.cost == units * 1_000_000


def test_stock_that_is_there_is_judged_by_the_same_model():
    now = (np.array([3]), np.array([[1, 1]]))
    found = target_stock(CASE_B, [1_000_000], now=now, budget=0, model="exact")
    assert found.now.backorders.sum() == pytest.approx(0.176298, abs=6e-6)
    plenty = (np.array([300]), np.array([[100, 100]]))
    assert target_stock(CASE_B, [1], now=plenty, budget=0).now.backorders.sum() == pytest.approx(0, abs=1e-6)


def test_what_lies_above_the_levels_looked_at_is_under_a_millionth():
    items = network([[0.02, 0.4], [1.5, 0.9]], [30.0, 10.0], [2.0, 5.0])
    for place, (depot, site) in enumerate(zip(*level_limits(items, model="metric"), strict=True)):
        some = items.some(slice(place, place + 1))
        table = site_backorders(some, depot_levels=int(depot), site_levels=int(site), model="metric")
        assert table[0, -1, :, -1].max() < 1e-6


def test_the_levels_of_two_items_are_those_of_the_cheapest_way_to_so_few_waiting():
    """Computed by trying every split of up to four units of each."""
    items, prices = network([[0.05, 0.02], [0.01, 0.09]], [9.0, 14.0], 2.0), (300, 700)
    found = target_stock(items, prices, now=(np.zeros(2, int), np.zeros((2, 2), int)), budget=2600, model="exact")
    tables = [
        site_backorders(items.some(slice(place, place + 1)), depot_levels=4, site_levels=4, model="exact")[0]
        for place in range(2)
    ]
    least = [
        {
            total: min(
                table[split[0], 0, split[1]] + table[split[0], 1, split[2]]
                for split in product(range(5), repeat=3)
                if sum(split) == total
            )
            for total in range(9)
        }
        for table in tables
    ]
    best = min(
        least[0][first] + least[1][second]
        for first, second in product(range(9), range(9))
        if first * prices[0] + second * prices[1] <= 2600
    )
    assert found.stock.backorders.sum() >= best - 1e-9
    assert found.chosen.least <= best + 1e-9
    assert found.stock.backorders.sum() - best < 0.05


def test_what_moves_fast_names_its_item():
    with pytest.raises(TooFast) as refused:
        target_stock(network([[0.1], [90.0]], 10.0, 1.0), [1, 1], now=NOTHING, budget=1)
    assert refused.value.item == 1


def test_an_availability_beyond_reach_names_the_highest():
    items = network([0.4], 30.0, 2.0, stocked=False)
    lone = (np.zeros(1, int), np.zeros((1, 1), int))
    with pytest.raises(NotReached) as refused:
        target_stock(items, [1], now=lone, availability=0.99, pumps=10)
    # Nothing is kept at the site, so the way from the central store stays: 0.8 of ten pumps wait for it.
    assert refused.value.highest == pytest.approx(1 - 0.8 / 10, abs=1e-6)


def test_either_a_budget_or_an_availability():
    goals: list[dict[str, Any]] = [{}, {"budget": 1, "availability": 0.5, "pumps": 3}, {"availability": 0.5}]
    for goal in goals:
        with pytest.raises(ValueError, match="either a budget"):
            target_stock(CASE_B, [1], now=NOTHING, **goal)


def test_a_long_curve_is_thinned_and_keeps_its_ends():
    costs = np.arange(5000.0)
    points = np.stack([costs, np.exp(-costs / 300)])
    kept = thinned(points)
    assert 20 < kept.shape[1] <= 40
    assert kept[0, 0] == 0
    assert kept[0, -1] == 4999
    assert (np.diff(kept[0]) > 0).all()
    assert thinned(points[:, :7]).shape == (2, 7)
