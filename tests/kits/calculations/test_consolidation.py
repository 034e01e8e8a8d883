"""One order a supplier: joining, topping up, waiting. Chances by scipy, best choices by looking at all of them."""

import itertools
import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from kits.calculations.consolidation import Candidate, consolidate, words_of_consolidation
from kits.calculations.reorder_point import LeadTimeDemand

MINIMUM = Decimal(800)


def item(key, *, mean=1.0, position=0, price=100, needed=0, s=0, level=3, daily=0.02, cycle=0.0, **more):
    return Candidate(
        key=key,
        needed=needed,
        position=Decimal(position),
        reorder_point=s,
        order_up_to=level,
        demand=LeadTimeDemand(mean, mean),
        daily_use=daily,
        cycle_use=cycle,
        price=Decimal(price),
        **more,
    )


def three_items():
    """One is needed; the other two are above their can-order points, so they only come in to reach the minimum."""
    return [
        item(1, mean=1.0, position=0, price=180, needed=1, s=0),
        item(2, mean=0.4, position=0, price=400, s=-1, level=0),
        item(3, mean=1.5, position=1, price=60, s=-1, level=0),
    ]


def quantities(result):
    return {one.key: one.quantity for one in result.lines}


class TestWhatJoins:
    """The can-order rule: at or below the can-order point it joins, and is ordered up to its level."""

    @pytest.mark.parametrize(("position", "joins"), [(2, 4), (3, 3), (4, 0)])
    def test_what_is_nearly_due_joins_up_to_its_level(self, position, joins):
        triggered = item("a", needed=2)
        nearly = item("b", position=position, s=2, level=6, cycle=0.3)
        assert quantities(consolidate([triggered, nearly])).get("b", 0) == joins

    def test_a_longer_order_cycle_lets_more_join(self):
        often = item("b", position=4, s=2, level=6, cycle=0.3)
        assert often.can_order_point == 3
        assert replace(often, cycle_use=2.4).can_order_point == 4.4

    def test_what_is_full_never_joins(self):
        assert item("b", s=2, level=3, cycle=9.0).can_order_point == 2

    def test_nothing_joins_where_nothing_must_be_ordered(self):
        result = consolidate([item("b", position=1, s=0, level=6)], minimum_order_value=MINIMUM)
        assert result.verdict == "nothing"
        assert result.lines == ()

    def test_what_joins_keeps_the_suppliers_steps(self):
        result = consolidate([item("a", needed=1), item("b", position=1, s=0, level=4, minimum=4, multiple=2)])
        assert quantities(result)["b"] == 4

    def test_more_than_is_used_before_it_ages_does_not_join(self):
        result = consolidate([item("a", needed=1), item("b", position=1, s=0, level=4, minimum=4, highest=3)])
        assert quantities(result) == {"a": 1}


class TestToppingUp:
    def test_units_join_by_chance_of_need_for_their_money_until_the_minimum_is_met(self):
        """180 of 800: the third, third, first, third and second item join, which makes 2, 1 and 3 worth 940. The order
        of joining is worked out here with scipy's Poisson tail."""
        result = consolidate(three_items(), minimum_order_value=MINIMUM)
        assert result.verdict == "topped-up"
        assert [one.key for one in result.steps] == [3, 3, 1, 3, 2]
        assert quantities(result) == {1: 2, 2: 1, 3: 3}
        assert result.value == 940
        means, prices, stock = {1: 1.0, 2: 0.4, 3: 1.5}, {1: 180, 2: 400, 3: 60}, {1: 1, 2: 0, 3: 1}
        for step in result.steps:
            best = max(stock, key=lambda key: stats.poisson.sf(stock[key], means[key]) / prices[key])
            assert step.key == best
            assert step.chance == pytest.approx(stats.poisson.sf(stock[best], means[best]), rel=1e-12)
            stock[best] += 1

    @given(
        means=st.lists(st.floats(0.2, 3.0), min_size=3, max_size=3),
        prices=st.lists(st.integers(20, 200), min_size=3, max_size=3),
        minimum=st.integers(100, 500),
    )
    @settings(max_examples=60, deadline=None)
    def test_no_other_choice_for_the_same_money_meets_more_needs(self, means, prices, minimum):
        """All choices of up to six units each are looked at; what they meet is scipy's expected value of min(D, k)."""
        each = [
            item(key, mean=mean, price=price, needed=int(key == 0), s=-1, level=0)
            for key, (mean, price) in enumerate(zip(means, prices, strict=True))
        ]
        result = consolidate(each, minimum_order_value=Decimal(minimum))
        assume(result.verdict == "topped-up")
        chosen = [quantities(result).get(key, 0) for key in range(3)]

        def met(key, units):
            return sum(stats.poisson.sf(k, means[key]) for k in range(units))

        reached = sum(met(key, units) for key, units in enumerate(chosen))
        for other in itertools.product(range(7), repeat=3):
            cost = sum(units * price for units, price in zip(other, prices, strict=True))
            if other[0] >= 1 and cost <= result.value:
                assert sum(met(key, units) for key, units in enumerate(other)) <= reached + 1e-9

    def test_the_unsent_order_counts_towards_the_minimum(self):
        result = consolidate(three_items(), minimum_order_value=MINIMUM, already=Decimal(620))
        assert result.verdict == "enough"
        assert result.value == 800

    def test_steps_follow_minimum_and_multiple(self):
        each = [
            item(1, price=100, needed=1, s=0),
            item(2, mean=4.0, position=0, price=10, s=-1, level=0, minimum=3, multiple=2),
        ]
        result = consolidate(each, minimum_order_value=Decimal(150))
        assert [one.units for one in result.steps] == [4, 2]
        assert result.steps[0].chance == pytest.approx(np.mean(stats.poisson.sf([0, 1, 2, 3], 4.0)), rel=1e-12)

    def test_nothing_is_added_that_would_age_before_it_is_used(self):
        each = [item(1, price=100, needed=1, s=0, highest=1), item(2, mean=4.0, price=10, s=-1, level=0, highest=2)]
        result = consolidate(each, minimum_order_value=Decimal(200))
        assert result.verdict == "below-minimum"
        assert quantities(result) == {1: 1}

    def test_what_hardly_anybody_will_need_is_not_bought_to_reach_a_minimum(self):
        each = [item(1, mean=0.1, price=100, needed=1, s=0), item(2, mean=0.001, price=10, s=-1, level=0)]
        assert consolidate(each, minimum_order_value=Decimal(5000)).verdict == "below-minimum"

    def test_the_order_of_the_candidates_does_not_matter(self):
        each = three_items()
        forwards = consolidate(each, minimum_order_value=MINIMUM)
        backwards = consolidate(each[::-1], minimum_order_value=MINIMUM)
        assert forwards == backwards


