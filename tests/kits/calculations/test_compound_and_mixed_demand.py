"""Jobs that take several pieces, lead times that are one of a few, and lot sizes: exact chances, each against a printed
figure, a general library, or a sum over draws."""

from typing import Any, ClassVar

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kits.calculations.compound_demand import (
    compound_demand,
    reorder_point_of_jobs,
    service_of_jobs,
    sizes_of_jobs,
)
from kits.calculations.counted_demand import chances_of, counted, mixture
from kits.calculations.lead_time_choice import choose_demand, groups_of_lead_times, reorder_point_by_data
from kits.calculations.lot_policy import cheapest_lots, cost_of_lots, measures_of_lots
from kits.calculations.reorder_point import (
    LeadTimeDemand,
    expected_shortage,
    fill_rate,
    lead_time_demand,
    reorder_point,
)

SIZES = {1: 0.6, 2: 0.3, 3: 0.1}
MONTH = 30.4375


def poisson(mean):
    return LeadTimeDemand(mean, mean)


def lowest(demand, share):
    return int(np.searchsorted(np.cumsum(chances_of(demand)), share))


class TestJobsOfSeveralPieces:
    def test_panjers_recursion_gives_the_chances_of_a_compound_poisson_sum(self):
        """Panjer 1981, ASTIN Bulletin 12:22-26 (value from memory). Reference: scipy.stats, jobs by Poisson(2), their
        sizes summed by convolution over the number of jobs."""
        found = compound_demand(poisson(2.0), SIZES).chances
        one, expected, summed = np.array([0, 0.6, 0.3, 0.1]), np.zeros(40), np.ones(1)
        for jobs in range(40):
            part = stats.poisson(2).pmf(jobs) * summed
            expected[: len(part[:40])] += part[:40]
            summed = np.convolve(summed, one)
        assert found[:30] == pytest.approx(expected[:30], abs=1e-12)
        assert found[:5] == pytest.approx([0.135335, 0.162402, 0.178643, 0.163485, 0.126999], abs=1e-6)

    def test_mean_and_variance_are_those_of_walds_formulas(self):
        """Mean 2 x 1.5, variance 2 x E[size^2] = 2 x 2.7 (compound Poisson; any textbook on risk)."""
        found = compound_demand(poisson(2.0), SIZES)
        assert (found.mean, found.variance) == (pytest.approx(3.0), pytest.approx(5.4))

    @pytest.mark.parametrize("mean", [0.2, 3.0, 30.0, 900.0])
    def test_jobs_of_one_piece_are_the_number_of_jobs(self, mean):
        """scipy.stats.poisson and nbinom; 900 jobs are made of halves, where exp(-900) would be 0."""
        found = compound_demand(poisson(mean), {1: 1.0}).chances
        assert found == pytest.approx(stats.poisson(mean).pmf(np.arange(len(found))), abs=1e-10)
        wide = compound_demand(LeadTimeDemand(mean, 3 * mean), {1: 1.0}).chances
        assert wide == pytest.approx(stats.nbinom(mean / 2, 1 / 3).pmf(np.arange(len(wide))), abs=1e-10)

    def test_negative_binomial_jobs_agree_with_draws(self):
        generator = np.random.default_rng(5)
        jobs = generator.negative_binomial(2, 0.4, 200_000)
        sizes = generator.choice([1, 2, 3], p=[0.6, 0.3, 0.1], size=int(jobs.sum()))
        pieces = np.bincount(np.repeat(np.arange(len(jobs)), jobs), sizes, minlength=len(jobs))
        found = compound_demand(LeadTimeDemand(3.0, 7.5), SIZES)
        for count in (0, 2, 5, 10):
            seen = float((pieces <= count).mean())
            assert float(found.at_most(np.array([count]))[0]) == pytest.approx(seen, abs=0.004)

    def test_a_geometric_number_of_jobs_of_geometric_size(self):
        """Summed over the number of jobs: scipy.stats.geom for it, scipy.stats.nbinom for the pieces of so many."""
        ratio, tail = 0.4, 0.5
        sizes = {k: (1 - tail) * tail ** (k - 1) for k in range(1, 60)}
        sizes[1] += 1 - sum(sizes.values())
        found = compound_demand(LeadTimeDemand((1 - ratio) / ratio, (1 - ratio) / ratio**2), sizes).chances
        number = stats.geom(ratio, loc=-1)
        total = [
            sum(number.pmf(n) * (stats.nbinom(n, 1 - tail).pmf(k - n) if n else 0) for n in range(1, k + 1))
            for k in range(1, 8)
        ]
        assert found[1:8] == pytest.approx(total, abs=1e-9)
        assert found[0] == pytest.approx(ratio)

    def test_fill_of_jobs_counts_the_pieces_they_get(self):
        """(r, nQ) = (4, 2), two jobs a lead time: E[min(size, on the shelf)] / E[size] with the position even on 5, 6
        (Axsaeter, Inventory Control, 3rd ed., ch. 5; value from memory), summed here over draws. Counting pieces as if
        they came one by one says 0.81244, which is too much."""
        demand = compound_demand(poisson(2.0), SIZES)
        found = service_of_jobs(demand, SIZES, level=4, quantity=2)
        assert found.fill_rate == pytest.approx(0.766399, abs=1e-6)
        assert fill_rate(demand, 4, 2) == pytest.approx(0.81244, abs=1e-5)
        generator = np.random.default_rng(6)
        count = 400_000
        jobs = generator.poisson(2, count)
        pieces = generator.choice([1, 2, 3], p=[0.6, 0.3, 0.1], size=int(jobs.sum()))
        needed = np.bincount(np.repeat(np.arange(count), jobs), pieces, minlength=count)
        shelf = np.maximum(generator.integers(5, 7, count) - needed, 0)
        asked = generator.choice([1, 2, 3], p=[0.6, 0.3, 0.1], size=count)
        assert np.minimum(asked, shelf).sum() / asked.sum() == pytest.approx(found.fill_rate, abs=0.003)
        assert float((asked <= shelf).mean()) == pytest.approx(found.whole_jobs, abs=0.003)

    @given(st.floats(0.1, 8), st.integers(-1, 12), st.integers(1, 6))
    @settings(max_examples=40, deadline=None)
    def test_jobs_of_one_piece_are_filled_as_single_needs_are(self, mean, level, quantity):
        found = service_of_jobs(poisson(mean), {1: 1.0}, level=level, quantity=quantity)
        assert found.fill_rate == pytest.approx(fill_rate(poisson(mean), level, quantity), abs=1e-9)
        assert found.whole_jobs == pytest.approx(found.fill_rate)

    def test_the_lowest_level_that_reaches_the_target(self):
        demand = compound_demand(poisson(2.0), SIZES)
        for target in (0.5, 0.9, 0.95, 0.99):
            level = reorder_point_of_jobs(demand, SIZES, target=target, quantity=2).level
            assert service_of_jobs(demand, SIZES, level=level, quantity=2).fill_rate >= target
            assert service_of_jobs(demand, SIZES, level=level - 1, quantity=2).fill_rate < target

    def test_by_moments_alone_a_level_for_a_cycle_is_right_here_and_by_poisson_it_is_not(self):
        """95 % of lead times: exact 7; negative binomial of the same moments 7, Poisson 6 (scipy.stats)."""
        demand = compound_demand(poisson(2.0), SIZES)
        assert lowest(demand, 0.95) == 7
        assert stats.nbinom(3**2 / 2.4, 3 / 5.4).ppf(0.95) == 7
        assert stats.poisson(3).ppf(0.95) == 6

    @pytest.mark.parametrize("sizes", [{}, {0: 1.0}, {1: 0.5}, {1: 1.5, 2: -0.5}])
    def test_sizes_that_cannot_be_are_refused(self, sizes):
        with pytest.raises(ValueError, match="sizes are 1 or more"):
            compound_demand(poisson(1.0), sizes)

    def test_sizes_are_learned_from_past_jobs(self):
        assert sizes_of_jobs([1, 2, 1, 1]) == {1: 0.75, 2: 0.25}
        with pytest.raises(ValueError, match="at least one"):
            sizes_of_jobs([1, 0])


