"""A night's run over a site: what it looks at, what was foreseen, what the pumps say."""

import datetime
from decimal import Decimal

import numpy as np
import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from scipy import stats

from kits.calculations.demand_history import HISTORY
from kits.calculations.replenishment_working import done_again, plan_replenishments, working_of
from kits.calculations.site_plan import plan_site
from kits.models import (
    ExpectedOverhauls,
    Lot,
    Movement,
    Order,
    OrderLine,
    Proposal,
    ReplenishmentLevel,
    Reservation,
)
from kits.operations.movements import Entry, post_movements
from kits.queries.replenishment_pictures import inputs_of, network_pictures, stock_pictures, targets
from kits.queries.site_stock import site_stock
from services.changes.models import Change
from tests.nights import NOW, TODAY, claim, days, issue, receive, run, steady_use, terms
from tests.shelves import make_kit, make_part, put_on_shelf, some_job

DAY = datetime.timedelta(days=1)
pytestmark = pytest.mark.django_db


class TestLooking:
    def test_at_the_reorder_point_an_order_is_proposed_and_the_level_is_kept(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        told = run(cast)
        assert told == {"looked_at": 1, "levels_changed": 1, "opened": 1, "renewed": 0, "withdrawn": 0}
        level, made = ReplenishmentLevel.objects.get(), Proposal.objects.get()
        assert (made.kind, made.lender_id, made.supplier_id) == ("buy", None, shelves.supplier.pk)
        assert made.working["reorder_point"] == level.reorder_point
        assert level.reorder_point >= 1
        assert made.quantity % 2 == 0
        assert made.price == Decimal("184.5")
        assert made.frozen_until == days(3)

    def test_a_second_run_changes_nothing(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        run(cast)
        before = Change.objects.count()
        again = run(cast)
        assert again == {"looked_at": 1, "levels_changed": 0, "opened": 0, "renewed": 0, "withdrawn": 0}
        assert Change.objects.count() == before

    def test_the_working_alone_gives_the_same_quantity_again(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        other = make_kit("K-200", [("casing-o-ring", shelves.o_ring)])
        terms(shelves, other, minimum=1)
        for place in range(12):
            if place == 0:
                receive(cast, other, 30)
            issue(cast, other, 60 + 83 * place, quantity=1 + place % 3)
        for lot in Lot.objects.filter(item=other):
            issue(cast, other, 5, quantity=30 - sum(1 + place % 3 for place in range(12)), lot=lot.number)
        run(cast)
        for made in Proposal.objects.all():
            again = done_again(made.working)
            together = made.working["consolidation"]
            assert again.quantity == together["needed"]
            assert made.quantity == together["needed"] + together["joined"] + together["topped_up"]
            assert again.point.level == made.working["reorder_point"]
            assert working_of(again)["position"] == made.working["position"]
        assert Proposal.objects.count() == 2

    @pytest.mark.parametrize("quantity", [9000, 9_000_000])
    def test_one_item_that_goes_by_the_thousand_keeps_nobody_elses_night_waiting(self, cast, shelves, quantity):
        """Its level by scipy.stats.nbinom: P(D <= j), averaged over the positions of an order."""
        steady_use(cast, shelves.kit, left=1)
        washer = make_part("WSH-8")
        terms(shelves, washer, minimum=1, price="1000", spread=4)
        dates = range(45, 1100, 60)
        receive(cast, washer, quantity * len(dates) + 500)
        for place, ago in enumerate(dates):
            issue(cast, washer, ago, quantity=quantity - 7 * place)
        left = sum(7 * place for place in range(len(dates))) + 500
        assert run(cast)["opened"] == 2
        made = Proposal.objects.get(item=washer)
        assert ReplenishmentLevel.objects.count() == 2
        working = made.working
        mean, variance = (float(working["lead_time"][name]) for name in ("demand_mean", "demand_variance"))
        level, usual = working["reorder_point"], working["order_quantity"]["usual"]
        places = np.arange(level - 1, level + usual)
        chances = stats.nbinom(mean**2 / (variance - mean), mean / variance).cdf(places)
        assert level > 10_000
        assert chances[1:].mean() >= 0.95 - 1e-7
        assert chances[:-1].mean() < 0.95 + 1e-7
        assert made.quantity + left > working["reorder_point"]
        assert done_again(working).quantity == working["quantity"]

    def test_arrays_and_single_items_see_the_same(self, cast, shelves):
        """Two ways to read and plan, written apart: arrays by place, and one item after the other."""
        steady_use(cast, shelves.kit, left=3)
        put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 2, lot="DIES")
        Lot.objects.filter(number="DIES").update(expires_on=days(20))
        put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 4, lot="DEAD")
        Lot.objects.filter(number="DEAD").update(expires_on=days(-1))
        claim(cast, shelves.kit, 10)
        claim(cast, shelves.kit, 100)
        order = Order.objects.create(number="O-7", site=cast.north, supplier=shelves.supplier, state="sent")
        for line, (on, item) in enumerate(((5, shelves.kit), (90, shelves.bearing)), 1):
            OrderLine.objects.create(
                order=order, line=line, item=item, quantity=3, received=1, expected_on=days(on), price=1, currency="EUR"
            )
        terms(shelves, shelves.bearing, minimum="2.5")
        receive(cast, shelves.bearing, 7, ago=100)
        issue(cast, shelves.bearing, 50, quantity="1.5")
        taken_by_the_handful(cast, shelves)
        pictures = stock_pictures(cast.north.pk, as_of=TODAY, since=TODAY - HISTORY)
        rates = targets()
        single = plan_replenishments([inputs_of(one, TODAY, rates[one.criticality]) for one in pictures])
        with transaction.atomic():
            stock = site_stock(cast.north.pk, TODAY)
        plan = plan_site(stock.figures)
        assert stock.items == [one.item_id for one in pictures]
        for place, one in enumerate(single):
            first = int(stock.figures.first[place])
            assert list(stock.figures.demand[first:, place]) == [float(amount) for amount in one.history.amounts]
            assert stock.figures.position[place] == one.position.total * 1000
            assert stock.figures.dying[place] == one.position.dying * 1000
            assert plan.level[place] == one.point.level
            assert plan.quantity[place] == one.quantity
            assert plan.usual.quantity[place] == one.usual.quantity
            assert stock.figures.jobs.sizes_of(place) == one.site.figures.jobs.sizes_of(one.place)
        assert plan.levels.by_jobs.tolist().count(True) == 1

    def test_as_many_statements_for_many_items_as_for_one(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        with CaptureQueriesContext(connection) as few:
            run(cast)
        for number in range(6):
            item = make_kit(f"K-3{number}", [("casing-o-ring", shelves.o_ring)])
            terms(shelves, item)
            steady_use(cast, item, every=60, left=1)
        ReplenishmentLevel.objects.all().delete()
        Proposal.objects.all().delete()
        with CaptureQueriesContext(connection) as many:
            assert run(cast)["opened"] == 7
        assert len(many) == len(few)
        assert len(few) <= 26


def taken_by_the_handful(cast, shelves):
    """Ten jobs that took one, two or four of a part, one of them in two steps; what was put right is none."""
    nut = make_part("NUT-16")
    terms(shelves, nut, minimum=1)
    receive(cast, nut, 27)
    for place in range(10):
        job = some_job()
        for step in range(2 if place == 9 else 1):
            issue(cast, nut, 60 + 90 * place, quantity=(1, 2, 4)[place % 3] if place < 9 else 1 + step, job=job)
    wrong = issue(cast, nut, 300, quantity=3)
    Movement.objects.bulk_create(
        [
            Movement(
                kind="issue", site=cast.north, bin_id=wrong.bin_id, item=nut, lot_id=wrong.lot_id, condition="usable",
                quantity=3, occurred_at=NOW - datetime.timedelta(290), by_id=wrong.by_id, reverses=wrong,
            )
        ]
    )  # fmt: skip
    return nut


class TestJobsOfSeveralPieces:
    def test_what_each_job_took_in_all_is_looked_at_and_told(self, cast, shelves):
        """Counted by hand: 1, 2 and 4 three times each, and 1 + 2."""
        nut = taken_by_the_handful(cast, shelves)
        run(cast)
        made = Proposal.objects.get(item=nut)
        assert made.working["job_sizes"] == {"1": 3, "2": 3, "3": 1, "4": 3}
        assert "Jobs take 2.40 at once on average, 4 at most" in made.words
        again = done_again(made.working)
        assert again.point.level == made.working["reorder_point"] == ReplenishmentLevel.objects.get().reorder_point
        assert again.quantity == made.working["quantity"]

    def test_what_was_booked_in_time_tells_nothing_of_what_comes_by_chance(self, cast, shelves):
        nut = taken_by_the_handful(cast, shelves)
        taken = Movement.objects.filter(item=nut, job_id__isnull=False).order_by("job_id", "occurred_at")
        days_of = dict(taken.values_list("job_id", "occurred_at"))
        for job, taken_at in days_of.items():
            Reservation.objects.create(
                job_id=job or "", job_number="J", site=cast.north, item=nut, quantity=4, issued=4,
                need_date=taken_at.date(), state="issued", by_id=cast.by("stores").id,
            )  # fmt: skip
        Reservation.objects.update(created_at=NOW - datetime.timedelta(2000))
        with transaction.atomic():
            figures = site_stock(cast.north.pk, TODAY).figures
        assert not figures.jobs.known.any()


class TestForeseen:
    """A claim that was there a lead time before its day could be ordered for: it is no part of what comes by chance
    (Hariharan, Zipkin 1995, Management Science 41, demand lead times offset supply lead times; value from memory)."""

    def booked(self, cast, shelves, *, asked_before):
        receive(cast, shelves.kit, 30)
        for ago in range(45, 1000, 80):
            job = claim(cast, shelves.kit, -ago, asked_ago=ago + asked_before)
            issue(cast, shelves.kit, ago, job=job)
            Reservation.objects.filter(job_id=job[0]).update(state="issued", issued=1)

    def test_what_was_booked_in_time_is_left_out_of_the_forecast(self, cast, shelves):
        self.booked(cast, shelves, asked_before=43)
        figures = self.figures(cast)
        assert figures.demand.sum() == 0
        assert figures.planned.sum() == 12

    def test_what_was_booked_too_late_to_order_for_came_by_chance(self, cast, shelves):
        self.booked(cast, shelves, asked_before=42)
        assert self.figures(cast).demand.sum() == 12

    def test_a_need_counts_in_the_month_it_was_needed_also_if_the_job_had_to_wait(self, cast, shelves):
        receive(cast, shelves.kit, 3)
        job = claim(cast, shelves.kit, -200)
        issue(cast, shelves.kit, 100, job=job)
        Reservation.objects.update(state="issued", issued=1)
        figures = self.figures(cast)
        needed, this = days(-200), TODAY
        place = 36 - ((this.year - needed.year) * 12 + this.month - needed.month)
        assert figures.demand[place, 0] == 1

    def test_what_is_built_into_kits_is_needed_of_the_part_and_a_kit_break_is_not_a_return(self, cast, shelves):
        terms(shelves, shelves.bearing)
        receive(cast, shelves.bearing, 9)
        lot = Lot.objects.get(item=shelves.bearing)
        with transaction.atomic():
            post_movements(
                by=cast.by("stores"),
                entries=[
                    Entry(
                        "kit-build",
                        cast.north.pk,
                        shelves.bearing.pk,
                        lot.pk,
                        Decimal(-4),
                        NOW - datetime.timedelta(70),
                    ),
                    Entry(
                        "kit-break", cast.north.pk, shelves.bearing.pk, lot.pk, Decimal(1), NOW - datetime.timedelta(60)
                    ),
                ],
            )
        assert self.figures(cast).demand.sum() == 4
        since = TODAY - HISTORY
        (lending,) = stock_pictures(cast.north.pk, as_of=TODAY, since=since)
        pictures, _ = network_pictures([cast.north.pk], as_of=TODAY, since=since)
        for one in (lending, pictures[cast.north.pk, shelves.bearing.pk]):
            assert sum(quantity for _, quantity in one.needs) == 4

    def test_a_reversal_takes_off_the_month_of_what_it_reverses(self, cast, shelves):
        receive(cast, shelves.kit, 3)
        wrong = issue(cast, shelves.kit, 300)
        Movement.objects.bulk_create(
            [
                Movement(
                    kind="issue", site=cast.north, bin_id=wrong.bin_id, item=shelves.kit, lot_id=wrong.lot_id,
                    condition="usable", quantity=1, occurred_at=NOW - datetime.timedelta(100), by_id=wrong.by_id,
                    reverses=wrong,
                )
            ]
        )  # fmt: skip
        assert not self.figures(cast).demand.any()

    def test_what_came_back_is_taken_off_the_months_before(self, cast, shelves):
        receive(cast, shelves.kit, 9)
        for ago, quantity in ((300, 2), (200, 5)):
            issue(cast, shelves.kit, ago, quantity=quantity)
        back = Entry("return", cast.north.pk, shelves.kit.pk, Lot.objects.get().pk, Decimal(6), NOW - 150 * DAY)
        with transaction.atomic():
            post_movements(by=cast.by("stores"), entries=[back])
        demand = self.figures(cast).demand
        assert demand.sum() == 1
        assert demand.min() == 0

    def figures(self, cast):
        with transaction.atomic():
            return site_stock(cast.north.pk, TODAY).figures


class TestPumps:
    def expect(self, cast, item, mean, weight, walk_in=0.0):
        month = TODAY.replace(day=1)
        for number in range(13):
            ends = (month.replace(day=28) + datetime.timedelta(days=4)).replace(day=1)
            until = mean * (ends - TODAY).days
            loose = walk_in * (ends - TODAY).days
            ExpectedOverhauls.objects.create(
                site=cast.north, item=item, month=month, mean=mean * 30, variance=mean * 30, no_overhaul=0.5, q95=1,
                certain=0, mean_until=until, variance_until=until, q95_until=1, certain_until=0, pumps=4,
                weight_of_history=weight, history_mean=0, walk_in_mean=0 if number else loose,
                walk_in_variance=0, blended_mean=0, blended_variance=0, as_of=TODAY,
            )  # fmt: skip
            month = ends

    def test_what_installed_pumps_say_is_joined_by_its_weight(self, cast, shelves):
        """(1 - w) of the pumps' mean of 43 days and w of history's, worked by hand."""
        steady_use(cast, shelves.kit, left=1)
        run(cast)
        alone = Proposal.objects.get().working["lead_time"]
        Proposal.objects.all().delete()
        self.expect(cast, shelves.kit, 0.2, 0.25)
        run(cast, days(0))
        working = Proposal.objects.get().working
        assert float(working["installed"]["mean"]) == pytest.approx(0.2 * 43)
        joined = 0.25 * float(alone["demand_mean"]) + 0.75 * 0.2 * 43
        assert float(working["lead_time"]["demand_mean"]) == pytest.approx(joined, abs=1e-5)
        assert "history counts 25%, the pumps 75%" in Proposal.objects.get().words

    def test_what_was_worked_out_days_ago_is_read_from_today_on(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        self.expect(cast, shelves.kit, 0.2, 0.25, walk_in=0.01)
        ExpectedOverhauls.objects.update(as_of=TODAY)
        with transaction.atomic():
            later = site_stock(cast.north.pk, days(5)).figures.installed
        assert later.mean[0] == pytest.approx(0.2 * 43)
        assert later.walk_in_mean[0] == pytest.approx(0.01 * 30.4375)

    def test_pumps_far_from_history_are_a_warning(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        self.expect(cast, shelves.kit, 0.2, 0.25)
        run(cast)
        assert [one["code"] for one in Proposal.objects.get().warnings] == ["pumps-and-history-differ"]
