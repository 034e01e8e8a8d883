"""Many people reach for the last kits at once, over real connections: never more are given than there are."""

import threading
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.utils import timezone

from kits.models import Balance, Reservation
from kits.operations import reservations
from kits.queries.movements import ledger_differences
from kits.refusals import InsufficientStock
from tests.shelves import fill_catalogue, put_on_shelf, some_job
from tests.world import gather_cast

CONNECTIONS = 64
KITS = 5


@pytest.fixture
def last_kits(transactional_db):
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, KITS)
    return cast, [_plan(cast, shelves) for _ in range(CONNECTIONS)]


def _plan(cast, shelves):
    job_id, number = some_job()
    with transaction.atomic():
        made = reservations.plan(
            by=cast.by("planner"),
            job_id=job_id,
            job_number=number,
            site_id=cast.north.pk,
            item_id=shelves.kit.pk,
            quantity=Decimal(1),
            need_date=timezone.now().date(),
        )
    return made.pk


def all_at_once(cast, claims, do):
    together = threading.Barrier(len(claims), timeout=60)

    def one(claim):
        try:
            connection.ensure_connection()
            together.wait()
            with transaction.atomic():
                do(cast.by("planner"), claim)
        except InsufficientStock:
            return "refused"
        else:
            return "held"
        finally:
            connection.close()

    with ThreadPoolExecutor(len(claims)) as pool:
        return list(pool.map(one, claims))


@pytest.mark.django_db(transaction=True)
def test_sixty_four_reservations_of_five_kits_hold_exactly_five(last_kits):
    cast, claims = last_kits
    outcomes = all_at_once(cast, claims, lambda by, claim: reservations.reserve(by=by, reservation_id=claim))
    assert outcomes.count("held") == KITS
    assert outcomes.count("refused") == CONNECTIONS - KITS
    assert Balance.objects.get().reserved == KITS
    assert Reservation.objects.filter(state="hard").count() == KITS
    assert ledger_differences() == []


def reserve_without_looking_again(by, claim):
    """What a careless program would do: read what is free, then write what it thinks is reserved now."""
    balance = Balance.objects.get()
    if balance.on_hand - balance.reserved < 1:
        raise InsufficientStock("none", remedy="none")
    Reservation.objects.filter(pk=claim).update(state="hard")
    threading.Event().wait(0.05)
    Balance.objects.filter(pk=balance.pk).update(reserved=balance.reserved + 1)


@pytest.mark.django_db(transaction=True)
def test_the_same_race_without_the_lock_does_oversell_so_the_race_is_real(last_kits):
    cast, claims = last_kits
    outcomes = all_at_once(cast, claims, reserve_without_looking_again)
    assert outcomes.count("held") > KITS
