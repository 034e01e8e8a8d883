"""Claims of jobs: first expired first out, in date on the day, never twice."""

import datetime
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone

from kits.models import Balance, Lot, Reservation
from kits.operations import reservations
from kits.operations.orders import LineWanted, make_order
from kits.operations.returns import put_back_part, take_back
from kits.operations.stock_entries import StockEntry, record_entry
from kits.queries.movements import ledger_differences
from kits.queries.reservations import issued_lots, of_job
from kits.refusals import InsufficientStock, LotOutOfDate, TooMuchReturned, WrongReservationState
from tests.shelves import put_on_shelf, some_job
from tests.world import make_principal

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
IN_TWO_WEEKS = TODAY + datetime.timedelta(days=14)


def years_ago(years: int, days: int = 0) -> datetime.date:
    return TODAY.replace(day=min(TODAY.day, 28), year=TODAY.year - years) + datetime.timedelta(days=days)


def claim(cast, shelves, *, quantity=1, need_date=IN_TWO_WEEKS, by="planner"):
    job_id, number = some_job()
    made = reservations.plan(
        by=cast.by(by),
        job_id=job_id,
        job_number=number,
        site_id=cast.north.pk,
        item_id=shelves.kit.pk,
        quantity=Decimal(quantity),
        need_date=need_date,
    )
    return job_id, made


def hold(cast, made, by="planner"):
    return reservations.reserve(by=cast.by(by), reservation_id=made.pk)


def held_lots(job_id):
    return [(one["lot"], one["quantity"]) for made in of_job(job_id) for one in made["allocations"]]


def test_the_lot_that_expires_first_is_taken_first(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="YOUNG", cured=years_ago(1))
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="OLD", cured=years_ago(8))
    job_id, made = claim(cast, shelves)
    hold(cast, made)
    assert held_lots(job_id) == [("OLD", Decimal(1))]
    assert ledger_differences() == []


def test_a_lot_out_of_date_on_the_day_of_the_job_is_passed_over_and_named(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="OLD", cured=years_ago(10, days=3))
    _, made = claim(cast, shelves)
    with pytest.raises(InsufficientStock) as refused:
        hold(cast, made)
    assert [one["lot"] for one in refused.value.facts["passed_over"]] == ["OLD"]


