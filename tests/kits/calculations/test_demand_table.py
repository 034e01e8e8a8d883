"""A site's needs as a table: what was claimed early is planned, what came back changes no past month, and months before
an item was kept are absent."""

import datetime
from decimal import Decimal
from typing import Any, ClassVar

import numpy as np
import pytest

from kits.calculations.backtest import TopUp, fixed_levels, replay
from kits.calculations.demand_table import Claimed, DatedNeed, carried_forward, demand_table, unplanned

DAY = datetime.date


def one(day, quantity=1, job=None, item="kit"):
    return DatedNeed(item, day, Decimal(quantity), job)


class TestUnplannedNeeds:
    def test_what_was_claimed_early_enough_to_order_for_is_planned(self):
        """43 days on the way: claimed 50 days ahead is planned, 20 days ahead is not, and without a job it never is."""
        claims = {
            ("early", "kit"): Claimed(DAY(2026, 1, 1), DAY(2026, 2, 20)),
            ("late", "kit"): Claimed(DAY(2026, 2, 1), DAY(2026, 2, 21)),
        }
        needs = [one(DAY(2026, 2, 20), job="early"), one(DAY(2026, 2, 21), job="late"), one(DAY(2026, 2, 22))]
        assert unplanned(needs, claims, horizon_days=43) == {
            "kit": [(DAY(2026, 2, 21), 1), (DAY(2026, 2, 22), 1)],
        }

    def test_a_need_that_waited_counts_in_the_month_it_was_due(self):
        claims = {("job", "kit"): Claimed(DAY(2026, 3, 10), DAY(2026, 3, 20))}
        assert unplanned([one(DAY(2026, 5, 2), job="job")], claims, horizon_days=43) == {
            "kit": [(DAY(2026, 3, 20), 1)],
        }

    def test_what_a_planned_job_brings_back_is_left_out_with_it(self):
        claims = {("job", "kit"): Claimed(DAY(2026, 1, 1), DAY(2026, 3, 20))}
        needs = [one(DAY(2026, 3, 20), 2, job="job"), one(DAY(2026, 4, 2), -1, job="job")]
        assert unplanned(needs, claims, horizon_days=43) == {}

    def test_a_claim_on_another_item_plans_nothing(self):
        claims = {("job", "seal"): Claimed(DAY(2026, 1, 1), DAY(2026, 3, 20))}
        assert unplanned([one(DAY(2026, 3, 20), job="job")], claims, horizon_days=43) != {}


class TestTheTable:
    NEEDS: ClassVar[dict[str, Any]] = {"old": [(DAY(2026, 2, 3), Decimal(2))], "late": [(DAY(2026, 4, 3), Decimal(5))]}

    def table(self, **changes):
        usual: dict[str, Any] = {"as_of": DAY(2026, 6, 9), "months": 36, "from_period": 5}
        kept = {"old": DAY(2025, 12, 9), "late": DAY(2026, 3, 1), "new": DAY(2026, 4, 9)}
        return demand_table(self.NEEDS, kept, **(usual | changes))

    def test_each_series_begins_with_the_first_whole_month_it_was_kept(self):
        found = self.table()
        assert found.first_month == DAY(2026, 1, 1)
        assert found.items == ("old", "late")
        assert found.first.tolist() == [0, 2]
        assert found.demand.T.tolist() == [[0, 2, 0, 0, 0], [0, 0, 0, 5, 0]]

    def test_an_item_without_a_whole_month_before_the_replay_is_not_judged(self):
        assert self.table().new == ("new",)
        assert self.table(from_period=3).new == ("late", "new")

    def test_what_is_taken_in_parts_of_a_unit_is_left_out(self):
        found = demand_table(
            {"grease": [(DAY(2026, 2, 3), Decimal("0.4"))]},
            {"grease": DAY(2026, 1, 1)},
            as_of=DAY(2026, 6, 9),
            months=36,
            from_period=3,
        )
        assert (found.items, found.in_parts) == ((), ("grease",))

    def test_what_came_back_is_taken_off_its_month_and_the_next_but_never_off_an_earlier_one(self):
        assert carried_forward([3, -2, 1, 4, -1]) == [3, 0, 0, 3, 0]
        first = carried_forward([3, 1])
        assert carried_forward([3, 1, -2])[:2] == first

    def test_absent_months_do_not_lower_the_mean_a_person_sets_levels_from(self):
        """5 in 2 months kept are 2.5 a month, so 3; over 4 months they would be 1.25, so 2; by hand."""
        history = np.array([[0], [0], [0], [5]])
        assert fixed_levels(history, 1.0, first=np.array([2])).tolist() == [3]
        assert fixed_levels(history, 1.0).tolist() == [2]

    def test_fewer_than_five_needs_are_no_evidence(self):
        """Common practice, no source."""
        table = np.array([[1], [1], [1], [1]])
        assert replay(table, TopUp(np.array([1])), from_period=1).fill_rate is None
        assert replay(np.vstack([table, [[1]]]), TopUp(np.array([1])), from_period=1).fill_rate == pytest.approx(1)
