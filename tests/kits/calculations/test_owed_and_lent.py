"""What is owed is ordered, in parts of a piece too; a lender is asked for no more than it has idle."""

import uuid
from decimal import Decimal

from kits.calculations.replenishment_working import plan_replenishment
from kits.calculations.sourcing import Offer, choose_source
from tests.kits.calculations.test_stock_and_plan import TODAY, inputs


def owed(quantity):
    """Of what is new here, a job asks for so much."""
    new = {"kept_since": TODAY, "needs": (), "usable": Decimal(0), "lots": ()}
    return plan_replenishment(inputs(**new, claims=((TODAY, Decimal(quantity)),)))


def test_half_a_metre_that_a_job_asks_for_is_ordered_where_none_is_kept():
    plan = owed("0.5")
    assert plan.firm_shortage
    assert plan.point.level == -1
    assert plan.quantity == 2
    assert plan.position.total + plan.quantity > plan.point.level


def idle_site(free):
    return Offer(uuid.uuid4(), "central", Decimal(free), level=1, usual=2, days=60)


def test_a_slow_lender_is_not_asked_for_more_than_lies_idle():
    """Jobs wait for seven, of which five are on order: three lift the position above the reorder point."""
    assert choose_source(lacking=Decimal(7), gap=3, offers=[idle_site(6)], lead_time_days=42).kind == "buy"
    assert choose_source(lacking=Decimal(7), gap=3, offers=[idle_site(10)], lead_time_days=42).kind == "transfer"
