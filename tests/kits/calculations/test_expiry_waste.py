"""What dies on the shelf under random demand, and how many may be bought at once."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kits.calculations.expiry_waste import (
    dying_share,
    expected_waste,
    shelf_life_cap,
    shelf_life_caps,
)
from kits.calculations.reorder_point import LeadTimeDemand


def cap(**life: Any) -> Any:
    return shelf_life_cap(**life)


def played(lots, rate, *, times=60_000):
    """Needs at random moments, each taking the piece that dies first."""
    generator = np.random.default_rng(3)
    horizon = max(days for days, _ in lots)
    dead = np.zeros(len(lots))
    for count in generator.poisson(rate * horizon, times):
        left = [pieces for _, pieces in lots]
        for moment in generator.uniform(0, horizon, count):
            for place in sorted(range(len(lots)), key=lambda one: lots[one][0]):
                if lots[place][0] > moment and left[place]:
                    left[place] -= 1
                    break
        dead += left
    return dead / times


class TestWaste:
    @pytest.mark.parametrize(
        ("lots", "rate", "dying"),
        [
            ([(30, 2), (90, 1)], 0.03, [1.17905, 0.154909]),
            ([(30, 2), (90, 1)], 0.01, [1.70388, 0.546836]),
            ([(10, 1), (40, 2), (45, 2)], 0.05, [0.606531, 0.727427, 1.47586]),
        ],
    )
    def test_lots_under_poisson_demand_agree_with_needs_at_random_moments(self, lots, rate, dying):
        """Exact figures beside a shelf played through, its needs drawn by numpy."""
        assert expected_waste(lots, rate=rate) == pytest.approx(dying, abs=6e-6)
        assert played(lots, rate, times=20_000) == pytest.approx(dying, abs=0.03)

    def test_one_lot_by_scipy(self):
        counts = np.arange(60)
        expected = float(np.maximum(5 - counts, 0) @ stats.poisson(0.1 * 40).pmf(counts))
        assert expected_waste([(40, 5)], rate=0.1) == pytest.approx([expected])

    def test_mean_demand_alone_sees_too_little_of_it(self):
        """2 pieces in 30 days at 0.03 a day: the mean leaves 1.1, chance 1.179."""
        assert expected_waste([(30, 2)], rate=0.03)[0] > 2 - 0.03 * 30

    def test_without_demand_everything_dies_and_without_lots_nothing(self):
        assert expected_waste([(90, 3), (30, 2)], rate=0.0) == [3.0, 2.0]
        assert expected_waste([], rate=0.3) == []

    @given(
        st.lists(st.tuples(st.integers(0, 200), st.integers(0, 6)), min_size=1, max_size=5),
        st.floats(0.0, 0.2),
    )
    @settings(max_examples=60, deadline=None)
    def test_what_is_not_used_dies(self, lots, rate):
        """In all at least total less expected needs, at most the total."""
        waste = expected_waste(lots, rate=rate)
        total = sum(pieces for _, pieces in lots)
        assert all(-1e-9 <= one <= pieces + 1e-9 for one, (_, pieces) in zip(waste, lots, strict=True))
        assert sum(waste) >= total - rate * max(days for days, _ in lots) - 1e-9

    def test_what_cannot_be_is_refused(self):
        with pytest.raises(ValueError, match="not below 0"):
            expected_waste([(-1, 2)], rate=0.1)


class TestCapOfAnOrder:
    def test_share_that_dies_by_size_of_the_order(self):
        """3.6 wanted in a life: 2.7, 7.7, 15.2, 24.3, 33.5, 42.0 % of 1 to 6 die, E[max(S - D, 0)] / S by
        scipy.stats.poisson."""
        counts = np.arange(80)
        chances = stats.poisson(3.6).pmf(counts)
        for pieces, share in enumerate((0.027, 0.077, 0.152, 0.243, 0.335, 0.420), 1):
            found = dying_share(LeadTimeDemand(3.6, 3.6), pieces)
            assert found == pytest.approx(float(np.maximum(pieces - counts, 0) @ chances) / pieces)
            assert found == pytest.approx(share, abs=5e-4)

    def test_the_cap_is_the_most_of_which_at_most_a_tenth_dies(self):
        life: dict[str, Any] = {"monthly_mean": 0.3, "monthly_variance": 0.3, "variance_of_mean": 0.0, "months": 12}
        assert cap(**life) == 2
        assert cap(**life, most_dying=0.20) == 3

    def test_what_mean_demand_would_allow_is_more(self):
        """3.6 are used in a life on average; three bought at once already let 15 % die."""
        assert cap(monthly_mean=0.3, monthly_variance=0.3, variance_of_mean=0.0, months=12) < int(3.6)

    def test_an_unsure_forecast_caps_lower(self):
        sure = cap(monthly_mean=1.0, monthly_variance=1.0, variance_of_mean=0.0, months=48)
        unsure = cap(monthly_mean=1.0, monthly_variance=1.0, variance_of_mean=0.2, months=48)
        assert unsure < sure

    def test_what_does_not_age_has_no_cap_and_what_is_never_used_one(self):
        life: dict[str, Any] = {"monthly_mean": 0.0, "monthly_variance": 0.0, "variance_of_mean": 0.0}
        assert cap(**life, months=None) is None
        assert cap(**life, months=60) == 1

    def test_many_items_at_once_are_capped_as_each_by_itself(self):
        draw = np.random.default_rng(2)
        mean = draw.gamma(0.6, 1.0, 60)
        monthly = (mean, mean * draw.uniform(1, 3, 60), mean * 0.05)
        months = draw.choice([12.0, 48.0, np.inf], 60)
        found = shelf_life_caps(monthly, months=months)
        assert (np.isinf(found) == np.isinf(months)).all()
        for place in np.flatnonzero(np.isfinite(months)):
            demand = LeadTimeDemand(
                mean[place] * months[place],
                monthly[1][place] * months[place] + monthly[2][place] * months[place] ** 2,
            )
            cap = int(found[place])
            assert cap == 1 or dying_share(demand, cap) <= 0.10
            assert dying_share(demand, cap + 1) > 0.10

    def test_a_share_that_is_none_is_refused(self):
        with pytest.raises(ValueError, match="between 0 and 1"):
            cap(monthly_mean=1.0, monthly_variance=1.0, variance_of_mean=0.0, months=12, most_dying=1.0)
