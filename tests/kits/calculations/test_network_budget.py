"""One budget for many items. Values computed by enumeration of every plan."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kits.calculations.multi_echelon import Plans, backorders, network
from kits.calculations.network_budget import (
    availability,
    availability_curve,
    curve,
    steps,
    to_availability,
    within_budget,
)
from kits.calculations.network_target import best_by_total

PRICES = [5.0, 1.0]
PLANS = [
    Plans(backorders(np.array(mean), np.array(mean), 20), np.zeros(21, dtype=int), np.arange(21)) for mean in (1.0, 4.0)
]
PATH = steps(PLANS, PRICES)


def test_each_step_is_the_best_for_its_money():
    path = {1: 4.01832, 2: 3.10989, 3: 2.348, 4: 1.78147, 5: 1.4103, 6: 1.19544, 11: 0.563314, 12: 0.45264,
            17: 0.188399, 18: 0.137265}  # fmt: skip
    found = dict(curve(PLANS, PATH).T.tolist())
    for cost, owed in path.items():
        assert found[cost] == pytest.approx(owed, abs=1e-5)


def test_what_is_left_of_the_money_is_spent_too():
    found = within_budget(PLANS, PRICES, 9, PATH)
    assert (found.totals, found.cost) == ((0, 9), 9)
    assert found.backorders == pytest.approx(1.01226, abs=1e-5)
    assert 0.563314 < found.least < found.backorders


def test_no_money_buys_nothing():
    assert within_budget(PLANS, PRICES, 0, PATH).totals == (0, 0)


def test_how_many_pumps_wait_for_nothing():
    assert availability([0.8], 40) == pytest.approx(0.98)
    assert availability([50.0], 40) == 0


def test_the_cheapest_step_that_reaches_an_availability():
    found = to_availability(PLANS, PATH, pumps=40, target=0.98)
    assert found is not None
    left = [float(one.backorders[total]) for one, total in zip(PLANS, found.totals, strict=True)]
    assert availability(left, 40) >= 0.98
    dearer = [owed for cost, owed in curve(PLANS, PATH).T if cost < found.cost]
    assert 1 - dearer[-1] / 40 < 0.98
    assert to_availability([PLANS[0]], steps([PLANS[0]], [5.0]), pumps=1, target=1.1) is None


def test_the_availability_after_each_step_is_that_of_its_plan():
    """Factors of nought among them: more wait than there are pumps until enough is kept."""
    _, _, shares = availability_curve(PLANS, PATH, pumps=2)
    for count, share in enumerate(shares):
        totals = PATH.taken(count, 2)
        left = [float(one.backorders[total]) for one, total in zip(PLANS, totals, strict=True)]
        assert share == pytest.approx(availability(left, 2))
    assert shares[0] == 0
    assert shares[-1] > 0.99


@given(st.lists(st.tuples(st.floats(0.01, 6.0), st.integers(1, 900)), min_size=1, max_size=4), st.data())
@settings(max_examples=60, deadline=None)
def test_more_money_never_leaves_more_waiting_and_none_is_overspent(items, data):
    means, prices = zip(*items, strict=True)
    plans = best_by_total(network([[mean / 20] for mean in means], 20.0, 3.0), model="exact")
    path, money = steps(plans, list(map(float, prices))), list(map(float, prices))
    before = np.inf
    for budget in sorted(data.draw(st.lists(st.integers(0, 6000), min_size=2, max_size=12))):
        found = within_budget(plans, money, budget, path)
        spent = sum(price * total for price, total in zip(prices, found.totals, strict=True))
        owed = sum(float(one.backorders[total]) for one, total in zip(plans, found.totals, strict=True))
        assert spent == found.cost <= budget
        assert owed == pytest.approx(found.backorders, abs=1e-9)
        assert found.least - 1e-9 <= owed <= before + 1e-9
        before = owed
