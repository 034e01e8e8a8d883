"""Jobs that take several pieces at once, all items in step: what they need, what is served, how sizes are learned.

Two jobs a lead time of 1, 2 or 3 pieces are the case of `test_compound_and_mixed_demand`, which is simulated there.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kits.calculations.compound_demand import compound_demand, reorder_point_of_jobs, service_of_jobs
from kits.calculations.demand_of_jobs import demand_of_jobs
from kits.calculations.job_size_arrays import MOST_PIECES, Jobs, jobs_of_sizes, jobs_of_takers, without_jobs
from kits.calculations.reorder_arrays import banded_levels, reorder_levels
from kits.calculations.reorder_point import LeadTimeDemand

SIZES = {1: 6, 2: 3, 3: 1}
SHARES = {1: 0.6, 2: 0.3, 3: 0.1}
CASES = st.lists(
    st.tuples(
        st.floats(0.05, 25),
        st.floats(1, 12),
        st.integers(1, 9),
        st.floats(0.6, 0.99),
        st.dictionaries(st.integers(2, MOST_PIECES), st.integers(2, 30), min_size=1, max_size=4),
    ),
    min_size=1,
    max_size=5,
)


def jobs_of(*each):
    return jobs_of_sizes([{size * 1000: count for size, count in one.items()} for one in each])


def chances(mean, variance, sizes, *, by_cycle, highest):
    rows = jobs_of(sizes).of(np.array([0])).rows(
        np.array([mean]), np.array([variance]), by_cycle=np.array([by_cycle]), highest=highest
    )  # fmt: skip
    return np.array([float(one[0]) for one in rows])


def convolved(number, sizes, until):
    """P(0) .. of the sum of a random number of jobs: powers of the sizes' chances, by numpy.convolve."""
    one, found, summed = np.zeros(max(sizes) + 1), np.zeros(until + 1), np.ones(1)
    one[list(sizes)] = list(sizes.values())
    for jobs in range(until + 1):
        part = number.pmf(jobs) * summed[: until + 1]
        found[: len(part)] += part
        summed = np.convolve(summed, one)
    return found


class TestChances:
    def test_two_jobs_a_lead_time(self):
        """exp(-2), and on by hand; sums over the number of jobs by scipy.stats.poisson."""
        found = chances(3.0, 5.4, SIZES, by_cycle=True, highest=30)
        assert found[:5] == pytest.approx([0.135335, 0.162402, 0.178643, 0.163485, 0.126999], abs=1e-6)
        assert found == pytest.approx(convolved(stats.poisson(2), SHARES, 30), abs=1e-12)

    def test_jobs_that_come_unevenly(self):
        """The number of jobs by scipy.stats.nbinom with mean 2 and variance 5 (Wald: 5 x 1.5^2 + 2 x 0.45)."""
        found = chances(3.0, 5 * 1.5**2 + 2 * 0.45, SIZES, by_cycle=True, highest=40)
        assert found == pytest.approx(convolved(stats.nbinom(4 / 3, 0.4), SHARES, 40), abs=1e-12)

    @given(CASES)
    @settings(max_examples=40, deadline=None)
    def test_many_items_in_step_are_as_one_by_one(self, each):
        jobs = jobs_of(*({1: 10} | one[4] for one in each))
        mean = np.array([one[0] for one in each])
        wider = mean * np.array([one[1] for one in each])
        known = jobs.of(np.arange(len(each)))
        numbers = known.number_of_jobs(mean, wider)
        rows = np.array(list(known.rows(mean, wider, by_cycle=np.ones(len(each), bool), highest=60)))
        for place, (_, _, _, _, sizes) in enumerate(each):
            counts = {1: 10} | sizes
            shares = {size: count / sum(counts.values()) for size, count in counts.items()}
            one = compound_demand(LeadTimeDemand(float(numbers[0][place]), float(numbers[1][place])), shares)
            assert rows[: len(one.chances), place] == pytest.approx(one.chances[:61], abs=1e-11)
            assert one.mean == pytest.approx(mean[place], rel=1e-6)


