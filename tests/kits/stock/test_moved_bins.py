"""Stock that is only moved to another bin stays with the job that reserved it."""

from decimal import Decimal

import pytest
from django.utils import timezone

from assets.models import Bin
from kits.models import Allocation, Reservation
from kits.operations.corrections import reverse_movement
from kits.operations.stock_entries import StockEntry, record_entry
from kits.queries.movements import ledger_differences
from tests.counting import hold
from tests.shelves import fill_catalogue, put_on_shelf


@pytest.fixture
def shelves(cast):
    made = fill_catalogue()
    Bin.objects.create(site=cast.north, code="JOBS")
    put_on_shelf(cast.by("stores"), cast.north, made.bearing, 4, lot="B-1", cured=None)
    return made


def move(cast, shelves, quantity):
    moved = StockEntry(
        "bin-move", cast.north.pk, shelves.bearing.pk, "B-1", Decimal(quantity), timezone.now(), to_bin="JOBS"
    )
    return record_entry(by=cast.by("stores"), entry=moved)


def held():
    return dict(Allocation.objects.values_list("balance__bin__code", "quantity"))


def test_a_job_keeps_the_last_lot_when_it_is_moved_to_another_bin(cast, shelves):
    made = hold(cast, shelves.bearing, 3)
    move(cast, shelves, 4)
    made.refresh_from_db()
    assert made.state == "hard"
    assert held() == {"JOBS": 3}
    assert ledger_differences() == []


def test_a_job_may_hold_a_lot_in_two_bins(cast, shelves):
    made = hold(cast, shelves.bearing, 3)
    move(cast, shelves, 2)
    made.refresh_from_db()
    assert made.state == "hard"
    assert sum(held().values()) == 3
    assert ledger_differences() == []


def test_a_move_that_is_taken_back_leaves_the_job_its_lot(cast, shelves):
    moved = move(cast, shelves, 4)
    made = hold(cast, shelves.bearing, 3)
    reverse_movement(by=cast.by("stores"), movement_id=moved[0].pk, reason="wrong bin")
    made.refresh_from_db()
    assert made.state == "hard"
    assert held() == {"MAIN": 3}
    assert ledger_differences() == []


def test_of_two_jobs_nobody_loses_what_is_moved(cast, shelves):
    for _ in range(2):
        hold(cast, shelves.bearing, 2)
    move(cast, shelves, 3)
    assert Reservation.objects.filter(state="hard").count() == 2
    assert sum(Allocation.objects.values_list("quantity", flat=True), Decimal(0)) == 4
    assert ledger_differences() == []
