"""Which sites lend to which. Stated values: computed by enumeration of every plan."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import linprog

from kits.calculations.reorder_point import LeadTimeDemand, expected_shortage
from kits.calculations.transfer_plan import (
    Lane,
    SiteStock,
    cost_of_buying,
    cost_of_moving,
    cover_needs,
    marginal_gain,
    plan_transfers,
)


def at(site, own, mean, cost=400.0, *, variance=None, **more):
    return SiteStock(site, own, LeadTimeDemand(mean, mean if variance is None else variance), cost, **more)


def moves(arcs):
    return [(one.lender, one.receiver, one.quantity) for one in arcs]


def test_what_each_unit_at_a_site_is_worth():
    """scipy 1.17: the survival function of the Poisson distribution."""
    assert at("a", 0, 1.2, 1.0).worths(5) == pytest.approx([0.6988, 0.3374, 0.1205, 0.0338, 0.0077], abs=5e-5)
    assert at("b", 0, 0.9, 1.0).worths(1) == pytest.approx([0.5934], abs=5e-5)
    assert at("c", 0, 2.5, 1.0).worths(6) == pytest.approx(stats.poisson(2.5).sf(np.arange(6)))


@pytest.mark.parametrize(("own", "gain"), [(1, -102), (2, 42), (3, 129), (4, 164)])
def test_one_kit_moves_where_it_is_worth_more_than_the_way(own, gain):
    lender, receiver = at("a", own, 1.2), at("b", 0, 0.9)
    assert marginal_gain(lender, receiver, 60.0) == pytest.approx(gain, abs=0.6)
    assert bool(plan_transfers([lender, receiver], {("a", "b"): Lane(60.0)})) == (gain > 0)


def test_borrowing_and_buying_for_a_firm_job():
    lost = float(at("a", 3, 1.2).worths(3)[2])
    assert cost_of_moving(move=60, lost_worth=lost) == pytest.approx(108.2, abs=0.05)
    assert cost_of_buying(order=20, late_cost_a_day=25, days_late=30) == 770


FOUR = [at("1", 5, 0.6, 100.0), at("2", 0, 1.5, 100.0), at("3", 1, 1.0, 250.0), at("4", 2, 0.4, 100.0)]
COSTS = {("1", "2"): 12, ("1", "3"): 15, ("1", "4"): 9, ("2", "3"): 10, ("2", "4"): 14, ("3", "4"): 11}
LANES = {pair: Lane(cost) for (a, b), cost in COSTS.items() for pair in ((a, b), (b, a))}


def expected_cost(stocks, have):
    return sum(
        one.waiting_cost * expected_shortage(one.demand, units)
        for one, units in zip(stocks, have, strict=True)
        if one.demand.mean > 0
    )


def test_four_sites_are_planned_as_by_enumeration():
    assert expected_cost(FOUR, [5, 0, 1, 2]) == pytest.approx(242.851, abs=5e-4)
    arcs = plan_transfers(FOUR, LANES)
    assert moves(arcs) == [("1", "2", 3), ("4", "3", 1)]
    assert 242.851 - sum(one.gain for one in arcs) == pytest.approx(91.6128, abs=6e-4)


def enumerated(stocks, lanes):
    """The least cost of any plan within the same limits, by trying all."""
    pairs = [pair for pair, lane in lanes.items() if lane.in_time]
    place = {one.site: number for number, one in enumerate(stocks)}
    least = expected_cost(stocks, [one.own for one in stocks])
    for units in product(*(range(stocks[place[pair[0]]].lendable + 1) for pair in pairs)):
        have, lent, cost, late = [one.own for one in stocks], [0] * len(stocks), 0.0, False
        for (lender, receiver), count in zip(pairs, units, strict=True):
            lent[place[lender]] += count
            have[place[lender]] -= count
            have[place[receiver]] += count
            cost += lanes[lender, receiver].cost * count
        for site in place:
            own = [(lanes[pair].usable, n) for pair, n in zip(pairs, units, strict=True) if pair[0] == site]
            late |= any(sum(n for v, n in own if v is not None and v <= u) > u for u, _ in own if u is not None)
        if not late and all(n <= one.lendable for n, one in zip(lent, stocks, strict=True)):
            least = min(least, cost + expected_cost(stocks, have))
    return least


@given(st.data())
@settings(max_examples=25, deadline=None)
def test_no_plan_is_better(data):
    amounts = st.integers(0, 3)
    stocks = [
        at(name, data.draw(amounts), data.draw(st.sampled_from([0.0, 0.3, 1.1, 2.5])),
           data.draw(st.sampled_from([50, 300])), variance=data.draw(st.sampled_from([None, 6.0])),
           position=data.draw(amounts), lends_down_to=data.draw(st.sampled_from([None, -1, 0, 2])))
        for name in "abc"
    ]  # fmt: skip
    ways = [("a", "b"), ("a", "c"), ("b", "c"), ("c", "a")]
    lanes = {
        way: Lane(
            data.draw(st.sampled_from([0.0, 5.0, 40.0])), data.draw(st.booleans()),
            data.draw(st.sampled_from([None, 1, 2])),
        )
        for way in ways
    }  # fmt: skip
    arcs = plan_transfers(stocks, lanes)
    before = expected_cost(stocks, [one.own for one in stocks])
    assert before - sum(one.gain for one in arcs) == pytest.approx(enumerated(stocks, lanes), abs=1e-3)
    pairs = {(one.lender, one.receiver) for one in arcs}
    assert not pairs & {(receiver, lender) for lender, receiver in pairs}
    for one in stocks:
        given_away = sum(arc.quantity for arc in arcs if arc.lender == one.site)
        assert given_away <= one.own
        if one.lends_down_to is not None and given_away:
            assert one.position - given_away >= one.lends_down_to


def test_a_lender_keeps_its_own_reorder_point_unless_a_person_lifts_it():
    kept, needy = at("a", 4, 0.1, position=4, lends_down_to=3), at("b", 0, 3.0)
    assert moves(plan_transfers([kept, needy], {("a", "b"): Lane(5.0)})) == [("a", "b", 1)]
    lifted = at("a", 4, 0.1, position=4)
    assert moves(plan_transfers([lifted, needy], {("a", "b"): Lane(5.0)})) == [("a", "b", 4)]


@pytest.mark.parametrize("lane", [Lane(5.0, in_time=False), Lane(5.0, usable=0)])
def test_what_comes_too_late_or_out_of_date_is_not_moved(lane):
    assert plan_transfers([at("a", 4, 0.1), at("b", 0, 3.0)], {("a", "b"): lane}) == []


def test_a_firm_need_is_served_before_a_likely_one():
    firm = at("b", 0, 0.2, firm=1)
    arcs = plan_transfers([at("a", 1, 0.4), firm, at("c", 0, 1.5)], {("a", "b"): Lane(5.0), ("a", "c"): Lane(5.0)})
    assert moves(arcs) == [("a", "b", 1)]


def test_of_equal_lenders_the_one_with_more_days_of_cover_lends():
    stocks = [at("a", 2, 0.0, days_of_cover=30), at("b", 2, 0.0, days_of_cover=90), at("c", 0, 0.3)]
    lanes = {("a", "c"): Lane(5.0), ("b", "c"): Lane(5.0)}
    assert {one.lender for one in plan_transfers(stocks, lanes)} == {"b"}


def test_a_surplus_and_a_need_at_the_least_cost():
    found = cover_needs([2, 2, 2], [2, 2, 1], np.array([[4, 6, 9], [5, 3, 7], [4, 8, 9]]), 20)
    assert found.cost == 23
    assert list(found.bought) == [0, 0, 0]
    assert list(found.moved.sum(0)) == [2, 2, 1]


def test_nearest_first_is_wrong():
    """Nearest first moves at 1 and buys at 50."""
    found = cover_needs([1, 1], [1, 1], np.array([[1, 2], [3, 100]]), 50)
    assert (found.cost, found.moved.tolist()) == (5, [[0, 1], [1, 0]])


def test_what_nobody_can_send_is_bought():
    found = cover_needs([3], [2, 1], np.array([[np.inf, 9.0]]), [30, 8])
    assert (found.bought.tolist(), found.moved.tolist(), found.cost) == ([2, 1], [[0, 0]], 68)


def test_an_assignment_costs_what_the_linear_programme_costs():
    """scipy 1.17, linprog by the dual simplex method."""
    draw = np.random.default_rng(7)
    surplus, need, costs = draw.integers(0, 4, 20), draw.integers(0, 4, 20), draw.uniform(1, 40, (20, 20))
    table = np.zeros((40, 420))
    for lender, receiver in product(range(20), range(20)):
        table[lender, lender * 20 + receiver] = table[20 + receiver, lender * 20 + receiver] = 1
    table[20:, 400:] = np.eye(20)
    answer = linprog(
        [*costs.ravel(), *[25.0] * 20], A_ub=table[:20], b_ub=surplus, A_eq=table[20:], b_eq=need, method="highs-ds"
    )
    assert cover_needs(list(map(int, surplus)), list(map(int, need)), costs, 25).cost == pytest.approx(answer.fun)