class TestLevels:
    def test_pieces_given_from_the_shelf(self):
        """(r, nQ) = (4, 2): 0.766399, simulated in `test_compound_and_mixed_demand`."""
        mean, variance, lots = np.array([3.0]), np.array([5.4]), np.array([2])
        levels, reached = reorder_levels(mean, variance, target=0.766, quantity=lots, jobs=jobs_of(SIZES))
        assert levels[0] == 4
        assert reached[0] == pytest.approx(0.766399, abs=1e-6)

    def test_no_shortage_in_95_of_100_lead_times(self):
        """Quantile of the sum by numpy.convolve and scipy.stats.poisson: 7."""
        levels, reached = reorder_levels(
            np.array([3.0]), np.array([5.4]), target=0.95, quantity=4, measure="cycle", jobs=jobs_of(SIZES)
        )
        summed = np.cumsum(convolved(stats.poisson(2), SHARES, 40))
        assert levels[0] == np.searchsorted(summed, 0.95) == 7
        assert reached[0] == pytest.approx(summed[7])

    @given(CASES)
    @settings(max_examples=40, deadline=None)
    def test_many_items_in_step_get_the_levels_of_one_by_one(self, each):
        jobs = jobs_of(*({1: 10} | one[4] for one in each))
        mean, wider, lots, target = (np.array(one) for one in zip(*(one[:4] for one in each), strict=True))
        variance = mean * wider
        numbers = jobs.of(np.arange(len(each))).number_of_jobs(mean, variance)
        band = banded_levels(
            mean, variance, target=target, quantity=lots, kept=np.full(len(mean), -2), width=0.01, jobs=jobs
        )
        levels, reached = reorder_levels(mean, variance, target=target, quantity=lots, jobs=jobs)
        assert band.level.tolist() == levels.tolist()
        for place in np.flatnonzero(band.by_jobs):
            counts = {1: 10} | each[place][4]
            shares = {size: count / sum(counts.values()) for size, count in counts.items()}
            demand = compound_demand(LeadTimeDemand(float(numbers[0][place]), float(numbers[1][place])), shares)
            served = [
                service_of_jobs(demand, shares, level=int(levels[place]) + more, quantity=int(lots[place])).fill_rate
                for more in (0, -1)
            ]
            assert reached[place] == pytest.approx(served[0], abs=1e-9)
            assert served[0] >= target[place] - 1e-9
            assert levels[place] == -1 or served[1] < target[place] + 1e-9

    def test_beside_each_other_each_goes_its_own_way(self):
        """By jobs, by two moments, and by the thousand: the last by scipy.stats.nbinom, whatever jobs take."""
        jobs = jobs_of(SIZES, {1: 40}, SIZES, {})
        mean, variance = np.array([3.0, 3.0, 4000.0, 0.0]), np.array([5.4, 5.4, 9000.0, 0.0])
        found = banded_levels(
            mean, variance, target=np.full(4, 0.95), quantity=np.full(4, 2), kept=np.full(4, -2), width=0.01,
            by_cycle=np.array([False, False, True, False]), jobs=jobs,
        )  # fmt: skip
        assert found.by_jobs.tolist() == [True, False, False, False]
        demand = compound_demand(LeadTimeDemand(2.0, 2.0), SHARES)
        assert found.level[0] == reorder_point_of_jobs(demand, SHARES, target=0.95, quantity=2).level
        assert found.level[1] == reorder_levels(mean[1:2], variance[1:2], target=0.95, quantity=2)[0][0]
        assert found.fill_rate[0] < found.fill_rate[1]
        assert found.level[2] == stats.nbinom(4000**2 / 5000, 4 / 9).ppf(0.95)
        assert found.level[3] == -1


class TestToldOfOne:
    def test_the_chance_of_at_most_so_many(self):
        """By numpy.convolve and scipy.stats.poisson; asked far out nothing is missing."""
        found = demand_of_jobs(LeadTimeDemand(3.0, 5.4), SIZES)
        summed = np.cumsum(convolved(stats.poisson(2), SHARES, 40))
        assert (found.mean, found.variance, found.distribution) == (3.0, pytest.approx(5.4), "counted")
        assert found.at_most(np.array([-1, 0, 4, 9])) == pytest.approx([0, summed[0], summed[4], summed[9]])
        assert found.at_most(np.array([10**9]))[0] == pytest.approx(1)

    def test_a_tail_without_end_is_cut_where_no_shelf_reaches(self):
        found = demand_of_jobs(LeadTimeDemand(1.0, 1e6), SIZES)
        assert 0.99 < found.at_most(np.array([10**7]))[0] < 1


class TestSizesFromHistory:
    """Below 8 jobs, or with fewer than a tenth above one piece, sizes do not count (common practice, no source)."""

    def learned(self, *rows, items=1):
        place, taker, quantity = zip(*rows, strict=True)
        names = np.array([f"{one:016d}".encode() for one in taker], "S16").view("V16")
        return jobs_of_takers(np.array(place), names, np.array(quantity), items=items)

    def test_what_a_job_took_by_and_by_is_one_size_and_what_it_brought_back_is_none(self):
        once = [(0, taker, 1000) for taker in range(7)]
        several = [(0, 50, 1000), (0, 51, 4000), (0, 50, 2000), (0, 51, -2000), (0, 52, 3000), (0, 52, -3000)]
        assert self.learned(*once, *several).sizes_of(0) == {1: 7, 2: 1, 3: 1}

    def test_a_job_that_takes_of_several_items_counts_at_each(self):
        rows = [(item, taker, 1000 * (1 + item)) for taker in range(9) for item in (1, 0)]
        found = self.learned(*rows, items=3)
        assert found.known.tolist() == [False, True, False]
        assert found.sizes_of(1) == {2: 9}
        assert found.largest.tolist() == [0, 2, 0]

    @pytest.mark.parametrize("strange", [1500, 21_000])
    def test_parts_of_a_piece_and_boxes_leave_it_to_two_moments(self, strange):
        rows = [(0, taker, 2000) for taker in range(20)]
        assert self.learned(*rows).known[0]
        assert not self.learned(*rows, (0, 99, strange)).known[0]

    def test_few_jobs_and_jobs_of_one_do_too(self):
        assert not self.learned(*[(0, taker, 2000) for taker in range(7)]).known[0]
        assert not self.learned(*[(0, taker, 1000 * (1 + (taker == 0))) for taker in range(11)]).known[0]
        assert self.learned(*[(0, taker, 1000 * (1 + (taker == 0))) for taker in range(10)]).known[0]

    def test_nothing_taken_is_nothing_known(self):
        empty = np.empty(0, np.int64)
        assert not jobs_of_takers(empty, np.empty(0, "V16"), empty, items=2).known.any()
        assert not jobs_of_sizes([{}, {}]).known.any()
        assert isinstance(without_jobs(2), Jobs)
