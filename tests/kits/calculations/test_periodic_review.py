"""Stock looked at once a period: exact figures by renewal against printed tables, a general library and simulation."""

import numpy as np
import pytest
from scipy import stats

from kits.calculations.counted_demand import chances_of
from kits.calculations.periodic_review import (
    cheapest_levels,
    cost_of_levels,
    fill_rate_of_reviews,
    renewals,
    reviewed_stock,
    undershoot_in_the_long_run,
)
from kits.calculations.reorder_arrays import stock_levels
from kits.calculations.reorder_point import LeadTimeDemand, expected_shortage

A_DAY = 2 / 30.4375


def poisson(mean):
    return LeadTimeDemand(float(mean), float(mean))


class TestToppingUpAtEveryReview:
    @pytest.mark.parametrize(("level", "exact", "short_form"), [(7, 0.72275, 0.61997), (8, 0.83571, 0.79065),
                                                                 (9, 0.91071, 0.89249)])  # fmt: skip
    def test_a_shortage_counts_once_however_long_it_lasts(self, level, exact, short_form):
        """1.5 a day, lead time 3, review 1 (Silver, Pyke, Thomas, 4th ed., ch. 7, data of an exercise; value from
        memory): loss functions of scipy.stats.poisson. The short form 1 - B(S) / mean is too low."""
        assert fill_rate_of_reviews(poisson(4.5), poisson(6.0), level) == pytest.approx(exact, abs=1e-5)
        counts = np.arange(200)
        loss = float(np.maximum(counts - level, 0) @ stats.poisson(6).pmf(counts))
        assert 1 - loss / 1.5 == pytest.approx(short_form, abs=1e-5)

    def test_the_chance_of_no_shortage_on_a_day_is_another_measure(self):
        assert 1 - float(poisson(6.0).at_most(np.array([8]))[0]) == pytest.approx(0.152763, abs=1e-6)

    @pytest.mark.parametrize(("review", "level", "reached"), [(1, 7, 0.97588), (7, 7, 0.96656), (28, 8, 0.95998)])
    def test_a_longer_review_needs_more_stock(self, review, level, reached):
        """2 a month, 42 days, 95 %: S = 7, 7, 8 at reviews of 1, 7, 28 days; loss functions of scipy.stats.poisson."""
        before, until = poisson(42 * A_DAY), poisson((42 + review) * A_DAY)
        pairs = [(np.array([one.mean]), np.array([one.variance])) for one in (before, until)]
        assert stock_levels(pairs[0], pairs[1], target=0.95)[0] == level
        assert fill_rate_of_reviews(before, until, level) == pytest.approx(reached, abs=1e-5)

    def test_leaving_the_review_out_promises_what_is_not_kept(self):
        """S = 7 is enough at a daily look; reviewed every 28 days it gives 0.9124."""
        found = fill_rate_of_reviews(poisson(42 * A_DAY), poisson(70 * A_DAY), 7)
        assert found == pytest.approx(0.9124, abs=5e-5)


class TestLevelsBelowWhichIsOrdered:
    @pytest.mark.parametrize(
        ("day", "low", "high", "orders", "owed", "fill", "undershoot"),
        [
            (poisson(0.4), 3, 7, 0.095238, 0.052513, 0.931314, 0.2),
            (LeadTimeDemand(1.2, 3.0), 6, 14, 0.128345, 0.706345, 0.760242, 1.34983),
        ],
    )
    def test_renewal_agrees_with_a_shelf_played_through(self, day, low, high, orders, owed, fill, undershoot):
        """Lead time 5 days. Renewal of Zheng, Federgruen 1991; beside the exact figures a shelf played day by day."""
        found = reviewed_stock(chances_of(day), low=low, high=high, lead_time=5)
        assert found.orders == pytest.approx(orders, abs=1e-6)
        assert found.owed == pytest.approx(owed, abs=1e-6)
        assert found.fill_rate == pytest.approx(fill, abs=1e-6)
        assert found.undershoot == pytest.approx(undershoot, abs=1e-5)
        seen = played(day, low, high, 5, days=200_000)
        assert seen["orders"] == pytest.approx(found.orders, rel=0.02)
        assert seen["owed"] == pytest.approx(found.owed, abs=0.03 * day.mean)
        assert seen["fill"] == pytest.approx(found.fill_rate, abs=0.01)
        assert seen["on_hand"] == pytest.approx(found.on_hand, rel=0.02)
        assert seen["undershoot"] == pytest.approx(found.undershoot, rel=0.05)

    def test_on_hand_of_the_first_case(self):
        assert reviewed_stock(chances_of(poisson(0.4)), low=3, high=7, lead_time=5).on_hand == pytest.approx(
            3.22712, abs=1e-5
        )

    def test_the_shortcut_for_the_undershoot(self):
        """``E[D^2] / (2 E[D]) - 1/2`` for mean 1.2, variance 3: 1.35, where the exact figure is 1.34983."""
        assert undershoot_in_the_long_run(chances_of(LeadTimeDemand(1.2, 3.0))) == pytest.approx(1.35)

    def test_one_below_the_upper_level_is_topping_up_at_every_review(self):
        found = reviewed_stock(chances_of(poisson(1.5)), low=7, high=8, lead_time=3)
        assert found.fill_rate == pytest.approx(fill_rate_of_reviews(poisson(4.5), poisson(6.0), 8), abs=1e-9)
        assert found.orders == pytest.approx(1 - np.exp(-1.5))

    def test_how_often_the_sum_comes_through_a_number(self):
        """Demand of exactly 2 a period: 1, 0, 1, 0, by hand."""
        assert renewals(np.array([0.0, 0.0, 1.0]), 4).tolist() == [1.0, 0.0, 1.0, 0.0]

    @pytest.mark.parametrize("change", [{"low": 7}, {"lead_time": -1}])
    def test_levels_the_wrong_way_round_and_no_time_are_refused(self, change):
        with pytest.raises(ValueError, match=r"above the lower|not below 0"):
            reviewed_stock(chances_of(poisson(0.4)), **({"low": 3, "high": 7, "lead_time": 5} | change))

    def test_without_demand_nothing_is_ordered(self):
        with pytest.raises(ValueError, match="without demand"):
            renewals(np.array([1.0]), 3)