class TestLeadTimesThatAreOneOfAFew:
    def test_chances_are_mixed_not_moments(self):
        """0.5 a week; 4, 6 or 12 weeks with 50, 30, 20 %: 95 % of lead times within 8, while the negative binomial of
        the same mean 3.1 and variance 5.39 says 7 (scipy.stats)."""
        mixed = mixture([(share, poisson(0.5 * weeks)) for share, weeks in ((0.5, 4), (0.3, 6), (0.2, 12))])
        expected = sum(
            share * stats.poisson(0.5 * weeks).cdf(np.arange(20)) for share, weeks in ((0.5, 4), (0.3, 6), (0.2, 12))
        )
        assert mixed.at_most(np.arange(20)) == pytest.approx(expected, abs=1e-11)
        assert (mixed.mean, mixed.variance) == (pytest.approx(3.1), pytest.approx(5.39))
        assert lowest(mixed, 0.95) == 8
        assert stats.nbinom(3.1**2 / 2.29, 3.1 / 5.39).ppf(0.95) == 7

    def test_fixed_and_random_lead_times_by_service_of_a_cycle(self):
        """0.5 a week over 6 weeks: 5, 6, 8 for 90, 95, 99 %; sd 3 weeks, gamma: 6, 7, 10 (scipy.stats.nbinom(4, 4/7),
        Poisson demand over a gamma lead time being negative binomial)."""
        by_days: dict[str, Any] = {"lead_time_days": 42, "review_days": 0, "variance_of_mean": 0.0}
        rate = {"monthly_mean": 0.5 / 7 * MONTH, "monthly_variance": 0.5 / 7 * MONTH}
        fixed = lead_time_demand(lead_time_sd_days=0, **by_days, **rate)
        varying = lead_time_demand(lead_time_sd_days=21, **by_days, **rate)
        assert [lowest(fixed, one) for one in (0.9, 0.95, 0.99)] == [5, 6, 8]
        assert [lowest(varying, one) for one in (0.9, 0.95, 0.99)] == [6, 7, 10]
        assert stats.nbinom(4, 4 / 7).ppf([0.9, 0.95, 0.99]).tolist() == [6, 7, 10]

    def test_a_counted_demand_has_the_shortages_of_the_one_it_was_counted_from(self):
        demand = LeadTimeDemand(3.0, 9.0)
        again = counted(chances_of(demand))
        for level in (-2, 0, 1, 5, 20):
            assert expected_shortage(again, level) == pytest.approx(expected_shortage(demand, level), abs=1e-8)
        assert (
            reorder_point(again, target=0.95, quantity=4).level == reorder_point(demand, target=0.95, quantity=4).level
        )

    def test_what_is_no_chance_is_refused(self):
        with pytest.raises(ValueError, match="sum to at most 1"):
            counted([0.9, 0.2])
        with pytest.raises(ValueError, match="weight above 0"):
            mixture([(0.0, poisson(1.0))])


