"""One budget for many items. Values computed by enumeration of every plan."""

import numpy as np
import pytest

from kits.calculations.multi_echelon import Plans, backorders
from kits.calculations.network_budget import availability, curve, to_availability, within_budget

PRICES = [5.0, 1.0]
PLANS = [
    Plans(backorders(np.array(mean), np.array(mean), 20), np.zeros(21, dtype=int), np.arange(21)) for mean in (1.0, 4.0)
]


def test_each_step_is_the_best_for_its_money():
    path = {1: 4.01832, 2: 3.10989, 3: 2.348, 4: 1.78147, 5: 1.4103, 6: 1.19544, 11: 0.563314, 12: 0.45264,
            17: 0.188399, 18: 0.137265}  # fmt: skip
    found = dict(curve(PLANS, PRICES))
    for cost, owed in path.items():
        assert found[cost] == pytest.approx(owed, abs=1e-5)


def test_what_is_left_of_the_money_is_spent_too():
    found = within_budget(PLANS, PRICES, 9)
    assert (found.totals, found.cost) == ((0, 9), 9)
    assert found.backorders == pytest.approx(1.01226, abs=1e-5)
    assert 0.563314 < found.least < found.backorders


def test_no_money_buys_nothing():
    assert within_budget(PLANS, PRICES, 0).totals == (0, 0)


def test_how_many_pumps_wait_for_nothing():
    assert availability([0.8], 40) == pytest.approx(0.98)
    assert availability([50.0], 40) == 0


def test_the_cheapest_step_that_reaches_an_availability():
    found = to_availability(PLANS, PRICES, pumps=40, target=0.98)
    assert found is not None
    left = [float(one.backorders[total]) for one, total in zip(PLANS, found.totals, strict=True)]
    assert availability(left, 40) >= 0.98
    dearer = [owed for cost, owed in curve(PLANS, PRICES) if cost < found.cost]
    assert 1 - dearer[-1] / 40 < 0.98
    assert to_availability([PLANS[0]], [5.0], pumps=1, target=1.1) is None
