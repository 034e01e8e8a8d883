"""The formulas of stock hold against a shelf played through event by event: each theory lies within three standard
errors of what was seen."""

from typing import Any

import numpy as np
import pytest
from scipy import stats

from kits.calculations.counted_demand import chances_of
from kits.calculations.lot_policy import measures_of_lots
from kits.calculations.periodic_review import fill_rate_of_reviews, reviewed_stock
from kits.calculations.reorder_point import LeadTimeDemand, fill_rate
from tests.simulations.booking_simulation import draw_bookings, fill_with_bookings, unseen_share
from tests.simulations.stock_simulation import Crossing, Fixed, InTurn, simulate

A_WEEK = 0.5 / 7
A_MONTH = 2 / 30.4375
LONG: dict[str, Any] = {"rate": A_WEEK, "days": 250_000.0, "warm_up": 2_000.0}
DAYS = 365 * 300


def poisson(mean):
    return LeadTimeDemand(mean, mean)


class TestTheoryLiesWithinTheSimulation:
    @pytest.mark.parametrize(
        ("stock", "fill", "on_hand", "owed"),
        [(2, 0.199148, 0.248935, 1.24894), (4, 0.647232, 1.31936, 0.319357), (6, 0.916082, 3.0507, 0.0507026)],
    )
    def test_base_stock_under_poisson_needs(self, stock, fill, on_hand, owed):
        """0.5 a week, 6 weeks: fill P(D <= S - 1) (scipy.stats.poisson), owed E[max(D - S, 0)]."""
        seen = simulate(level=stock - 1, lead_times=Fixed(42), seed=1, **LONG)
        theory = measures_of_lots(poisson(3.0), level=stock - 1, quantity=1)
        assert theory.fill_rate == pytest.approx(stats.poisson(3).cdf(stock - 1))
        assert (theory.fill_rate, theory.on_hand, theory.owed) == pytest.approx((fill, on_hand, owed), abs=6e-6)
        assert seen.fill_rate.holds(fill)
        assert seen.on_hand.holds(on_hand)
        assert seen.owed.holds(owed)

    @pytest.mark.parametrize(
        ("level", "quantity", "fill"), [(2, 4, 0.700442), (0, 2, 0.124468), (5, 1, 0.916082), (-1, 1, 0.0)]
    )
    def test_lots_ordered_at_a_level(self, level, quantity, fill):
        """1 - (B(r) - B(r + Q)) / Q, loss functions of scipy.stats.poisson."""
        counts = np.arange(100)
        loss = [float(np.maximum(counts - one, 0) @ stats.poisson(3).pmf(counts)) for one in (level, level + quantity)]
        assert 1 - (loss[0] - loss[1] if level >= 0 else 1) / quantity == pytest.approx(fill, abs=1e-6)
        seen = simulate(level=level, quantity=quantity, lead_times=Fixed(42), seed=4, **LONG)
        assert fill_rate(poisson(3.0), level, quantity) == pytest.approx(fill, abs=1e-6)
        assert seen.fill_rate.holds(fill)

    def test_orders_that_may_overtake_each_other_behave_as_fixed_lead_times_of_the_same_mean(self):
        """Palm's theorem (Feeney, Sherbrooke 1966, Management Science 12:391-411): exponential lead times, S = 4."""
        days = np.random.default_rng(5).exponential(42, 50_000)
        assert simulate(level=3, lead_times=Crossing(days), seed=2, **LONG).fill_rate.holds(0.647232)

    def test_orders_that_come_in_turn_need_the_wider_distribution(self):
        """Gamma lead times, mean 6, sd 3 weeks, S = 7: in turn scipy.stats.nbinom(4, 4/7), 0.9208; overtaking each
        other Poisson(3), 0.9665. The lead time stays for a spell of 2,000 days, as a supplier's does."""
        days = np.random.default_rng(5).gamma(4, 42 / 4, 50_000)
        in_turn = simulate(
            rate=A_WEEK, days=1_000_000.0, warm_up=2_000.0, level=6, lead_times=InTurn(days, 2_000.0), seed=2
        )
        overtaking = simulate(level=6, lead_times=Crossing(days), seed=2, **LONG)
        assert stats.nbinom(4, 4 / 7).cdf(6) == pytest.approx(0.92082, abs=5e-6)
        assert in_turn.fill_rate.holds(0.92082)
        assert not in_turn.fill_rate.holds(0.96649)
        assert overtaking.fill_rate.holds(0.96649)

    @pytest.mark.parametrize(("stock", "loss"), [(2, 0.529412), (4, 0.206107)])
    def test_needs_that_go_elsewhere_are_lost_as_erlang_has_it(self, stock, loss):
        """Erlang's loss formula with a load of 3 (Erlang 1917), summed from scipy.stats.poisson."""
        assert stats.poisson(3).pmf(stock) / stats.poisson(3).cdf(stock) == pytest.approx(loss, abs=1e-6)
        seen = simulate(level=stock - 1, lead_times=Fixed(42), lost=True, seed=3, **LONG)
        assert seen.fill_rate.holds(1 - loss)
        assert seen.owed.mean == 0

    @pytest.mark.parametrize(("level", "fill"), [(7, 0.72275), (8, 0.83571), (9, 0.91071)])
    def test_a_daily_look_lets_a_day_more_pass(self, level, fill):
        """1.5 a day, lead time 3, review 1 (Silver, Pyke, Thomas, 4th ed., ch. 7, data of an exercise; value from
        memory)."""
        seen = simulate(
            rate=1.5, days=30_000.0, warm_up=100.0, level=level - 1, lead_times=Fixed(3), review_days=1, seed=5
        )
        assert fill_rate_of_reviews(poisson(4.5), poisson(6.0), level) == pytest.approx(fill, abs=1e-5)
        assert seen.fill_rate.holds(fill)

    @pytest.mark.parametrize(("review", "fill"), [(1, 0.97588), (7, 0.96656), (28, 0.91241)])
    def test_a_rare_look_serves_less_with_the_same_stock(self, review, fill):
        """2 a month, 42 days, S = 7: 1 - (B_{L+R}(S) - B_L(S)) / mean of R."""
        seen = simulate(
            rate=A_MONTH, days=120_000.0, warm_up=400.0, level=6, lead_times=Fixed(42), review_days=review, seed=6
        )
        assert seen.fill_rate.holds(fill)

    def test_ordering_up_to_a_level_is_the_renewal_argument_with_single_needs(self):
        """Poisson 0.4 a day, 5 days: (s, S) = (3, 7) without undershoot beyond a day's needs; lots of 4 at 3 order less
        evenly, so only the orders' number is close, the renewal's own 0.095238 a day."""
        exact = reviewed_stock(chances_of(poisson(0.4)), low=3, high=7, lead_time=5)
        seen = simulate(
            rate=0.4, days=30_000.0, warm_up=100.0, level=3, quantity=4, lead_times=Fixed(5), review_days=1, seed=7
        )
        assert exact.orders == pytest.approx(0.095238, abs=1e-6)
        assert seen.orders / 29_900 == pytest.approx(0.4 / 4, rel=0.03)
        assert seen.orders / 29_900 > exact.orders

    def test_how_far_a_seen_fill_rate_is_off_by_chance(self):
        """Of 0.65 after 100, 1,000 and 10,000 needs: sqrt(p (1 - p) / n) = 0.048, 0.015, 0.005 where needs are met
        apart from each other; needs of one shelf are not, so the error seen is larger."""
        for needs, error in ((100, 0.048), (1_000, 0.015), (10_000, 0.005)):
            assert stats.binom(needs, 0.65).std() / needs == pytest.approx(error, abs=5e-4)
            seen = simulate(rate=A_WEEK, days=needs / A_WEEK, level=3, lead_times=Fixed(42), seed=8)
            assert seen.fill_rate.error > 0.8 * error


