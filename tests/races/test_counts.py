"""Several people post the same count at once, over real connections, while others take from the shelf."""

import threading
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.utils import timezone

from kits.models import Balance, Count, CountSettings, Movement
from kits.operations.count_entries import Counted, enter_counted
from kits.operations.count_posting import post_count
from kits.operations.counts import make_count, submit_count
from kits.operations.stock_entries import StockEntry, record_entry
from kits.queries.movements import ledger_differences
from kits.refusals_counts import WrongCountState
from services.api.refusals import Busy
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast

POSTERS, TAKERS = 4, 4


@pytest.mark.django_db(transaction=True)
def test_a_count_has_exactly_one_effect_whoever_posts_it_at_once():
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 20, lot="B-1", cured=None)
    CountSettings.objects.create(site=cast.north, value_limit=10**6, currency="EUR")
    sheet = make_count(by=cast.by("stores"), site_id=cast.north.pk)
    entered = enter_counted(by=cast.by("fitter"), count_id=sheet.pk, entries=[Counted(Decimal(17), line=1)])
    counted = submit_count(by=cast.by("fitter"), count_id=sheet.pk, expected_version=entered.version)
    together = threading.Barrier(POSTERS + TAKERS, timeout=60)

    def post():
        for _ in range(20):
            try:
                with transaction.atomic():
                    post_count(by=cast.by("stores"), count_id=sheet.pk, expected_version=counted.version)
            except Busy:
                continue
            except WrongCountState:
                return "refused"
            return "posted"
        return "busy"

    def take():
        entry = StockEntry(
            "issue", cast.north.pk, shelves.bearing.pk, "B-1", Decimal(1), timezone.now(), reason="a race"
        )
        record_entry(by=cast.by("stores"), entry=entry)
        return "taken"

    def one(do):
        try:
            connection.ensure_connection()
            together.wait()
            return do()
        finally:
            connection.close()

    with ThreadPoolExecutor(POSTERS + TAKERS) as pool:
        outcomes = list(pool.map(one, [post] * POSTERS + [take] * TAKERS))
    assert (outcomes.count("posted"), outcomes.count("refused")) == (1, POSTERS - 1)
    assert outcomes.count("taken") == TAKERS
    assert Movement.objects.get(kind="count-adjustment").quantity == -3
    assert Balance.objects.get().on_hand == 17 - TAKERS
    assert Count.objects.get().state == "posted"
    assert ledger_differences() == []