class TestWaiting:
    """A day's wait of a unit costs h f / (1 - f); keeping a unit costs h a day until it would have been ordered."""

    def soon(self, **more):
        """A dear item triggers in two days and makes the order large enough by itself."""
        figures = {"mean": 0.05, "position": 4, "price": 800, "s": 2, "level": 3, "daily": 1.0} | more
        return item(9, **figures)

    def test_waiting_two_days_is_cheaper_than_a_year_of_stock(self):
        slow = item(1, mean=2.0, position=2, price=100, needed=1, s=2, daily=0.001)
        result = consolidate([slow, self.soon()], minimum_order_value=MINIMUM)
        assert result.verdict == "wait"
        assert result.waiting_days == 2
        short = stats.poisson.expect(lambda d: np.maximum(d - 2, 0), (2.0,))
        unit_days = short * 2 + stats.poisson.sf(2, 2.0) * 0.001 * 2
        assert result.waiting_cost == pytest.approx(unit_days * 100 * 0.2 / 365.25 * 0.95 / 0.05, rel=1e-9)
        assert result.waiting_cost < result.top_up_cost

    def test_jobs_that_go_short_do_not_wait(self):
        slow = item(1, mean=2.0, position=2, price=100, needed=1, s=2, daily=0.001, firm=True)
        assert consolidate([slow, self.soon()], minimum_order_value=Decimal(300)).verdict == "topped-up"

    def test_a_quick_item_is_topped_up_since_its_units_are_soon_used(self):
        quick = item(1, mean=20.0, position=18, price=100, needed=1, s=18, daily=0.7)
        result = consolidate([quick, self.soon(position=400)], minimum_order_value=MINIMUM)
        assert result.verdict == "topped-up"
        assert result.top_up_cost < result.waiting_cost

    def test_where_nothing_else_will_be_due_waiting_has_no_end(self):
        result = consolidate(three_items()[:1], minimum_order_value=Decimal(300))
        assert result.waiting_days == math.inf
        assert result.verdict == "topped-up"


class TestWords:
    def test_the_sentences_name_the_minimum_and_what_both_ways_cost(self):
        result = consolidate(three_items(), minimum_order_value=MINIMUM)
        text = " ".join(words_of_consolidation(result, supplier="Harrow Sealing", currency="EUR"))
        assert "takes orders from 800.00 EUR" in text
        assert "5 more" in text
        assert "940.00 EUR" in text

    def test_waiting_is_said_with_its_days(self):
        slow = item(1, mean=2.0, position=2, price=100, needed=1, s=2, daily=0.001)
        result = consolidate([slow, TestWaiting().soon()], minimum_order_value=MINIMUM)
        assert "better wait" in words_of_consolidation(result, supplier="Harrow Sealing", currency="EUR")[0]


@pytest.mark.parametrize("wrong", [{"price": -1}, {"minimum": 0}, {"multiple": 0}, {"fill_rate": 1.0}])
def test_impossible_terms_are_refused(wrong):
    with pytest.raises(ValueError, match="no price is below zero"):
        consolidate([item(1, **wrong)])


def test_what_costs_nothing_is_ordered_and_never_tops_up():
    each = [item("a", price=0, needed=1), item("b", price=100, mean=2.0, s=-1, level=0)]
    result = consolidate(each, minimum_order_value=Decimal(150))
    assert quantities(result) == {"a": 1, "b": 2}
    assert [one.key for one in result.steps] == ["b", "b"]