class TestTheChoiceOfADistribution:
    RATE: ClassVar[dict[str, Any]] = {
        "monthly_mean": 1.5, "monthly_variance": 2.0, "variance_of_mean": 0.05, "lead_time_days": 45.0,
        "lead_time_sd_days": 9.0, "review_days": 1.0,
    }  # fmt: skip

    def test_two_moments_where_jobs_take_one_and_lead_times_lie_together(self):
        found = choose_demand(**self.RATE, jobs={1: 30, 2: 1}, lead_times=[40, 42, 45, 47, 44, 50, 41, 46, 43])
        assert found.demand == lead_time_demand(**self.RATE)
        assert "two moments tell enough" in found.because

    def test_sizes_where_jobs_take_more_than_one(self):
        found = choose_demand(**self.RATE, jobs={1: 12, 2: 6, 3: 2})
        assert found.sizes == SIZES
        assert found.demand.distribution == "counted"
        assert found.demand.mean == pytest.approx(1.5 * 46 / MONTH)
        assert found.because == "40% of jobs take more than one, up to 3"
        by_pieces = reorder_point(lead_time_demand(**self.RATE), target=0.95, quantity=2).level
        assert reorder_point_by_data(found, target=0.95, quantity=2).level > by_pieces

    def test_months_that_vary_more_than_the_sizes_explain_keep_their_variance(self):
        """Wald: Var = E[N] Var[size] + Var[N] E[size]^2; with sizes alone a month varies by 1.5 x 2.7 / 1.5 = 2.7."""
        rate = self.RATE | {"variance_of_mean": 0.0, "lead_time_sd_days": 0.0, "lead_time_days": MONTH - 1}
        for variance, expected in ((2.0, 2.7), (6.0, 6.0)):
            found = choose_demand(**(rate | {"monthly_variance": variance}), jobs={1: 12, 2: 6, 3: 2})
            assert found.demand.variance == pytest.approx(expected)

    def test_a_mixture_where_lead_times_lie_in_groups(self):
        days = [20, 21, 22, 19, 20, 23, 88, 90, 91, 95]
        found = choose_demand(**self.RATE, lead_times=days)
        assert [(round(one.share, 1), round(one.mean_days)) for one in found.groups] == [(0.6, 21), (0.4, 91)]
        assert found.demand.mean == pytest.approx(1.5 * (np.mean(days) + 1) / MONTH)
        assert "one of 2 times: 21 days (60%), 91 days (40%)" in found.because

    def test_one_late_order_is_no_group_and_few_orders_are_none(self):
        assert groups_of_lead_times([20, 21, 22, 19, 20, 23, 24, 22, 90]) == ()
        assert groups_of_lead_times([20, 90, 21, 95]) == ()

    def test_sizes_and_groups_together(self):
        found = choose_demand(**self.RATE, jobs={1: 12, 2: 6, 3: 2}, lead_times=[20] * 6 + [90] * 6)
        assert found.demand.mean == pytest.approx(1.5 * 56 / MONTH)
        assert found.because.count(";") == 1


