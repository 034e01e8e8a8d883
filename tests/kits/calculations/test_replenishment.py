"""Demand, forecasts, reorder points and order sizes, each against something not written here."""

import datetime
import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kits.calculations.demand_arrays import smooth
from kits.calculations.demand_forecast import forecast
from kits.calculations.demand_history import monthly_demand, pattern
from kits.calculations.order_quantity import economic_order_quantity, order_quantity, round_up, yearly_cost
from kits.calculations.reorder_point import (
    LeadTimeDemand,
    expected_shortage,
    fill_rate,
    lead_time_demand,
    reorder_point,
)

DAY = datetime.date


def poisson(mean):
    return LeadTimeDemand(mean, mean)


def decimals(*values):
    return [Decimal(one) for one in values]


class TestPatterns:
    """Syntetos, Boylan, Croston 2005, J. Oper. Res. Soc. 56:495-503: cuts at 1.32 months and 0.49."""

    @pytest.mark.parametrize(
        ("series", "expected"),
        [
            ([0] * 12, "none"),
            ([3, 17] * 6, "erratic"),
            ([2] * 12, "smooth"),
            ([1] * 27 + [0] * 9, "intermittent"),
            ([1] * 28 + [0] * 8, "smooth"),
            ([3, 17, 0], "lumpy"),
            ([1] * 25 + [0] * 8, "intermittent"),
        ],
    )
    def test_classes_and_their_borders(self, series, expected):
        assert pattern(decimals(*series)) == expected

    def test_the_squared_coefficient_of_variation_on_its_border_is_exact(self):
        """Sizes 3 and 17: mean 10, variance 49, so exactly 0.49, which binary fractions would miss."""
        assert 0.7**2 < 0.49
        assert pattern(decimals(3, 17)) == "erratic"


class TestMonths:
    def test_the_month_that_is_not_over_is_left_out(self):
        found = monthly_demand(
            [(DAY(2026, 9, 3), Decimal(1)), (DAY(2026, 11, 20), Decimal(5))],
            kept_since=DAY(2026, 8, 10),
            as_of=DAY(2026, 11, 25),
        )
        assert (found.first, list(found.amounts)) == (DAY(2026, 9, 1), decimals(1, 0))

    def test_months_before_it_was_kept_are_absent_not_zero(self):
        found = monthly_demand([], kept_since=DAY(2026, 9, 1), as_of=DAY(2026, 11, 25))
        assert len(found.amounts) == 2
        assert monthly_demand([], kept_since=DAY(2026, 11, 2), as_of=DAY(2026, 11, 25)).amounts == ()

    def test_a_return_is_taken_off_and_never_cut_to_zero(self):
        needs = [(DAY(2026, 9, 3), Decimal(1)), (DAY(2026, 10, 3), Decimal(-1))]
        found = monthly_demand(needs, kept_since=DAY(2026, 8, 1), as_of=DAY(2026, 11, 1))
        assert list(found.amounts) == decimals(0, 1, -1)
        assert sum(found.amounts) == 0

    @given(st.dates(DAY(2020, 1, 1), DAY(2030, 12, 31)), st.integers(1, 60))
    def test_at_most_so_many_whole_months_and_nothing_lost_inside(self, as_of, months):
        needs = [(as_of.replace(day=1) - datetime.timedelta(days=1), Decimal(2))]
        found = monthly_demand(needs, kept_since=DAY(2000, 1, 1), as_of=as_of, months=months)
        assert len(found.amounts) == months
        assert found.amounts[-1] == 2


