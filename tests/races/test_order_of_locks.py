"""Operations that touch several balances lock them in the one order, so that nobody waits in a circle."""

import datetime
import threading
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone

from assets.models import Bin
from kits.models import Balance, Movement, Reservation
from kits.operations import reservations, stock_entries
from kits.operations.corrections import reverse_movement
from kits.operations.kit_breaking import break_kits
from kits.operations.kit_building import build_kits
from kits.operations.stock_entries import StockEntry, record_entry
from kits.queries.movements import ledger_differences
from kits.refusals import InsufficientStock
from tests.races.waiting import side_by_side, until_somebody_waits
from tests.shelves import fill_catalogue, put_on_shelf, some_job
from tests.world import gather_cast

pytestmark = pytest.mark.django_db(transaction=True)
TODAY = timezone.now().date()


def claim(cast, item, *, days=3, hard=False, job=None):
    job_id, number = job or some_job()
    with transaction.atomic():
        made = reservations.plan(
            by=cast.by("planner"), job_id=job_id, job_number=number, site_id=cast.north.pk, item_id=item.pk,
            quantity=Decimal(1), need_date=TODAY + datetime.timedelta(days=days),
        )  # fmt: skip
        return reservations.reserve(by=cast.by("planner"), reservation_id=made.pk) if hard else made


def entry(cast, kind, item, lot, quantity=1, **more):
    return StockEntry(
        kind, cast.north.pk, item.pk, lot, Decimal(quantity), timezone.now(), reason="a race", **more
    )  # fmt: skip


def once_somebody_waits(monkeypatch, place, name, *, passed=None):
    """The function of that name begins only once somebody waits for a lock, or passed; the first time only."""
    real, first = getattr(place, name), threading.Event()

    def late(*arguments, **named):
        if not first.is_set():
            first.set()
            until_somebody_waits(passed=passed)
        return real(*arguments, **named)

    monkeypatch.setattr(place, name, late)
    return first


def test_a_loss_that_displaces_a_claim_and_a_reservation_beside_it_never_wait_in_a_circle(monkeypatch):
    """The claim holds the later lot; the loss frees it and looks to the earlier lot, which the other has locked."""
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 1, lot="B-1", cured=None)
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 1, lot="B-2", cured=None)
    first = claim(cast, shelves.bearing, hard=True)
    second = claim(cast, shelves.bearing, hard=True)
    with transaction.atomic():
        reservations.release(by=cast.by("planner"), job_id=first.job_id)
    third = claim(cast, shelves.bearing)
    begun = once_somebody_waits(monkeypatch, reservations, "let_go")

    def lose():
        record_entry(by=cast.by("stores"), entry=entry(cast, "scrap", shelves.bearing, "B-2"))
        return "lost"

    def reserve():
        assert begun.wait(20)
        reservations.reserve(by=cast.by("planner"), reservation_id=third.pk)
        return "held"

    outcomes = side_by_side(lose, reserve, apart=[InsufficientStock])
    assert outcomes == ["lost", "InsufficientStock"]
    second.refresh_from_db()
    assert second.state == "hard"
    assert Balance.objects.get(lot__number="B-1").reserved == 1
    assert ledger_differences() == []


def test_a_job_that_lets_go_of_two_items_and_a_kit_built_of_both_never_wait_in_a_circle(monkeypatch):
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.o_ring, 2, lot="O-1")
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 2, lot="B-1", cured=None)
    job = some_job()
    # The claim on what is locked last is the older one.
    claim(cast, shelves.bearing, hard=True, job=job)
    claim(cast, shelves.o_ring, hard=True, job=job)
    begun = once_somebody_waits(monkeypatch, reservations, "tell_claim")

    def release():
        reservations.release(by=cast.by("planner"), job_id=job[0])
        return "released"

    def build():
        assert begun.wait(20)
        build_kits(
            by=cast.by("stores"), site_id=cast.north.pk, kit_id=shelves.kit.pk, quantity=1, lot="K-1",
            occurred_at=timezone.now(), reason="a race",
        )  # fmt: skip
        return "built"

    assert side_by_side(release, build) == ["released", "built"]
    assert Reservation.objects.filter(state="released").count() == 2
    assert ledger_differences() == []


def test_a_lot_moved_to_a_new_bin_and_received_there_at_once_never_wait_in_a_circle(monkeypatch):
    """Who only receives into the new bin needs nothing that the other holds."""
    passed, cast, shelves = threading.Event(), gather_cast(), fill_catalogue()
    Bin.objects.create(site=cast.north, code="NEW")
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 4, lot="B-1", cured=None)
    begun = once_somebody_waits(monkeypatch, stock_entries, "post_movements", passed=passed)

    def move():
        record_entry(by=cast.by("stores"), entry=entry(cast, "bin-move", shelves.bearing, "B-1", to_bin="NEW"))
        return "moved"

    def receive():
        assert begun.wait(20)
        record_entry(by=cast.by("stores"), entry=entry(cast, "receipt", shelves.bearing, "B-1", bin="NEW"))
        passed.set()
        return "received"

    assert side_by_side(move, receive) == ["moved", "received"]
    assert dict(Balance.objects.values_list("bin__code", "on_hand")) == {"MAIN": 3, "NEW": 2}
    assert ledger_differences() == []


def test_a_built_kit_taken_back_and_broken_at_once_never_wait_in_a_circle(monkeypatch):
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.o_ring, 3, lot="O-1")
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 3, lot="B-1", cured=None)
    how: dict[str, Any] = {"site_id": cast.north.pk, "kit_id": shelves.kit.pk, "lot": "K-1", "quantity": 1}
    how |= {"occurred_at": timezone.now(), "reason": "a race"}
    build_kits(by=cast.by("stores"), **how)
    held = claim(cast, shelves.kit, hard=True)
    made = Movement.objects.get(item=shelves.kit)
    begun = once_somebody_waits(monkeypatch, reservations, "let_go")

    def take_back():
        reverse_movement(by=cast.by("stores"), movement_id=made.pk, reason="a race")
        return "taken back"

    def break_it():
        assert begun.wait(20)
        break_kits(by=cast.by("stores"), **how)
        return "broken"

    assert side_by_side(take_back, break_it, apart=[InsufficientStock]) == ["taken back", "InsufficientStock"]
    held.refresh_from_db()
    assert held.state == "soft"
    assert ledger_differences() == []
