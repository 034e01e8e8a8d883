"""A claim of which something was issued: only the rest is reserved, displaced or claimed anew."""

import datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Allocation, Balance, Movement, Reservation
from kits.operations import reservations
from kits.operations.stock_entries import StockEntry, record_entry
from kits.queries.movements import ledger_differences
from services.api.refusals import InvalidValue
from tests.counting import act, counted_sheet, no_second_person
from tests.shelves import fill_catalogue, put_on_shelf, some_job
from tests.transfers import Hands

TODAY = timezone.now().date()


@pytest.fixture
def shelves(cast):
    made = fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, made.bearing, 4, lot="B-1", cured=None)
    return made


def plan(cast, item, quantity, *, job, days=3):
    return reservations.plan(
        by=cast.by("planner"), job_id=job[0], job_number=job[1], site_id=cast.north.pk, item_id=item.pk,
        quantity=Decimal(quantity), need_date=TODAY + datetime.timedelta(days=days),
    )  # fmt: skip


def hold(cast, made):
    return reservations.reserve(by=cast.by("planner"), reservation_id=made.pk)


def take(cast, made, quantity=None, at=None):
    return reservations.issue(
        by=cast.by("fitter"), reservation_id=made.pk, quantity=quantity and Decimal(quantity),
        occurred_at=at or timezone.now(),
    )  # fmt: skip


def test_a_job_that_moves_reserves_only_what_was_not_issued(cast, shelves):
    job = some_job()
    made = hold(cast, plan(cast, shelves.bearing, 3, job=job))
    take(cast, made, 1)
    again = hold(cast, plan(cast, shelves.bearing, 3, job=job, days=5))
    assert (again.state, again.issued) == ("hard", 1)
    assert Balance.objects.get().reserved == 2
    assert ledger_differences() == []
    take(cast, again)
    again.refresh_from_db()
    assert (again.state, again.issued) == ("issued", 3)
    assert (Balance.objects.get().on_hand, Balance.objects.get().reserved) == (1, 0)
    assert ledger_differences() == []


def test_a_claim_displaced_after_it_was_partly_issued_looks_for_the_rest_elsewhere(cast, shelves):
    made = hold(cast, plan(cast, shelves.bearing, 3, job=some_job()))
    take(cast, made, 1)
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 2, lot="B-2", cured=None)
    lost = StockEntry("scrap", cast.north.pk, shelves.bearing.pk, "B-1", Decimal(3), timezone.now(), reason="a test")
    record_entry(by=cast.by("stores"), entry=lost)
    made.refresh_from_db()
    assert (made.state, made.issued) == ("hard", 1)
    assert Balance.objects.get(lot__number="B-2").reserved == 2
    assert ledger_differences() == []


def test_a_job_cannot_claim_less_than_it_was_given(cast, shelves):
    job = some_job()
    made = hold(cast, plan(cast, shelves.bearing, 3, job=job))
    take(cast, made, 2)
    with pytest.raises(InvalidValue, match="2 of it were issued already"):
        plan(cast, shelves.bearing, 1, job=job)
    done = plan(cast, shelves.bearing, 2, job=job)
    assert done.state == "issued"
    assert Balance.objects.get().reserved == 0
    assert Allocation.objects.get().quantity == 2
    assert ledger_differences() == []


def test_a_kit_taken_before_a_count_and_recorded_after_it_leaves_the_claim_issued(cast, shelves):
    """The count saw that it was gone, so the book loses nothing more; the job has it all the same."""
    hand = Hands(cast)
    no_second_person(cast)
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 2, lot="K-1")
    made = hold(cast, plan(cast, shelves.kit, 1, job=some_job()))
    before = timezone.now()
    act(hand, counted_sheet(hand, cast, 1, bearings=4), "post")
    take(cast, made, at=before)
    made.refresh_from_db()
    assert (made.state, made.issued) == ("issued", 1)
    balance = Balance.objects.get(item=shelves.kit)
    assert (balance.on_hand, balance.reserved) == (1, 0)
    assert sorted(Movement.objects.filter(item=shelves.kit).values_list("kind", flat=True)) == [
        "count-adjustment", "count-adjustment", "issue", "receipt",
    ]  # fmt: skip
    assert Reservation.objects.count() == 1
    assert ledger_differences() == []