class TestForecast:
    def test_the_rate_falls_while_nothing_is_used(self):
        """statsforecast 2.1.1: 2 0 3 0 1 then zeros, the rate after 6, 12, 18 and 36 months."""
        series = [2, 0, 3, 0, 1] + [0] * 31
        expected = {6: 1.499, 12: 0.797, 18: 0.423, 36: 0.0636}
        for months, rate in expected.items():
            assert smooth(np.array(series[:months])[:, None]).tsb[0] == pytest.approx(rate, abs=6e-4)

    def test_few_needs_give_a_cautious_rate_not_zero(self):
        """Gamma-Poisson, prior 0.5 events: 3 in 24 months, horizon 2 months, mean 0.2917 and P(0) = 0.7557 by
        scipy.stats.nbinom(3.5, 24/26)."""
        found = forecast([0.0] * 21 + [1.0] * 3)
        demand = lead_time_demand(
            monthly_mean=found.mean,
            monthly_variance=found.variance,
            variance_of_mean=found.variance_of_mean,
            lead_time_days=2 * 30.4375,
            lead_time_sd_days=0,
            review_days=0,
        )
        assert found.method == "gamma-poisson"
        assert demand.mean == pytest.approx(0.2917, abs=5e-5)
        reference = stats.nbinom(3.5, 24 / 26)
        assert float(demand.at_most(np.array([0]))[0]) == pytest.approx(reference.cdf(0), abs=1e-12)
        assert reference.cdf(0) == pytest.approx(0.7557, abs=5e-5)

    def test_never_yet_needed_still_means_perhaps(self):
        """0 in 24 months over 2 months: P(0) = 0.9608, by scipy.stats.nbinom(0.5, 24/26)."""
        found = forecast([0.0] * 24)
        demand = lead_time_demand(
            monthly_mean=found.mean,
            monthly_variance=found.variance,
            variance_of_mean=found.variance_of_mean,
            lead_time_days=2 * 30.4375,
            lead_time_sd_days=0,
            review_days=0,
        )
        assert float(demand.at_most(np.array([0]))[0]) == pytest.approx(stats.nbinom(0.5, 24 / 26).cdf(0), abs=1e-12)
        assert stats.nbinom(0.5, 24 / 26).cdf(0) == pytest.approx(0.9608, abs=5e-5)

    def test_four_months_with_demand_are_smoothed(self):
        assert forecast([1.0, 0, 1, 0, 1, 0, 1]).method == "tsb"
        assert forecast([1.0, 0, 1, 0, 1, 0, 0]).method == "gamma-poisson"

    def test_without_a_whole_month_nothing_is_forecast(self):
        assert (forecast([]).method, forecast([]).mean) == ("none", 0.0)

    def test_a_figure_that_is_none_is_an_error_not_a_zero(self):
        with pytest.raises(ValueError, match="not a number"):
            forecast([1.0, float("nan")])

    @given(st.lists(st.integers(0, 20), min_size=1, max_size=48))
    def test_variance_is_never_below_that_of_a_poisson_process(self, series):
        found = forecast(series)
        assert found.variance >= found.mean


class TestLeadTimeDemand:
    def test_a_random_lead_time(self):
        """0.5 a week over 6 weeks, sd 3 weeks: mean 3, variance 5.25, negative binomial(4, 0.571429); Poisson demand
        over a gamma lead time (value from memory). Simulated below as well."""
        week = 7.0
        demand = lead_time_demand(
            monthly_mean=0.5 / week * 30.4375,
            monthly_variance=0.5 / week * 30.4375,
            variance_of_mean=0.0,
            lead_time_days=6 * week,
            lead_time_sd_days=3 * week,
            review_days=0,
        )
        assert (demand.mean, demand.variance) == (pytest.approx(3), pytest.approx(5.25))
        assert float(demand.at_most(np.array([6]))[0]) == pytest.approx(0.92082, abs=5e-6)
        generator = np.random.default_rng(7)
        lead = generator.gamma(4, 6 / 4, 400_000)
        seen = generator.poisson(0.5 * lead)
        assert float((seen <= 6).mean()) == pytest.approx(0.92082, abs=0.002)

    @given(st.floats(0.01, 30), st.floats(1.0, 6.0))
    @settings(max_examples=80)
    def test_distributions_agree_with_scipys(self, mean, ratio):
        demand = LeadTimeDemand(mean, mean * ratio)
        counts = np.arange(0, 60)
        if demand.distribution == "poisson":
            reference = stats.poisson(mean)
        else:
            reference = stats.nbinom(mean**2 / (demand.variance - mean), mean / demand.variance)
        assert np.allclose(demand.at_most(counts), reference.cdf(counts), atol=1e-9)

    @pytest.mark.parametrize(
        ("demand", "level", "expected"),
        [
            (poisson(15.0), 18, 0.517610),
            (LeadTimeDemand(16.0, 80.0), 14, 4.447305),
            (LeadTimeDemand(23.0, 64.0), 14, 9.326460),
            (poisson(10.0), 15, 0.103479),
        ],
    )
    def test_expected_shortage(self, demand, level, expected):
        """Loss functions as carried by the general-purpose library stockpyl 1.0.2 (Snyder, Shen, Fundamentals of Supply
        Chain Theory, 2nd ed., appendix on loss functions)."""
        assert expected_shortage(demand, level) == pytest.approx(expected, abs=1e-6)

    @given(st.floats(0.05, 12), st.floats(1.0, 4.0), st.integers(0, 30))
    @settings(max_examples=60)
    def test_expected_shortage_is_the_sum_over_scipys_distribution(self, mean, ratio, level):
        demand = LeadTimeDemand(mean, mean * ratio)
        counts = np.arange(0, 4000)
        if demand.distribution == "poisson":
            chances = stats.poisson.pmf(counts, mean)
        else:
            chances = stats.nbinom.pmf(counts, mean**2 / (demand.variance - mean), mean / demand.variance)
        whole = float(np.sum(np.maximum(counts - level, 0) * chances))
        assert expected_shortage(demand, level) == pytest.approx(whole, abs=1e-6)


