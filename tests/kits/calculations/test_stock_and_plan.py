"""Allocation, position and the whole plan of replenishment."""

import dataclasses
import datetime
import uuid
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import linprog

from kits.calculations.allocation import LotStock, allocate
from kits.calculations.compound_demand import compound_demand, reorder_point_of_jobs
from kits.calculations.cumulated_demand import cumulated_until
from kits.calculations.proposal_stability import Asked, why_changed
from kits.calculations.reorder_point import LeadTimeDemand
from kits.calculations.replenishment_words import warnings_of, words_of
from kits.calculations.replenishment_working import (
    ReplenishmentInputs,
    done_again,
    plan_replenishment,
    plan_site_of,
    working_of,
)
from kits.calculations.sourcing import Offer, choose_source
from kits.calculations.stock_position import stock_position

DAY = datetime.date
TODAY = DAY(2026, 11, 25)


def lot(number, free, until):
    return LotStock(number, number, until, DAY(2026, 1, 1), Decimal(free))


def days(count):
    return TODAY + datetime.timedelta(days=count)


class TestAllocation:
    def test_the_one_that_expires_first_is_taken_first_and_what_does_not_age_last(self):
        lots = [lot("never", 5, None), lot("late", 1, DAY(2030, 1, 1)), lot("soon", 1, DAY(2027, 1, 1))]
        found = allocate(lots=lots, quantity=Decimal(3), on=TODAY)
        assert found.taken == (("soon", Decimal(1)), ("late", Decimal(1)), ("never", Decimal(1)))

    def test_its_last_day_still_counts_and_the_day_after_does_not(self):
        lots = [lot("edge", 1, TODAY)]
        assert allocate(lots=lots, quantity=Decimal(1), on=TODAY).short == 0
        late = allocate(lots=lots, quantity=Decimal(1), on=days(1))
        assert (late.short, late.passed_over[0].lot_number) == (1, "edge")

    @given(
        st.lists(
            st.tuples(st.integers(0, 5), st.one_of(st.none(), st.dates(DAY(2026, 11, 1), DAY(2027, 2, 1)))),
            max_size=8,
        ),
        st.integers(0, 12),
        st.dates(DAY(2026, 11, 1), DAY(2027, 2, 1)),
    )
    def test_never_more_than_free_never_out_of_date_and_nothing_vanishes(self, stock, wanted, on):
        lots = [lot(str(place), free, until) for place, (free, until) in enumerate(stock)]
        found = allocate(lots=lots, quantity=Decimal(wanted), on=on)
        by_key = {one.key: one for one in lots}
        assert sum(quantity for _, quantity in found.taken) + found.short == wanted
        for key, quantity in found.taken:
            assert 0 < quantity <= by_key[key].free
            until = by_key[key].usable_until
            assert until is None or until >= on
        usable = sum(one.free for one in lots if one.usable_until is None or one.usable_until >= on)
        assert found.short == max(wanted - usable, 0)

    @given(
        st.lists(st.tuples(st.integers(1, 3), st.integers(0, 6)), min_size=1, max_size=4),
        st.lists(st.tuples(st.integers(1, 3), st.integers(0, 6)), min_size=1, max_size=4),
    )
    def test_serving_needs_in_date_order_serves_the_most_there_is(self, stock, needs):
        """Against scipy.optimize.linprog as a maximum flow from lots to needs (Glover 1967, Naval Research Logistics
        Quarterly 14:313-316: the greedy order is a maximum matching)."""
        lots = [lot(str(place), free, days(last)) for place, (free, last) in enumerate(stock)]
        free = {one.key: one.free for one in lots}
        served = Decimal(0)
        for quantity, day in sorted(needs, key=lambda one: one[1]):
            left = [lot(one.key, free[one.key], one.usable_until) for one in lots]
            found = allocate(lots=left, quantity=Decimal(quantity), on=days(day))
            for key, taken in found.taken:
                free[key] -= taken
                served += taken
        pairs = [(i, j) for i, (_, last) in enumerate(stock) for j, (_, day) in enumerate(needs) if last >= day]
        rows = [[1.0 if i == place else 0.0 for i, _ in pairs] for place in range(len(stock))]
        rows += [[1.0 if j == place else 0.0 for _, j in pairs] for place in range(len(needs))]
        bounds = [float(one) for one, _ in stock] + [float(one) for one, _ in needs]
        least = linprog([-1.0] * len(pairs), A_ub=rows, b_ub=bounds, method="highs").fun if pairs else 0.0
        assert least is not None
        assert float(served) == pytest.approx(-least)


