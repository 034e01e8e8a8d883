"""Which items deserve which service, what stock buys the most of it, and what will never be used."""

import datetime
import itertools
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from scipy import stats

from kits.calculations.stock_classes import best_stock, critical_ratio, flat_stock, ranked, service_criterion
from kits.calculations.stock_surplus import (
    StockAtHand,
    chance_of_no_use,
    highest_rate,
    judge_stock,
    use_until_expiry,
)

TODAY = datetime.date(2026, 6, 1)
YEARS_AGO = datetime.date(2020, 1, 1)
MEANS = np.array([2.0, 1.0, 0.5, 0.17, 0.08])
COSTS = np.array([50.0, 400.0, 300.0, 2000.0, 80.0])


class TestWhoDeservesService:
    def test_value_used_says_something_else_than_what_a_shortage_costs(self):
        """Four kits (24 a year at 50), (2, 2000), (12, 300), (1, 80): by value used 2, 3, 1, 4; by b D / (h Q) with one
        shortage cost and a fifth of the price for holding 1, 3, 4, 2, by hand (Teunter, Babai, Syntetos 2010)."""
        demand, price = np.array([24.0, 2.0, 12.0, 1.0]), np.array([50.0, 2000.0, 300.0, 80.0])
        criterion = service_criterion(
            shortage_cost=np.ones(4), yearly_demand=demand, yearly_holding_cost=0.2 * price, quantity=np.ones(4)
        )
        assert [place + 1 for place in ranked(demand * price)] == [2, 3, 1, 4]
        assert [place + 1 for place in ranked(criterion)] == [1, 3, 4, 2]

    def test_a_dearer_shortage_ranks_higher_and_a_larger_lot_lower(self):
        same: dict[str, Any] = {"yearly_demand": np.ones(2), "yearly_holding_cost": np.ones(2)}
        dear = service_criterion(shortage_cost=np.array([1.0, 5.0]), quantity=np.ones(2), **same)
        lots = service_criterion(shortage_cost=np.ones(2), quantity=np.array([1.0, 4.0]), **same)
        assert (ranked(dear), ranked(lots)) == ([1, 0], [0, 1])

    def test_holding_for_nothing_is_refused(self):
        with pytest.raises(ValueError, match="above 0"):
            service_criterion(
                shortage_cost=np.ones(1), yearly_demand=np.ones(1), yearly_holding_cost=np.zeros(1), quantity=np.ones(1)
            )

    def test_the_critical_ratio(self):
        """150 / (150 + 20) = 0.882, the costs of Snyder, Shen, 2nd ed., example 5.8; none kept where a shortage costs
        less than holding."""
        assert critical_ratio(shortage=150, holding=20) == pytest.approx(0.882, abs=5e-4)
        assert critical_ratio(shortage=5, holding=20) is None

    def test_the_newsvendor_keeps_as_much_as_the_critical_ratio_says(self):
        """h = 0.18, p = 0.70, Poisson 50: 56 (Snyder, Shen, 2nd ed., ch. 4, by stockpyl 1.0.2)."""
        ratio = critical_ratio(shortage=0.70, holding=0.18)
        assert ratio is not None
        assert stats.poisson(50).ppf(ratio) == 56


class TestWhatStockBuysTheMost:
    def test_one_target_for_all_ties_up_money(self):
        """Five kits: 6, 4, 3, 2, 2 for 6,960 at 95 % each; by marginal value 8, 4, 3, 1, 2 for 5,060 and more service;
        fill rates by scipy.stats.poisson."""
        flat = flat_stock(MEANS, COSTS, target=0.95)
        best = best_stock(MEANS, COSTS, target=flat.fill_rate)
        assert (flat.levels.tolist(), flat.value) == ([6, 4, 3, 2, 2], 6960)
        assert (best.levels.tolist(), best.value) == ([8, 4, 3, 1, 2], 5060)
        for plan, fill in ((flat, 0.98353), (best, 0.98528)):
            assert plan.fill_rate == pytest.approx(fill, abs=6e-6)
            assert plan.fill_rate == pytest.approx(stats.poisson(MEANS).cdf(plan.levels - 1) @ MEANS / MEANS.sum())

    def test_nobody_waits_less_for_the_same_money(self):
        """Every other stock of three kits worth no more leaves at least as many waiting: E[max(D - S, 0)] by
        scipy.stats.poisson, all of them tried."""
        means, costs = MEANS[:3], COSTS[:3]
        plan = best_stock(means, costs, target=0.9)
        counts = np.arange(60)
        loss = [np.maximum(counts - counts[:, None], 0) @ stats.poisson(mean).pmf(counts) for mean in means]

        def waiting(levels):
            return sum(float(one[level]) for one, level in zip(loss, levels, strict=True))

        for levels in itertools.product(range(12), range(7), range(7)):
            if np.array(levels) @ costs <= plan.value:
                assert waiting(levels) >= waiting(plan.levels) - 1e-12

    def test_what_is_never_needed_gets_nothing(self):
        assert best_stock(np.array([1.0, 0.0]), np.array([10.0, 1.0]), target=0.9).levels[1] == 0