class TestReorderPoint:
    @pytest.mark.parametrize(("mean", "stock"), [(0.3, 2), (1.0, 4), (3.0, 7)])
    def test_base_stock_counts_what_is_on_the_shelf_before_the_need(self, mean, stock):
        """Fill rate of base stock S is P(D <= S - 1): S = 2, 4, 7 for 95 % at means 0.3, 1, 3 (scipy.stats.poisson);
        one less is the classic mistake."""
        found = reorder_point(poisson(mean), target=0.95, quantity=1)
        assert found.level + 1 == stock
        assert found.fill_rate == pytest.approx(stats.poisson(mean).cdf(stock - 1))
        assert stats.poisson(mean).cdf(stock - 2) < 0.95

    @pytest.mark.parametrize(
        ("demand", "levels"), [(poisson(3.0), [6, 6, 5, 4]), (LeadTimeDemand(3.0, 9.0), [9, 8, 8, 6])]
    )
    def test_reorder_points_by_order_quantity(self, demand, levels):
        """Mean 3, order quantities 1, 2, 4, 8, fill rate 0.95: the mean of P(D <= j) over j = r .. r + Q - 1
        (Axsaeter, Inventory Control, 3rd ed., ch. 5), worked out here by scipy."""
        for quantity, level in zip((1, 2, 4, 8), levels, strict=True):
            found = reorder_point(demand, target=0.95, quantity=quantity)
            assert found.level == level
            size, chance = demand.mean**2 / max(demand.variance - demand.mean, 1e-12), demand.mean / demand.variance
            reference = stats.poisson(3) if demand.variance == demand.mean else stats.nbinom(size, chance)
            mean_of = np.mean([reference.cdf(one) for one in range(level, level + quantity)])
            assert found.fill_rate == pytest.approx(mean_of, abs=1e-9)

    def test_hopp_and_spearman_two_and_four(self):
        """14 a year, 45 days, r = 2, Q = 4: fill 0.903335 (Hopp, Spearman, Factory Physics, ch. 2; inputs value from
        memory, the figure by stockpyl)."""
        assert fill_rate(poisson(14 * 45 / 365), 2, 4) == pytest.approx(0.903335, abs=1e-6)

    def test_snyder_and_shen_example_5_8(self):
        """Policy (3, 5) at Poisson 3: fill rate 0.866633 (Snyder, Shen, 2nd ed., example 5.8, by stockpyl)."""
        assert fill_rate(poisson(3.0), 3, 5) == pytest.approx(0.866633, abs=1e-6)

    def test_a_simulated_shelf_reaches_the_promised_fill_rate(self):
        generator = np.random.default_rng(11)
        found = reorder_point(poisson(1.5), target=0.9, quantity=2)
        rate, lead = 1.5 / 40.0, 40
        met = asked = 0
        due: list[int] = []
        on_hand = found.level + 2
        for day in range(400_000):
            on_hand += sum(2 for one in due if one == day)
            due = [one for one in due if one > day]
            for _ in range(generator.poisson(rate)):
                asked += 1
                met += int(on_hand > 0)
                on_hand -= 1
                while on_hand + 2 * len(due) <= found.level:
                    due.append(day + lead)
        assert met / asked == pytest.approx(found.fill_rate, abs=0.02)

    def test_nothing_needed_means_nothing_kept(self):
        assert reorder_point(LeadTimeDemand(0.0, 0.0), target=0.97, quantity=2).level == -1

    @pytest.mark.parametrize("target", [0.0, 1.0, 1.2])
    def test_a_target_that_cannot_be_met_is_refused(self, target):
        with pytest.raises(ValueError, match="between 0 and 1"):
            reorder_point(poisson(1.0), target=target, quantity=1)

    @given(st.floats(0.05, 8), st.floats(1.0, 4.0), st.sampled_from([0.8, 0.9, 0.95, 0.99]), st.integers(1, 8))
    @settings(max_examples=60)
    def test_the_level_is_the_lowest_that_reaches_the_target(self, mean, ratio, target, quantity):
        demand = LeadTimeDemand(mean, mean * ratio)
        found = reorder_point(demand, target=target, quantity=quantity)
        assert found.fill_rate >= target
        if found.level > -1:
            assert fill_rate(demand, found.level - 1, quantity) < target


