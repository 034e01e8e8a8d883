"""A request that the database undoes so that another transaction can pass is done again, and answered once."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, transaction

from kits.models import Balance, Movement
from kits.queries.movements import ledger_differences
from services.api.models import IdempotencyKey
from tests.overhauls import Hand
from tests.races.waiting import until_somebody_waits
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast


@pytest.mark.django_db(transaction=True)
def test_a_kit_built_in_a_deadlock_with_a_careless_program_is_built_once():
    """The careless program locks the later shelf first. The request waits longer, so PostgreSQL undoes the request."""
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.o_ring, 2, lot="O-1")
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 2, lot="B-1", cured=None)
    hand, holding = Hand(cast.client("stores")), threading.Event()

    def lock(item):
        return list(Balance.objects.select_for_update().filter(item=item))

    def careless():
        try:
            with transaction.atomic():
                lock(shelves.bearing)
                holding.set()
                until_somebody_waits()
                lock(shelves.o_ring)
        finally:
            connection.close()

    def build():
        try:
            assert holding.wait(20)
            body = {
                "site": str(cast.north.pk),
                "kit": str(shelves.kit.pk),
                "quantity": 1,
                "lot": "K-1",
                "reason": "a race",
            }
            return hand.post("kit-builds", body, status=201)
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        other, built = pool.submit(careless), pool.submit(build)
        assert built.result()["lot_number"] == "K-1"
        other.result()
    assert Movement.objects.filter(kind="kit-build").count() == 3
    assert IdempotencyKey.objects.filter(path__endswith="/kit-builds").count() == 1
    assert ledger_differences() == []