class TestPosition:
    def test_each_figure_counts_once(self):
        """On hand 4 of which 1 dies, 2 on order in time and 1 later, 3 claimed in time and 2 later: position 2, worked
        by hand."""
        found = stock_position(
            usable=Decimal(4),
            held_for_jobs=Decimal(0),
            lots=[(days(10), Decimal(4))],
            claims=[
                (days(5), Decimal(3)),
                (days(90), Decimal(2)),
            ],
            on_order=[
                (days(40), Decimal(2)),
                (days(80), Decimal(1)),
            ],
            horizon=days(43),
        )
        assert (found.dying, found.on_order, found.claimed, found.total) == (1, 2, 3, 2)

    @given(
        st.integers(0, 9),
        st.lists(st.tuples(st.integers(0, 90), st.integers(1, 4)), max_size=5),
        st.integers(0, 60),
    )
    def test_no_more_dies_than_lies_there(self, free, claims, last):
        found = stock_position(
            usable=Decimal(free),
            held_for_jobs=Decimal(0),
            lots=[(days(last), Decimal(free))] if free else [],
            claims=[(days(day), Decimal(quantity)) for day, quantity in claims],
            on_order=[],
            horizon=days(43),
        )
        assert 0 <= found.dying <= free


def inputs(**changes):
    """18 single needs over 36 months, 42 days give or take 9, in twos."""
    needs = tuple((DAY(2023 + (month + 10) // 12, (month + 10) % 12 + 1, 15), Decimal(1)) for month in range(0, 36, 2))
    fields: dict[str, Any] = {
        "as_of": TODAY,
        "kept_since": DAY(2023, 10, 1),
        "needs": needs,
        "usable": Decimal(1),
        "held_for_jobs": Decimal(0),
        "lots": ((DAY(2030, 1, 1), Decimal(1)),),
        "claims": (),
        "on_order": (),
        "lead_time_days": Decimal(42),
        "lead_time_sd_days": Decimal(9),
        "minimum": Decimal(2),
        "multiple": Decimal(2),
        "price": Decimal("184.5"),
        "order_cost": Decimal(35),
        "fill_rate": Decimal("0.95"),
        "storage_years": 10,
    }
    return ReplenishmentInputs(**(fields | changes))


class TestPlan:
    def test_at_the_reorder_point_an_order_is_proposed_that_lifts_the_position_above_it(self):
        plan = plan_replenishment(inputs())
        assert plan.position.total <= plan.point.level
        assert plan.quantity % 2 == 0
        assert plan.position.total + plan.quantity > plan.point.level
        assert plan.point.fill_rate >= 0.95

    def test_by_cycle_service_the_reorder_point_alone_keeps_shortages_away(self):
        """P(D <= r) of the lead time's demand, negative binomial by scipy.stats: the lowest r that reaches 95 %."""
        by_fill, by_cycle = plan_replenishment(inputs()), plan_replenishment(inputs(measure="cycle"))
        demand = by_cycle.point.demand
        size, chance = demand.mean**2 / (demand.variance - demand.mean), demand.mean / demand.variance
        assert by_cycle.point.level == stats.nbinom(size, chance).ppf(0.95)
        assert by_cycle.point.level >= by_fill.point.level
        assert by_cycle.point.fill_rate < by_fill.point.fill_rate
        assert any("nothing runs short with a chance of 95 %" in one for one in words_of(by_cycle))
        assert done_again(working_of(by_cycle)).point.level == by_cycle.point.level

    def test_what_the_shelf_is_filled_up_to_is_the_lowest_point_that_serves_and_an_order_above_it(self):
        """0 in 24 months: a gamma-Poisson rate of 0.5 / 24 a month (as in `TestForecast` of `test_replenishment`),
        negative binomial demand by scipy.stats.nbinom, P(D <= j) averaged over an order; the economic quantity
        sqrt(2 x 35 x 0.25 / 36.9) is below the supplier's minimum 2."""
        plan = plan_site_of([inputs(needs=(), kept_since=DAY(2024, 11, 1))])
        rate, months = 0.5 / 24, 43 / 30.4375
        mean = rate * months
        variance = mean + rate**2 * (9 / 30.4375) ** 2 + rate / 24 * months**2
        chances = stats.nbinom(mean**2 / (variance - mean), mean / variance).cdf(np.arange(-2, 4))
        point = int(plan.up_to[0]) - 2
        assert plan.forecasts.mean[0] == pytest.approx(rate)
        assert chances[point + 2 : point + 4].mean() >= 0.95
        assert point == -1 or chances[point + 1 : point + 3].mean() < 0.95

    def test_more_use_and_a_higher_target_keep_more(self):
        quiet, used, safer = plan_site_of(
            [inputs(needs=()), inputs(fill_rate=Decimal("0.9")), inputs(fill_rate=Decimal("0.99"))]
        ).up_to
        assert quiet < used < safer

    def test_what_was_not_kept_for_a_whole_month_has_no_known_use(self):
        assert plan_site_of([inputs(needs=(), kept_since=DAY(2026, 10, 2))]).forecasts.months[0] == 0

    def test_thousands_a_month_are_planned_as_single_ones_are(self):
        """The chance of no more than the reorder point by scipy.stats.nbinom: above mean and deviation, and served."""
        needs = tuple((day, quantity * 9000) for day, quantity in inputs().needs)
        plan = plan_site_of([inputs(needs=needs, measure="cycle")])
        mean, variance = float(plan.demand_mean[0]), float(plan.demand_variance[0])
        assert plan.level[0] == stats.nbinom(mean**2 / (variance - mean), mean / variance).ppf(0.95)
        assert plan.level[0] > mean + variance**0.5

    def test_jobs_that_take_several_at_once_are_served_by_the_piece_and_told(self):
        """Against one item's own way, `compound_demand`; the number of jobs by Wald's formula: the variance of pieces
        is E[N] Var[size] + Var[N] E[size]^2, N at least Poisson."""
        sizes = {Decimal(1): 6, Decimal(2): 3, Decimal(3): 3}
        plan = plan_replenishment(inputs(taken_at_once=sizes))
        mean, variance = float(plan.site.demand_mean[0]), float(plan.site.demand_variance[0])
        shares = {int(size): count / 12 for size, count in sizes.items()}
        size = 1.75
        spread = sum((one - size) ** 2 * share for one, share in shares.items())
        number = mean / size
        jobs = LeadTimeDemand(number, max(number, (variance - number * spread) / size**2))
        demand = compound_demand(jobs, shares)
        expected = reorder_point_of_jobs(demand, shares, target=0.95, quantity=plan.usual.quantity)
        assert plan.point.level == expected.level
        assert plan.point.fill_rate == pytest.approx(expected.fill_rate, abs=1e-9)
        assert plan.chance_short() == pytest.approx(1 - float(demand.at_most(np.array([1]))[0]), abs=1e-9)
        assert plan.point.demand.variance == pytest.approx(demand.variance)
        working = working_of(plan)
        assert working["job_sizes"] == {"1": 6, "2": 3, "3": 3}
        assert working["lead_time"]["distribution"] == "counted"
        again = done_again(working)
        assert (again.quantity, again.point.level) == (plan.quantity, plan.point.level)
        assert working_of(again) == working
        assert any("Jobs take 1.75 at once on average, 3 at most" in one for one in words_of(plan))

    def test_where_jobs_take_one_each_nothing_is_said_of_it(self):
        plan = plan_replenishment(inputs(taken_at_once={Decimal(1): 18}))
        assert working_of(plan)["job_sizes"] is None
        assert not any("at once" in one for one in words_of(plan))
        assert plan.point == plan_replenishment(inputs()).point

    def test_workings_of_before_sizes_were_looked_at_can_still_be_done_again(self):
        plan = plan_replenishment(inputs())
        working = working_of(plan)
        del working["job_sizes"]
        assert done_again(working).quantity == plan.quantity

    def test_above_it_nothing_is(self):
        assert plan_replenishment(inputs(usable=Decimal(9), lots=((None, Decimal(9)),))).quantity == 0

    def test_what_is_on_order_in_time_counts_and_what_comes_later_does_not(self):
        soon = plan_replenishment(inputs(on_order=((days(10), Decimal(4)),)))
        late = plan_replenishment(inputs(on_order=((days(200), Decimal(4)),)))
        assert (soon.quantity, late.quantity > 0) == (0, True)

    def test_a_claim_of_a_job_is_certain_and_a_shortage_of_it_is_firm(self):
        plan = plan_replenishment(inputs(usable=Decimal(0), lots=(), claims=((days(5), Decimal(1)),)))
        assert plan.firm_shortage
        assert plan.quantity > 0

    def test_the_working_gives_the_same_again_and_is_told_in_sentences(self):
        one, other = plan_replenishment(inputs()), plan_replenishment(inputs())
        assert working_of(one) == working_of(other)
        told = words_of(one)
        assert any("were used in the last 36 whole months" in sentence for sentence in told)
        assert any(f"{one.quantity} lifts it above that" in sentence for sentence in told)
        assert done_again(working_of(one)).quantity == one.quantity

    def test_the_chance_of_running_short_is_told_with_and_without_the_order(self):
        """Poisson with mean 3.5 and 2 left: P(D > 2) = 0.6792, with 5 more P(D > 7) = 0.0267 (scipy.stats.poisson)."""
        plan = plan_replenishment(inputs(usable=Decimal(2), lots=((None, Decimal(2)),)))
        demand = LeadTimeDemand(3.5, 3.5)
        plan = dataclasses.replace(plan, point=dataclasses.replace(plan.point, demand=demand))
        assert plan.chance_short() == pytest.approx(stats.poisson(3.5).sf(2))
        assert plan.chance_short() == pytest.approx(0.6792, abs=5e-5)
        assert plan.chance_short(5) == pytest.approx(0.0267, abs=5e-5)
        assert any("a chance of 68 %" in one for one in words_of(plan, quantity=5))

    def test_a_short_history_and_a_lead_time_of_unknown_spread_want_a_person(self):
        plan = plan_replenishment(inputs(kept_since=DAY(2026, 6, 1), lead_time_sd_days=Decimal(0)))
        assert [one["code"] for one in warnings_of(plan)] == ["short-history", "lead-time-spread-unknown"]

    def test_an_item_that_was_never_needed_is_not_ordered_for_the_shelf(self):
        plan = plan_replenishment(inputs(needs=(), kept_since=TODAY, usable=Decimal(3), lots=((None, Decimal(3)),)))
        assert plan.quantity == 0

    @given(st.integers(0, 12), st.integers(0, 6), st.integers(1, 6), st.integers(1, 4))
    def test_a_proposal_always_lifts_the_position_above_the_reorder_point(self, usable, coming, minimum, multiple):
        plan = plan_replenishment(
            inputs(
                usable=Decimal(usable),
                lots=((None, Decimal(usable)),) if usable else (),
                on_order=((TODAY, Decimal(coming)),) if coming else (),
                minimum=Decimal(minimum),
                multiple=Decimal(multiple),
            )
        )
        if plan.quantity:
            assert plan.position.total + plan.quantity > plan.point.level
            assert plan.quantity >= minimum
            assert plan.quantity % multiple == 0
        else:
            assert plan.position.total > plan.point.level


def offer(free, *, code="central", level=1, usual=2, days=3, cost=60):
    return Offer(uuid.uuid4(), code, Decimal(free), level, usual, days, None if cost is None else Decimal(cost))


class TestSourcing:
    def choose(self, *offers, lacking=0, gap=2):
        return choose_source(lacking=Decimal(lacking), gap=gap, offers=offers, lead_time_days=42)

    def test_a_waiting_job_borrows_from_who_keeps_its_own_reorder_point(self):
        assert self.choose(offer(3), lacking=1).kind == "transfer"
        assert self.choose(offer(2), lacking=1).kind == "buy"

    def test_without_a_waiting_job_only_what_lies_idle_moves(self):
        assert self.choose(offer(4)).kind == "buy"
        found = self.choose(offer(5))
        assert (found.kind, found.words) == (
            "transfer", "central holds 2 more than it needs, so nothing need be bought.",
        )  # fmt: skip

    def test_the_quicker_lender_comes_first_then_the_cheaper(self):
        found = self.choose(offer(9, code="a", days=4), offer(9, code="b", cost=70), offer(9, code="c"))
        assert found.lender is not None
        assert found.lender.code == "c"

    def test_a_lender_slower_than_the_supplier_does_not_help_a_waiting_job(self):
        assert self.choose(offer(4, days=42), lacking=1).kind == "buy"

    def test_where_nobody_said_how_long_it_takes_it_is_bought_and_told(self):
        found = self.choose(offer(9, days=None), lacking=1)
        assert found.kind == "buy"
        assert "may be quicker than 42 days. Free elsewhere: central 9." in found.words

    def test_a_site_that_was_never_planned_lends_nothing(self):
        assert self.choose(offer(9, level=None, usual=None)).kind == "buy"

    def test_without_anything_elsewhere_there_is_no_alternative(self):
        assert self.choose(offer(0)).words == ""


class TestChangingProposals:
    """Common practice, no source: a piece and a fifth, a week, three days of freeze."""

    def why(self, old, new, *, frozen=False):
        until = days(3) if frozen else None
        return why_changed(old, new, frozen_until=until, today=TODAY)

    def test_a_fifth_and_a_piece_at_least(self):
        old = Asked(Decimal(10), TODAY)
        assert self.why(old, Asked(Decimal(11), TODAY)) == ""
        assert self.why(old, Asked(Decimal(12), TODAY)) == "another quantity"
        assert self.why(Asked(Decimal(2), TODAY), Asked(Decimal(3), TODAY)) == "another quantity"

    def test_a_week_at_least(self):
        old = Asked(Decimal(10), TODAY)
        assert self.why(old, Asked(Decimal(10), days(6))) == ""
        assert self.why(old, Asked(Decimal(10), days(7))) == "another day"

    def test_inside_the_freeze_only_jobs_that_go_short_count(self):
        old = Asked(Decimal(10), TODAY)
        assert self.why(old, Asked(Decimal(99), days(90), "lender"), frozen=True) == ""
        short = Asked(Decimal(10), TODAY, None, firm_shortage=True)
        assert self.why(old, short, frozen=True) == "jobs go short"
        assert self.why(short, short, frozen=True) == ""

    def test_another_source_is_told(self):
        assert self.why(Asked(Decimal(2), TODAY), Asked(Decimal(2), TODAY, "lender")) == "another source"


class TestCumulatedDemand:
    def test_within_a_month_evenly_and_beyond_the_last_at_the_pace_of_all(self):
        """Against numpy.interp inside, by hand beyond."""
        ends, table = np.array([4, 34, 64]), np.array([[1.0], [3.0], [8.0]])
        for day in (0, 2, 4, 20, 34, 50, 64):
            inside = np.interp(day, [0, *ends], [0, *table[:, 0]])
            assert cumulated_until(np.array([day]), ends, table)[0] == pytest.approx(inside)
        assert cumulated_until(np.array([96]), ends, table)[0] == pytest.approx(8 + 8 / 64 * 32)
