"""Levels that stay while they serve, orders of many items at once, and what kits and parts tell of each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kits.calculations.forecast_arrays import forecast_all
from kits.calculations.order_arrays import order_quantities
from kits.calculations.order_quantity import order_quantity
from kits.calculations.reorder_arrays import banded_levels, reorder_levels


class TestBand:
    """The width of the band is common practice, no source; the levels at its ends by scipy.stats.poisson."""

    def band(self, mean, kept, target=0.95):
        one = np.array([float(mean)])
        return banded_levels(
            one, one, target=np.array([target]), quantity=np.array([1]), kept=np.array([kept]), width=0.01
        )

    def test_ends_are_the_lowest_levels_for_a_point_less_and_a_point_more(self):
        found = self.band(3.2, -2)
        for level, target in ((found.band_from, 0.94), (found.lowest, 0.95), (found.band_to, 0.96)):
            assert stats.poisson(3.2).cdf(int(level[0])) >= target
            assert stats.poisson(3.2).cdf(int(level[0]) - 1) < target

    @given(st.floats(0.05, 9), st.integers(-2, 14))
    def test_a_level_is_kept_just_while_it_serves_within_a_point(self, mean, kept):
        found = self.band(mean, kept)
        reference = stats.poisson(mean)
        # At the very border binary fractions of two libraries may differ.
        if min(abs(reference.cdf(kept) - 0.94), abs(reference.cdf(kept - 1) - 0.96)) < 1e-9:
            return
        good_enough = kept >= -1 and reference.cdf(kept) >= 0.94 and reference.cdf(kept - 1) < 0.96
        assert (found.level[0] == kept) == (good_enough or found.lowest[0] == kept)
        assert found.fill_rate[0] == pytest.approx(reference.cdf(int(found.level[0])))

    def test_levels_move_less_often_and_serve_as_well(self):
        """A rate that is estimated anew each day from 36 months of Poisson needs, for 60 days."""
        generator = np.random.default_rng(5)
        needs = generator.poisson(0.09, (1096 + 60, 400))
        kept, moved, free, served = np.full(400, -2), 0, 0, []
        before = None
        for day in range(60):
            mean = needs[day : day + 1096].sum(axis=0) / 1096 * 43
            target, one = np.full(400, 0.95), np.ones(400, int)
            found = banded_levels(mean, mean, target=target, quantity=one, kept=kept, width=0.01)
            moved += int((found.level != kept).sum()) if day else 0
            free += 0 if before is None else int((found.lowest != before).sum())
            kept, before = found.level, found.lowest
            served.append(found.fill_rate.mean())
        assert moved * 3 < free
        assert np.mean(served) >= 0.95

    def test_without_a_kept_level_it_is_the_lowest_that_reaches_the_target(self):
        mean = np.array([0.3, 1.0, 3.0, 0.0])
        found = banded_levels(
            mean, mean * 2, target=np.full(4, 0.9), quantity=np.array([1, 2, 3, 1]), kept=np.full(4, -2), width=0.01
        )
        levels, reached = reorder_levels(mean, mean * 2, target=0.9, quantity=np.array([1, 2, 3, 1]))
        assert list(found.level) == list(levels)
        assert np.allclose(found.fill_rate, reached)


class TestLargeOrders:
    def test_a_cheap_part_in_orders_of_thousands_is_planned_beside_dear_ones(self):
        mean = np.array([20.0, 0.5, 1.0])
        lots = np.array([4000, 1, 2])
        found = banded_levels(mean, mean, target=np.full(3, 0.95), quantity=lots, kept=np.full(3, -2), width=0.01)
        for place, (one, quantity) in enumerate(zip(mean, lots, strict=True)):
            level = int(found.level[place])
            counts = np.arange(level, level + quantity)
            assert found.fill_rate[place] == pytest.approx(np.mean(stats.poisson(one).cdf(counts)), abs=1e-9)


class TestGroups:
    def test_parts_that_go_by_the_handful_tell_nothing_of_kits(self):
        """Variance to mean of each group by numpy, pooled over its series by hand."""
        generator = np.random.default_rng(3)
        kits = generator.poisson(0.4, (36, 6))
        parts = 10 * generator.poisson(0.4, (36, 5))
        found = forecast_all(np.hstack([kits, parts]).astype(float), groups=np.array([0] * 6 + [1] * 5))
        for group, columns in ((kits, slice(0, 6)), (parts, slice(6, 11))):
            smooths = (group > 0).sum(axis=0) >= 4
            ratio = group.var(axis=0, ddof=1)[smooths].sum() / group.mean(axis=0)[smooths].sum()
            assert np.allclose(found.pooled_variance_to_mean[columns], max(1.0, ratio))


class TestOrderQuantities:
    @given(
        st.floats(0, 500), st.floats(0, 200), st.one_of(st.just(0.0), st.floats(0.001, 400)), st.integers(1, 12),
        st.integers(1, 12), st.one_of(st.none(), st.integers(1, 40)),
    )  # fmt: skip
    def test_many_at_once_are_as_one_by_one(self, order_cost, demand, holding, minimum, multiple, cap):
        one = order_quantity(
            order_cost=order_cost, yearly_demand=demand, yearly_holding_cost=holding, minimum=minimum,
            multiple=multiple, shelf_life_cap=cap,
        )  # fmt: skip
        many = order_quantities(
            order_cost=np.array([order_cost]), yearly_demand=np.array([demand]),
            yearly_holding_cost=np.array([holding]), minimum=np.array([minimum]), multiple=np.array([multiple]),
            shelf_life_cap=np.array([math.inf if cap is None else cap]),
        )  # fmt: skip
        assert many.quantity[0] == one.quantity
        assert many.capped_by_shelf_life[0] == one.capped_by_shelf_life
        assert many.minimum_exceeds_cap[0] == one.minimum_exceeds_cap