def test_the_last_kit_is_claimed_once_and_the_refusal_names_the_alternatives(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    put_on_shelf(cast.by("stranger"), cast.south, shelves.kit, 2, lot="S-1")
    due = TODAY + datetime.timedelta(days=40)
    make_order(
        by=cast.by("stores"),
        site_id=cast.north.pk,
        supplier_id=shelves.supplier.pk,
        lines=[LineWanted(shelves.kit.pk, Decimal(1), due, Decimal(184), "EUR")],
    )
    hold(cast, claim(cast, shelves)[1])
    with pytest.raises(InsufficientStock) as refused:
        hold(cast, claim(cast, shelves)[1])
    assert refused.value.facts["alternatives"] == [{"site": "south", "site_name": "South", "free": "2.000"}]
    assert refused.value.facts["next_receipt"]["expected_on"] == due.isoformat()


def test_without_sight_of_availability_only_that_there_is_some_elsewhere(cast, shelves):
    put_on_shelf(cast.by("stranger"), cast.south, shelves.kit, 2)
    make_principal("blind-planner", ("planner", cast.north))
    with pytest.raises(InsufficientStock) as refused:
        hold(cast, claim(cast, shelves, by="supervisor")[1], by="supervisor")
    assert refused.value.facts["alternatives"] == [{"available_elsewhere": "ask stores"}]


def test_a_claim_of_one_job_is_changed_not_doubled(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    job_id, made = claim(cast, shelves)
    hold(cast, made)
    reservations.plan(
        by=cast.by("planner"),
        job_id=job_id,
        job_number=made.job_number,
        site_id=cast.north.pk,
        item_id=shelves.kit.pk,
        quantity=Decimal(2),
        need_date=IN_TWO_WEEKS,
    )
    assert Reservation.objects.filter(job_id=job_id).count() == 1
    assert Balance.objects.get().reserved == 0
    hold(cast, made)
    assert Balance.objects.get().reserved == 2


def test_what_is_reserved_cannot_be_issued_to_somebody_else(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    hold(cast, claim(cast, shelves)[1])
    other = StockEntry("issue", cast.north.pk, shelves.kit.pk, "L-1", Decimal(1), timezone.now(), reason="borrowed")
    with pytest.raises(InsufficientStock), transaction.atomic():
        record_entry(by=cast.by("stores"), entry=other)


def test_a_loss_moves_the_claim_to_another_lot_or_lets_it_go(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="A", cured=years_ago(3))
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="B", cured=years_ago(2))
    job_id, made = claim(cast, shelves)
    hold(cast, made)
    lost = StockEntry("scrap", cast.north.pk, shelves.kit.pk, "A", Decimal(1), timezone.now(), reason="bag torn")
    record_entry(by=cast.by("stores"), entry=lost)
    assert held_lots(job_id) == [("B", Decimal(1))]
    lost = StockEntry("scrap", cast.north.pk, shelves.kit.pk, "B", Decimal(1), timezone.now(), reason="bag torn")
    record_entry(by=cast.by("stores"), entry=lost)
    made.refresh_from_db()
    assert (made.state, held_lots(job_id)) == ("soft", [])
    assert ledger_differences() == []


def test_moving_the_job_past_the_lots_last_day_exchanges_the_lot(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="OLD", cured=years_ago(10, days=30))
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="NEW", cured=years_ago(1))
    job_id, made = claim(cast, shelves)
    hold(cast, made)
    assert held_lots(job_id)[0][0] == "OLD"
    reservations.move_need_date(by=cast.by("planner"), job_id=job_id, need_date=TODAY + datetime.timedelta(days=60))
    assert held_lots(job_id) == [("NEW", Decimal(1))]


def test_issuing_takes_exactly_the_lots_held(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 2)
    job_id, made = claim(cast, shelves)
    hold(cast, made)
    moved = reservations.issue(by=cast.by("fitter"), reservation_id=made.pk, occurred_at=timezone.now())
    made.refresh_from_db()
    balance = Balance.objects.get()
    assert [one.quantity for one in moved] == [Decimal(-1)]
    assert (made.state, balance.on_hand, balance.reserved) == ("issued", Decimal(1), Decimal(0))
    assert [one["lot"] for one in issued_lots(job_id)] == ["L-1"]
    assert ledger_differences() == []
    with pytest.raises(WrongReservationState):
        reservations.issue(by=cast.by("fitter"), reservation_id=made.pk, occurred_at=timezone.now())


def test_a_lot_that_ran_out_meanwhile_is_not_issued(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    _, made = claim(cast, shelves)
    hold(cast, made)
    Lot.objects.update(expires_on=TODAY - datetime.timedelta(days=1))
    with pytest.raises(LotOutOfDate):
        reservations.issue(by=cast.by("fitter"), reservation_id=made.pk, occurred_at=timezone.now())


def test_an_unopened_kit_comes_back_once(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    job_id, made = claim(cast, shelves)
    hold(cast, made)
    moved = reservations.issue(by=cast.by("fitter"), reservation_id=made.pk, occurred_at=timezone.now())
    back = {"by": cast.by("stores"), "job_id": job_id, "movement_id": moved[0].pk, "reason": "not needed"}
    take_back(quantity=Decimal(1), occurred_at=timezone.now(), **back)
    assert Balance.objects.get().on_hand == 1
    with pytest.raises(TooMuchReturned):
        take_back(quantity=Decimal(1), occurred_at=timezone.now(), **back)


def test_a_loose_part_comes_back_as_old_as_its_kit_and_waits_for_a_look(cast, shelves):
    lot = put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, cured=years_ago(2))
    moved = put_back_part(
        by=cast.by("supervisor"),
        job_id=some_job()[0],
        job_number="J-1",
        site_id=cast.north.pk,
        part_id=shelves.o_ring.pk,
        quantity=Decimal(1),
        kit_lot_id=lot.pk,
        reason="not used",
        occurred_at=timezone.now(),
    )
    assert moved.condition == "quarantined"
    assert moved.lot.expires_on == lot.expires_on


def test_releasing_frees_the_shelf(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    job_id, made = claim(cast, shelves)
    hold(cast, made)
    reservations.release(by=cast.by("planner"), job_id=job_id)
    assert Balance.objects.get().reserved == 0
    assert ledger_differences() == []
    hold(cast, claim(cast, shelves)[1])
