"""Many people, and the nightly run, reach for the same reserved lots at once, over real connections."""

import datetime
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone

from kits.models import Balance, Lot, Reservation
from kits.operations import reservations
from kits.operations.lot_exchange import exchange_lots
from kits.operations.taking_over import take_over
from kits.queries.movements import ledger_differences
from kits.refusals import InsufficientStock, NotTakenOver
from services.api.refusals import VersionChanged
from tests.races.test_last_kits import all_at_once
from tests.shelves import fill_catalogue, put_on_shelf, some_job
from tests.world import gather_cast

TAKERS = 8
TODAY = timezone.now().date()


def claim(cast, shelves, days, *, hard=False):
    job_id, number = some_job()
    with transaction.atomic():
        made = reservations.plan(
            by=cast.by("planner"), job_id=job_id, job_number=number, site_id=cast.north.pk, item_id=shelves.kit.pk,
            quantity=Decimal(1), need_date=TODAY + datetime.timedelta(days=days),
        )  # fmt: skip
        return reservations.reserve(by=cast.by("planner"), reservation_id=made.pk) if hard else made


@pytest.mark.django_db(transaction=True)
def test_a_kit_is_taken_over_once_however_many_take_it():
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    giver = claim(cast, shelves, 9, hard=True)
    takers = [claim(cast, shelves, 2).pk for _ in range(TAKERS)]

    def take(by, one):
        try:
            take_over(by=by, from_id=giver.pk, for_id=one, expected_version=giver.version, reason="a race")
        except (VersionChanged, NotTakenOver) as refused:
            raise InsufficientStock("somebody was quicker", remedy="read again") from refused

    assert all_at_once(cast, takers, take).count("held") == 1
    giver.refresh_from_db()
    assert giver.state == "soft"
    assert Reservation.objects.filter(state="hard").count() == 1
    assert ledger_differences() == []


@pytest.mark.django_db(transaction=True)
def test_lots_are_exchanged_while_others_are_reserved_and_nobody_loses_or_shares_one():
    cast, shelves = gather_cast(), fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 4, lot="LATE")
    held = [claim(cast, shelves, 20, hard=True).pk for _ in range(4)]
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 4, lot="EARLY")
    Lot.objects.filter(number="EARLY").update(expires_on=TODAY + datetime.timedelta(days=40))
    soft = [claim(cast, shelves, 20).pk for _ in range(TAKERS)]

    def reach(by, one):
        if one is None:
            exchange_lots(by=None, site_id=cast.north.pk)
        else:
            reservations.reserve(by=by, reservation_id=one)

    outcomes = all_at_once(cast, [*soft, None, None], reach)
    assert outcomes.count("held") == 4 + 2
    assert Reservation.objects.filter(pk__in=held, state="hard").count() == 4
    assert Reservation.objects.filter(state="hard").count() == 8
    assert sorted(Balance.objects.values_list("reserved", flat=True)) == [4, 4]
    assert ledger_differences() == []
