"""A central store and its sites.

Values of cases A and B: computed by enumeration of every split with the exact binomial thinning, and by simulation of
four million demands. Case A has the rates and times of a two-outlet sample in the manual of a general-purpose solver.
"""

from itertools import product

import numpy as np
import pytest
from scipy import stats

from kits.calculations.multi_echelon import (
    backorders,
    best_plans,
    depot_backorders,
    fill_rates,
    levels_of,
    network,
    plans_of,
    site_backorders,
)

CASE_A = network([0.1, 0.1], 14.0, 2.0)
CASE_B = network([0.30, 0.12], 6.0, [0.5, 1.0])
THREE = network([0.02, 0.02, 0.02], 2.0, 2.0)


@pytest.mark.parametrize(
    ("depot", "site", "metric", "vari", "exact"),
    [
        (2, 1, 0.22023, 0.25963, 0.264765), (3, 1, 0.09904, 0.13278, 0.133957), (5, 1, 0.02891, 0.03750, 0.036582),
        (2, 2, 0.04831, 0.08016, 0.079903), (0, 2, 0.326827, 0.326827, 0.326827),
    ],
)  # fmt: skip
def test_case_a_by_each_model(depot, site, metric, vari, exact):
    for model, expected in (("metric", metric), ("vari-metric", vari), ("exact", exact)):
        table = site_backorders(CASE_A, depot_levels=5, site_levels=3, model=model)  # type: ignore[arg-type]
        assert table[0, depot, 0, site] == pytest.approx(expected, abs=6e-6), model


def test_what_the_central_store_owes_in_case_a():
    mean, variance = depot_backorders(CASE_A.depot_mean, 2)
    assert mean[0, 2] == pytest.approx(1.09189, abs=5e-6)
    assert variance[0, 2] == pytest.approx(1.83427, abs=5e-6)
    assert mean[0, 2] / 0.2 == pytest.approx(5.45944, abs=5e-6)
    table = site_backorders(CASE_A, depot_levels=2, site_levels=1, model="exact")
    assert table[0, 2, 0, 1] / 0.1 == pytest.approx(2.648, abs=5e-4)


def test_case_b_best_split_of_every_total():
    best = [(2.79, (0, 0, 0)), (1.87046, (1, 0, 0)), (1.15368, (2, 0, 0)), (0.681158, (2, 1, 0)), (0.37941, (3, 1, 0)),
            (0.176298, (3, 1, 1)), (0.077787, (4, 1, 1)), (0.032774, (4, 2, 1)), (0.015567, (5, 2, 1))]  # fmt: skip
    table = site_backorders(CASE_B, depot_levels=8, site_levels=8, model="exact")
    plans = best_plans(table)[0]
    for total, (expected, levels) in enumerate(best):
        depot = int(plans.depot_levels[total])
        assert plans.backorders[total] == pytest.approx(expected, abs=6e-6)
        assert (depot, *levels_of(table[0], depot, total)) == levels
    metric = site_backorders(CASE_B, depot_levels=3, site_levels=1, model="metric")[0, 3, :, 1]
    assert metric == pytest.approx([0.0882, 0.0268], abs=6e-5)
    assert fill_rates(CASE_B, 0, 3, np.array([1, 1])) == pytest.approx([0.687, 0.797], abs=2e-3)


def test_case_b_simulated():
    """Every need asks the central store for one at once; it serves in turn, as soon as a replacement is in."""
    draw, needs, level = np.random.default_rng(20), 200_000, 3
    asked = np.cumsum(draw.exponential(1 / 0.42, needs))
    site = (draw.random(needs) < 0.12 / 0.42).astype(int)
    sent = asked.copy()
    sent[level:] = np.maximum(asked[level:], asked[:-level] + 6.0)
    waits = np.zeros(2)
    for place, transit in enumerate((0.5, 1.0)):
        own, comes = asked[site == place], sent[site == place] + transit
        # One on the shelf: a need takes what the need before it ordered.
        waits[place] = np.maximum(np.sort(comes)[:-1] - own[1:], 0).sum() / asked[-1]
    exact = site_backorders(CASE_B, depot_levels=3, site_levels=1, model="exact")[0, 3, :, 1]
    assert waits == pytest.approx(exact, rel=0.05)
    assert exact == pytest.approx([0.13892, 0.03746], abs=2e-4)