class TestTheCheapestLevels:
    @pytest.mark.parametrize(
        ("mean", "low", "high", "cost"),
        [
            (10, 6, 40, 35.0216), (15, 10, 49, 42.6978), (20, 14, 62, 49.1730), (21, 15, 65, 50.4060),
            (25, 19, 56, 54.2622), (52, 44, 112, 72.2461),
        ],
    )  # fmt: skip
    def test_the_table_of_zheng_and_federgruen(self, mean, low, high, cost):
        """Zheng, Federgruen 1991, Operations Research 39:654-665, test set: K = 64, h = 1, p = 9, no lead time; figures
        by stockpyl 1.0.2 (s_s_discrete_exact)."""
        found = cheapest_levels(chances_of(poisson(mean)), poisson(mean), order_cost=64, holding=1, shortage=9)
        assert found[:2] == (low, high)
        assert found[2] == pytest.approx(cost, abs=5e-5)

    def test_snyder_and_shen_example_4_7(self):
        """h = 1, p = 4, K = 5, Poisson 6: (4, 10) costs 8.034112 (Snyder, Shen, 2nd ed., example 4.7, by stockpyl
        1.0.2)."""
        found = cheapest_levels(chances_of(poisson(6)), poisson(6), order_cost=5, holding=1, shortage=4)
        assert found == (4, 10, pytest.approx(8.034112, abs=1e-6))

    def test_no_other_levels_are_cheaper(self):
        chances, until = chances_of(LeadTimeDemand(2.0, 5.0)), LeadTimeDemand(6.0, 15.0)

        def cost(position):
            return 2.0 * (position - 6.0) + 14.0 * expected_shortage(until, position)

        low, high, cheapest = cheapest_levels(chances, until, order_cost=30, holding=2, shortage=12)
        assert cheapest == pytest.approx(cost_of_levels(chances, cost, low=low, high=high, order_cost=30))
        for other in range(low - 3, low + 4):
            for upper in range(max(high - 4, other + 1), high + 5):
                assert cheapest <= cost_of_levels(chances, cost, low=other, high=upper, order_cost=30) + 1e-9


def played(day, low, high, lead_time, *, days):
    """A shelf day by day: receipts, what is owed, needs, review at the end."""
    generator = np.random.default_rng(12)
    if day.variance > day.mean:
        needs = generator.negative_binomial(day.mean**2 / (day.variance - day.mean), day.mean / day.variance, days)
    else:
        needs = generator.poisson(day.mean, days)
    net, coming, on_order = high, [0] * (days + lead_time + 2), 0
    asked = met = orders = under = 0
    owed = on_hand = 0
    for today, need in enumerate(needs.tolist()):
        net += coming[today]
        on_order -= coming[today]
        met += min(max(net, 0), need)
        asked += need
        net -= need
        owed += max(-net, 0)
        on_hand += max(net, 0)
        if net + on_order <= low:
            under += low - net - on_order
            orders += 1
            coming[today + lead_time + 1] = high - net - on_order
            on_order = high - net
    return {
        "orders": orders / days, "owed": owed / days, "fill": met / asked, "on_hand": on_hand / days,
        "undershoot": under / orders,
    }  # fmt: skip