class TestWhatNeedsNoTheory:
    @pytest.mark.parametrize(("quantity", "lost"), [(1, False), (3, False), (1, True)])
    def test_a_higher_level_never_serves_less_with_the_same_needs(self, quantity, lost):
        met = [
            simulate(
                rate=A_WEEK, days=40_000.0, level=level, quantity=quantity, lead_times=Fixed(42), lost=lost, seed=9,
            ).met
            for level in range(-1, 9)
        ]  # fmt: skip
        assert met == sorted(met)
        assert met[-1] > met[0]

    def test_no_needs_no_orders(self):
        for review in (None, 1):
            seen = simulate(
                rate=0.0, days=1_000.0, level=3, quantity=2, lead_times=Fixed(42), review_days=review, seed=1
            )
            assert (seen.orders, seen.needs, seen.on_hand.mean) == (0, 0, 5.0)

    def test_enough_stock_leaves_nobody_waiting(self):
        seen = simulate(level=30, lead_times=Fixed(42), seed=1, **LONG)
        assert (seen.fill_rate.mean, seen.owed.mean) == (1.0, 0.0)

    @pytest.mark.parametrize("review", [None, 1, 7])
    def test_on_hand_and_on_order_less_owed_is_the_base_stock_at_every_review(self, review):
        for stock in (0, 2, 6):
            seen = simulate(
                rate=0.3, days=8_000.0, level=stock - 1, lead_times=Crossing(np.array([3.0, 40.0, 11.0])),
                review_days=review, seed=2,
            )  # fmt: skip
            assert seen.positions == (stock, stock)

    def test_lots_keep_the_position_between_the_level_and_a_lot_above(self):
        seen = simulate(rate=0.3, days=20_000.0, level=3, quantity=5, lead_times=Fixed(20), seed=2)
        assert seen.positions == (4, 8)

    def test_one_seed_gives_one_history(self):
        first, again, other = (
            simulate(rate=0.3, days=3_000.0, level=3, lead_times=Fixed(20), seed=one) for one in (1, 1, 2)
        )
        assert first == again
        assert first != other

    def test_what_cannot_be_played_is_refused(self):
        with pytest.raises(ValueError, match="a rate from 0"):
            simulate(rate=-1.0, days=10.0, level=1, lead_times=Fixed(1), seed=1)