def test_units_one_by_one_are_as_good_as_every_split():
    draw = np.random.default_rng(3)
    for _ in range(6):
        some = network(draw.uniform(0.01, 0.4, 3), draw.uniform(1, 8), draw.uniform(0.2, 4, 3))
        table = site_backorders(some, depot_levels=5, site_levels=5, model="exact")
        plans = best_plans(table)[0]
        for total in range(6):
            splits = (one for one in product(range(total + 1), repeat=4) if sum(one) == total)
            least = min(sum(table[0, one[0], place, one[place + 1]] for place in range(3)) for one in splits)
            if total < len(plans.backorders):
                assert plans.backorders[total] == pytest.approx(least, abs=1e-10)


def test_the_best_plans_are_neither_nested_nor_convex():
    table = site_backorders(THREE, depot_levels=4, site_levels=4, model="exact")
    plans = best_plans(table)[0]
    assert plans.backorders[1:5] == pytest.approx([0.12692, 0.085523, 0.009349, 0.002728], abs=6e-6)
    assert [int(one) for one in plans.depot_levels[1:5]] == [1, 1, 0, 1]
    assert list(levels_of(table[0], 0, 3)) == [1, 1, 1]
    one, two = table[0, 1], table[0, 2]
    grown = min(two[0, 1] + 2 * two[1, 0], 2 * one[0, 1] + one[2, 0], one[0, 2] + 2 * one[1, 0])
    assert grown == pytest.approx(0.0441, abs=6e-5)
    assert 2 not in plans.corners
    assert 3 in plans.corners


def test_backorders_are_those_of_a_statistics_library():
    """scipy 1.17, poisson and nbinom; the sum over a long tail."""
    counts = np.arange(4000)
    for mean, variance in ((0.3, 0.3), (15.0, 15.0), (3.0, 9.0), (700.0, 700.0), (900.0, 1500.0)):
        given = stats.poisson(mean) if mean == variance else stats.nbinom(mean**2 / (variance - mean), mean / variance)
        ours = backorders(np.array(mean), np.array(variance), 18)
        for level in (0, 1, 18):
            assert ours[level] == pytest.approx((np.maximum(counts - level, 0) * given.pmf(counts)).sum(), rel=1e-6)
    assert backorders(np.array(15.0), np.array(15.0), 18)[18] == pytest.approx(0.517610, abs=5e-7)


def test_nobody_asks_and_nothing_is_kept():
    plans = plans_of(network([[0.0, 0.0], [0.0, 0.2]], 10.0, 3.0), depot_levels=3, site_levels=3, model="exact")
    assert list(plans[0].backorders) == [0.0]
    assert plans[1].backorders[0] == pytest.approx(2.6)


def test_a_site_with_a_supplier_of_its_own_does_not_wait_for_the_central_store():
    lone = network([0.1, 0.1], 14.0, [2.0, 9.0], supplied=[True, False])
    for model in ("metric", "vari-metric", "exact"):
        table = site_backorders(lone, depot_levels=4, site_levels=2, model=model)
        alone = [float(one) for one in backorders(np.array(0.9), np.array(0.9), 2)]
        for depot in (0, 4):
            assert table[0, depot, 1] == pytest.approx(alone)


def test_a_site_that_keeps_nothing_is_given_nothing():
    table = site_backorders(
        network([0.1, 0.1], 14.0, [0.0, 2.0], stocked=[False, True]), depot_levels=6, site_levels=6, model="exact"
    )
    plans = best_plans(table)[0]
    for total in plans.corners:
        assert levels_of(table[0], int(plans.depot_levels[total]), int(total))[0] == 0


def test_many_items_are_planned_as_each_alone():
    draw = np.random.default_rng(9)
    rates, days = draw.uniform(0, 0.05, (40, 4)), draw.uniform(5, 60, 40)
    together = plans_of(network(rates, days, 3.0), depot_levels=8, site_levels=5)
    for place in (0, 17, 39):
        alone = plans_of(network(rates[place], days[place], 3.0), depot_levels=8, site_levels=5)[0]
        shared = min(len(alone.backorders), len(together[place].backorders))
        assert together[place].backorders[:shared] == pytest.approx(alone.backorders[:shared], abs=1e-9)


@pytest.mark.parametrize("wrong", [([-1.0], 1.0, 1.0), ([1.0], float("nan"), 1.0), ([1.0], 1.0, -2.0)])
def test_figures_that_are_none_are_refused(wrong):
    with pytest.raises(ValueError, match="zero on"):
        network(*wrong)