class TestOrderQuantity:
    def test_snyder_and_shen_example_3_1(self):
        """K = 8, h = 0.225, demand 1300 a year: 304.047 at a cost of 68.4105 (Snyder, Shen, 2nd ed., example 3.1)."""
        found = economic_order_quantity(order_cost=8, yearly_demand=1300, yearly_holding_cost=0.225)
        assert found == pytest.approx(304.047, abs=1e-3)
        cost = yearly_cost(found, order_cost=8, yearly_demand=1300, yearly_holding_cost=0.225)
        assert cost == pytest.approx(68.4105, abs=1e-4)

    def test_neighbours_are_compared_by_cost(self):
        """K = 60, 6 a year, h = 100: root 2.68; 280, 270, 290 for 2, 3, 4 by K d / Q + h Q / 2, worked by hand."""
        found = order_quantity(order_cost=60, yearly_demand=6, yearly_holding_cost=100)
        assert (round(found.economic, 2), found.quantity) == (2.68, 3)

    def test_minimum_and_multiple(self):
        assert (
            order_quantity(order_cost=60, yearly_demand=6, yearly_holding_cost=100, minimum=4, multiple=2).quantity == 4
        )
        assert round_up(1, minimum=6, multiple=5) == 10

    def test_shelf_life_caps_and_a_minimum_above_it_is_said(self):
        long = {"order_cost": 400, "yearly_demand": 6, "yearly_holding_cost": 10}
        assert order_quantity(**long, shelf_life_cap=9).quantity == 9
        assert order_quantity(**long, shelf_life_cap=9).capped_by_shelf_life
        found = order_quantity(**long, minimum=6, multiple=6, shelf_life_cap=4)
        assert (found.quantity, found.minimum_exceeds_cap) == (6, True)

    @given(st.floats(0, 500), st.floats(0, 200), st.floats(0.01, 400), st.integers(1, 12), st.integers(1, 12))
    def test_no_allowed_quantity_is_cheaper(self, order_cost, demand, holding, minimum, multiple):
        costs = {"order_cost": order_cost, "yearly_demand": demand, "yearly_holding_cost": holding}
        found = order_quantity(**costs, minimum=minimum, multiple=multiple)
        assert found.quantity % multiple == 0
        assert found.quantity >= minimum
        start = math.ceil(minimum / multiple) * multiple
        if found.economic > 0:
            for other in range(start, start + 40 * multiple, multiple):
                assert yearly_cost(found.quantity, **costs) <= yearly_cost(other, **costs) * (1 + 1e-9)
