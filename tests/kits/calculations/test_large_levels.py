"""Levels of items that go by the thousand: found by halving, the same as if they had been counted up to."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kits.calculations import reorder_arrays
from kits.calculations.large_levels import HIGHEST_KEPT, expected_shortages, fill_rates, large_reorder_levels
from kits.calculations.reorder_arrays import banded_levels, reorder_levels, stock_levels

# Poisson, a little more than that, and far more; mean and variance.
SIZES = [(3000.0, 3000.0), (12_000.0, 12_500.0), (3000.0, 90_000.0), (300.0, 1e6), (25_000.0, 4e6)]


def reference(mean, variance):
    return stats.poisson(mean) if variance <= mean else stats.nbinom(mean**2 / (variance - mean), mean / variance)


def one(value, kind=float):
    return np.array([value], kind)


class TestShortages:
    """Reference: tails of scipy.stats.poisson and nbinom, summed piece by piece; relative error below 1e-7."""

    @pytest.mark.parametrize(("mean", "variance"), SIZES)
    @pytest.mark.parametrize("deviations", [-2, 0, 1, 2.5])
    def test_they_are_the_sum_of_the_tail(self, mean, variance, deviations):
        level = max(int(mean + deviations * variance**0.5), 0)
        until = level + int(60 * variance**0.5)
        expected = reference(mean, variance).sf(np.arange(level, until)).sum()
        found = expected_shortages(one(mean), one(variance), one(level, int))[0]
        assert found == pytest.approx(expected, rel=1e-7)

    def test_at_and_below_nothing_all_that_is_needed_is_short(self):
        found = expected_shortages(np.full(3, 5000.0), np.full(3, 9000.0), np.array([-1, 0, 1]))
        assert found == pytest.approx([5001, 5000, 4999])


class TestReorderPoints:
    """Reference: scipy.stats, P(D <= j) averaged over the positions of an order; absolute error below 1e-9."""

    @pytest.mark.parametrize(("mean", "variance"), SIZES)
    @pytest.mark.parametrize("quantity", [1, 40, 5000])
    def test_it_is_the_lowest_that_serves_the_share_of_needs(self, mean, variance, quantity):
        levels, reached = reorder_levels(one(mean), one(variance), target=0.95, quantity=one(quantity, int))
        level = int(levels[0])
        chances = reference(mean, variance).cdf(np.arange(level - 1, level + quantity))
        assert reached[0] == pytest.approx(chances[1:].mean(), abs=1e-9)
        assert chances[1:].mean() >= 0.95
        assert level == -1 or chances[:-1].mean() < 0.95

    @pytest.mark.parametrize(("mean", "variance"), SIZES)
    def test_for_cycles_it_is_the_quantile(self, mean, variance):
        """scipy.stats ppf."""
        levels, _ = reorder_levels(one(mean), one(variance), target=0.98, quantity=30, measure="cycle")
        assert levels[0] == reference(mean, variance).ppf(0.98)

    @pytest.mark.parametrize(("mean", "variance"), SIZES)
    def test_a_kept_level_holds_within_its_band(self, mean, variance):
        """The width of the band is common practice, no source; its ends by scipy.stats ppf."""
        ends = [int(reference(mean, variance).ppf(target)) for target in (0.94, 0.95, 0.96)]
        for kept, expected in ((-2, ends[1]), (ends[0], ends[0]), (ends[0] - 1, ends[1]), (ends[2] + 1, ends[1])):
            found = banded_levels(
                one(mean), one(variance), target=one(0.95), quantity=one(1, int), kept=one(kept, int), width=0.01
            )
            assert (found.band_from[0], found.lowest[0], found.band_to[0]) == tuple(ends)
            assert found.level[0] == expected
            assert found.fill_rate[0] == pytest.approx(reference(mean, variance).cdf(expected), abs=1e-9)

    def test_an_order_of_hundreds_of_thousands_of_something_rarely_used_is_planned(self):
        levels, reached = reorder_levels(one(20.0), one(30.0), target=0.95, quantity=one(400_000, int))
        assert levels[0] == -1
        assert reached[0] == pytest.approx(1 - 21 / 400_000)

    def test_more_than_any_shelf_holds_is_the_most_that_is_kept(self):
        levels, reached = large_reorder_levels(one(9e9), one(9e12), target=one(0.95), quantity=one(1, int))
        assert levels[0] == HIGHEST_KEPT
        assert reached[0] == pytest.approx(0)


class TestOneWayOrTheOther:
    @given(
        st.lists(
            st.tuples(st.floats(0.02, 150), st.floats(1, 20), st.integers(1, 60), st.floats(0.6, 0.995)),
            min_size=1, max_size=6,
        )
    )  # fmt: skip
    @settings(max_examples=60, deadline=None)
    def test_counting_and_halving_find_the_same(self, each):
        mean, wider, lots, target = map(np.array, zip(*each, strict=True))
        kept = np.round(mean).astype(int)
        found = []
        for most in (5000, 0):
            with pytest.MonkeyPatch.context() as patch:
                patch.setattr(reorder_arrays, "MOST_COUNTED", most)
                band = banded_levels(
                    mean, mean * wider, target=target, quantity=lots, kept=kept, width=0.01
                )  # fmt: skip
                levels, _ = reorder_levels(mean, mean * wider, target=target, quantity=lots)
                topped_up = stock_levels((mean / 3, mean / 3 * wider), (mean, mean * wider), target=target)
                found.append([band.band_from, band.lowest, band.band_to, band.level, levels, topped_up])
                assert band.fill_rate == pytest.approx(fill_rates(mean, mean * wider, band.level, lots), abs=1e-9)
        for counted, halved in zip(*found, strict=True):
            assert counted.tolist() == halved.tolist()

    def test_a_level_to_top_up_to_is_found_where_a_month_needs_thousands(self):
        """Shortages by scipy.stats, tails summed; lead time a month, review after another."""
        level = int(stock_levels((one(9000.0), one(40_000.0)), (one(18_000.0), one(80_000.0)), target=0.97)[0])
        shorts = []
        for tried in (level - 1, level):
            counts = np.arange(tried, 30_000)
            until, before = (reference(*one).sf(counts).sum() for one in ((18_000, 80_000), (9000, 40_000)))
            shorts.append((until - before) / 9000)
        assert shorts[1] <= 0.03
        assert shorts[0] > 0.03