class TestBookingsAsTheyWereKnown:
    """2 a month, 60 % booked between 5 and 120 days ahead, goods 43 days on the way with the review."""

    BOOKED = draw_bookings(rate=A_MONTH, days=DAYS, share=0.6, ahead=(5, 120), seed=7)

    def fill(self, level, *, as_known):
        return fill_with_bookings(self.BOOKED, days=DAYS, level=level, lead_time=42, as_known=as_known, warm_up=400)

    def test_most_needs_are_not_booked_early_enough(self):
        """0.6 x 78 / 116 of the days are 43 or more ahead: 40 % are seen, by the uniform distribution."""
        assert unseen_share(self.BOOKED, 43) == pytest.approx(1 - 0.6 * 78 / 116, abs=0.015)

    def test_a_replay_that_sees_bookings_before_they_were_made_promises_too_much(self):
        seen_all, as_known = self.fill(4, as_known=False), self.fill(4, as_known=True)
        gap = seen_all.mean - as_known.mean
        assert gap > 3 * np.hypot(seen_all.error, as_known.error)
        assert seen_all.mean > 0.98
        assert as_known.mean < 0.975

    def test_counting_late_bookings_as_unplanned_serves_honestly(self):
        """The level for what is not booked 43 days ahead is one higher, and serves more than the leak only claimed."""
        rate = A_MONTH * unseen_share(self.BOOKED, 43)
        levels = [next(s for s in range(20) if fill_rate_of_reviews(poisson(one * 42), poisson(one * 43), s) >= 0.95)
                  for one in (A_MONTH * 0.4, rate)]  # fmt: skip
        honest = self.fill(5, as_known=True)
        assert levels == [4, 5]
        assert honest.mean > self.fill(4, as_known=True).mean
        assert honest.mean > 0.98

    def test_planned_and_unplanned_needs_are_not_counted_twice(self):
        """All booked 90 days ahead: a planned need finds a piece unless unplanned ones took more than S in a lead time,
        an unplanned one as under base stock; scipy.stats.poisson."""
        booked = draw_bookings(rate=A_MONTH, days=DAYS, share=0.6, ahead=(90, 90), seed=8)
        rate = 0.4 * A_MONTH
        theory = 0.6 * stats.poisson(42 * rate).cdf(4) + 0.4 * fill_rate_of_reviews(
            poisson(42 * rate), poisson(43 * rate), 4
        )
        seen = fill_with_bookings(booked, days=DAYS, level=4, lead_time=42, as_known=True, warm_up=400)
        assert theory == pytest.approx(0.98588, abs=5e-6)
        assert seen.holds(theory)