class TestLots:
    """Snyder, Shen, Fundamentals of Supply Chain Theory, 2nd ed., example 5.8, figures by stockpyl 1.0.2: h = 20,
    p = 150, K = 100, 1.5 a month, 2 months."""

    COSTS: ClassVar[dict[str, Any]] = {"rate": 1.5, "order_cost": 100.0, "holding": 20.0, "shortage": 150.0}

    def test_example_5_8_by_both_measures_of_service(self):
        found = measures_of_lots(poisson(3.0), level=3, quantity=5)
        assert found.cycle_service == pytest.approx(0.647232, abs=1e-6)
        assert found.fill_rate == pytest.approx(0.866633, abs=1e-6)
        assert found.owed == pytest.approx(0.105433, abs=1e-6)
        assert found.on_hand == pytest.approx(3.10543, abs=1e-5)

    def test_example_5_8_costs_and_is_the_cheapest(self):
        assert cost_of_lots(poisson(3.0), level=3, quantity=5, **self.COSTS) == pytest.approx(107.923581, abs=1e-6)
        level, quantity, cost = cheapest_lots(poisson(3.0), **self.COSTS)
        assert (level, quantity) == (3, 5)
        assert cost == pytest.approx(107.923581, abs=1e-6)

    @pytest.mark.parametrize(
        ("demand", "level", "quantity", "fill", "owed", "on_hand"),
        [
            # Poisson(10), S = 15, by stockpyl 1.0.2; Hopp, Spearman, Factory Physics, ch. 2 (inputs value from memory).
            (poisson(10.0), 14, 1, 0.916542, 0.103479, 5.10348),
            (poisson(14 * 45 / 365), 2, 4, 0.903335, 0.048926, None),
        ],
    )
    def test_measures_of_printed_cases(self, demand, level, quantity, fill, owed, on_hand):
        found = measures_of_lots(demand, level=level, quantity=quantity)
        assert found.fill_rate == pytest.approx(fill, abs=1e-6)
        assert found.owed == pytest.approx(owed, abs=1e-6)
        assert on_hand is None or found.on_hand == pytest.approx(on_hand, abs=1e-5)

    def test_no_neighbour_is_cheaper(self):
        demand = LeadTimeDemand(4.0, 9.0)
        costs: dict[str, Any] = {"rate": 2.0, "order_cost": 60.0, "holding": 3.0, "shortage": 20.0}
        level, quantity, cost = cheapest_lots(demand, **costs)
        for other in range(level - 4, level + 5):
            for lot in range(max(quantity - 4, 1), quantity + 5):
                assert cost <= cost_of_lots(demand, level=other, quantity=lot, **costs) + 1e-9