class TestWhatAQuietTimeProves:
    @pytest.mark.parametrize(("rate", "chance"), [(0.5, 0.61), (1, 0.37), (2, 0.14), (3, 0.05)])
    def test_a_quiet_year_comes_up_by_chance(self, rate, chance):
        """scipy.stats.poisson: 61, 37, 14, 5 % at 0.5, 1, 2, 3 a year."""
        assert chance_of_no_use(rate, 12) == pytest.approx(stats.poisson(rate).pmf(0))
        assert chance_of_no_use(rate, 12) == pytest.approx(chance, abs=0.005)

    def test_two_quiet_years_bound_the_rate(self):
        """1.50 a year with 95 % confidence: half the 95 % point of chi-squared with 2 degrees over the time (Garwood
        1936), scipy.stats.chi2."""
        assert highest_rate(24) == pytest.approx(stats.chi2(2).ppf(0.95) / 2 / 2)
        assert highest_rate(24) == pytest.approx(1.50, abs=0.005)


def stock(**changes):
    usual: dict[str, Any] = {
        "lots": ((None, Decimal(10)),), "reserved": Decimal(0), "promised_away": Decimal(0), "kept_since": YEARS_AGO,
        "last_used_on": datetime.date(2026, 3, 1), "monthly_use": 0.1, "installed_use": 0.0, "needed_by_pumps": False,
        "level": 2,
    }  # fmt: skip
    return StockAtHand(**(usual | changes))


def judged(**changes) -> Any:
    return judge_stock(stock(**changes), on=TODAY)


class TestDeadAndExcess:
    """24 months: common practice, no source."""

    def test_what_is_kept_beyond_level_and_use_is_excess(self):
        """0.1 a month over 24 months is 2.4, so 3 stay and 7 could go."""
        found = judged()
        assert (found.kind, found.kept, found.quantity) == ("excess", 3, 7)
        assert "By past use, 2.4 will be used" in found.reasons[1]

    def test_what_jobs_claim_and_what_was_promised_away_is_not_excess(self):
        assert judged(reserved=Decimal(2), promised_away=Decimal(1)).quantity == 4
        assert judged(reserved=Decimal(8)) is None

    def test_the_level_of_replenishment_stays(self):
        assert judged(level=10) is None
        assert judged(level=6).quantity == 4

    def test_what_dies_soon_is_used_less_of(self):
        soon = judged(lots=((TODAY + datetime.timedelta(days=60), Decimal(10)),), monthly_use=2.0)
        late = judged(monthly_use=2.0)
        assert soon.quantity == 5
        assert late is None

    def test_what_installed_pumps_need_is_kept(self):
        found = judged(installed_use=7.2, needed_by_pumps=True)
        assert found.quantity == 2
        assert "By the installed pumps, 7.2 will be used" in found.reasons[1]

    def test_two_years_without_use_and_nobody_who_needs_it_is_dead(self):
        last = datetime.date(2024, 6, 1)
        found = judged(last_used_on=last)
        assert (found.kind, found.quantity, found.kept) == ("dead", 10, 0)
        assert found.reasons[0] == "Last used on 2024-06-01: 24 months or more without use."

    def test_where_the_need_of_pumps_is_not_known_it_is_said(self):
        assert "has not been worked out here" in judged(last_used_on=None, pumps_known=False).reasons[1]
        assert "no installed pump is expected" in judged(last_used_on=None).reasons[1]

    def test_of_what_came_lately_nothing_is_said(self):
        assert judged(kept_since=datetime.date(2026, 5, 20), last_used_on=None, monthly_use=None) is None

    @pytest.mark.parametrize(
        "changes",
        [
            {"last_used_on": datetime.date(2024, 6, 2)},
            {"last_used_on": None, "kept_since": datetime.date(2024, 6, 2)},
            {"last_used_on": None, "kept_since": None},
            {"last_used_on": None, "needed_by_pumps": True},
            {"last_used_on": None, "reserved": Decimal(1)},
        ],
    )
    def test_what_was_used_came_lately_or_is_wanted_is_not_dead(self, changes):
        found = judged(**changes)
        assert found is None or found.kind == "excess"

    def test_never_used_since_it_came(self):
        found = judged(last_used_on=None)
        assert found.reasons[0] == "Kept since 2020-01-01 and never used: 24 months or more without use."

    def test_lots_are_used_in_the_order_in_which_they_die(self):
        """0.1 a day: 3 until day 30 of the first lot of 2, so 2 and 1 more; by day 90 of the second 9, of which 7 are
        left for it, and it has 5: worked by hand."""
        first = (TODAY + datetime.timedelta(days=29), Decimal(2))
        second = (TODAY + datetime.timedelta(days=89), Decimal(5))
        assert use_until_expiry([second, first], daily_use=0.1, on=TODAY, days=700) == 7
        assert use_until_expiry([second, first], daily_use=0.05, on=TODAY, days=700) == Decimal("4.5")
        assert use_until_expiry([(None, Decimal(100))], daily_use=0.1, on=TODAY, days=700) == 70
