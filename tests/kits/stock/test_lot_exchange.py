"""The reserved lots of a site are gone over: exchanged where that helps, never at a job's cost."""

import datetime

import pytest
from django.db import transaction
from django.utils import timezone

from kits.models import Balance, Lot
from kits.operations.lot_exchange import ask_nightly_exchange, exchange_lots
from kits.operations.lots import extend_lot
from kits.queries.movements import ledger_differences
from kits.tasks import plan_nightly_lot_exchange, run_lot_exchange
from services.changes.models import Change
from services.work.models import BackgroundRun
from tests.kits.stock.test_stock_projection import TODAY, claim, day, stock
from tests.overhauls import Hand

pytestmark = pytest.mark.django_db


def reserved():
    return {one.lot.number: one.reserved for one in Balance.objects.filter(reserved__gt=0).select_related("lot")}


def test_a_lot_that_came_later_and_dies_earlier_is_held_instead(cast, shelves):
    stock(cast, shelves, 1, "LATE", dies=300)
    number = claim(cast, shelves, 1, 20, hard=True)
    stock(cast, shelves, 1, "EARLY", dies=30)
    assert exchange_lots(by=None, site_id=cast.north.pk) == {"looked_at": 1, "exchanged": 1}
    assert reserved() == {"EARLY": 1}
    told = Change.objects.get(kind="reservation.exchanged").body or {}
    assert (told["job"], told["lots"], told["state"]) == (number, ["EARLY"], "hard")
    assert ledger_differences() == []
    assert exchange_lots(by=None, site_id=cast.north.pk) == {"looked_at": 1, "exchanged": 0}


def test_an_extended_lot_serves_the_later_job_and_frees_what_lasts_longer(cast, shelves):
    stock(cast, shelves, 1, "OLD", dies=5)
    stock(cast, shelves, 1, "NEW", dies=4000)
    claim(cast, shelves, 1, 20, hard=True)
    assert reserved() == {"NEW": 1}
    Lot.objects.filter(number="OLD").update(cure_date=TODAY - datetime.timedelta(days=3600))
    extend_lot(by=cast.by("stores"), lot_id=Lot.objects.get(number="OLD").pk, inspected={"rings": "sound"})
    assert exchange_lots(by=None, site_id=cast.north.pk)["exchanged"] == 1
    assert reserved() == {"OLD": 1}


def test_two_jobs_swap_lots_where_that_saves_one_of_them(cast, shelves):
    stock(cast, shelves, 1, "A", dies=300)
    claim(cast, shelves, 1, 5, hard=True)
    stock(cast, shelves, 1, "B", dies=200)
    claim(cast, shelves, 1, 90, hard=True)
    Lot.objects.filter(number="B").update(expires_on=day(30))
    assert exchange_lots(by=None, site_id=cast.north.pk)["exchanged"] == 2
    assert reserved() == {"A": 1, "B": 1}
    assert ledger_differences() == []


def test_what_is_needed_today_may_be_in_somebodys_hands_and_stays(cast, shelves):
    stock(cast, shelves, 1, "LATE", dies=300)
    claim(cast, shelves, 1, 0, hard=True)
    stock(cast, shelves, 1, "EARLY", dies=30)
    assert exchange_lots(by=None, site_id=cast.north.pk) == {"looked_at": 0, "exchanged": 0}
    assert reserved() == {"LATE": 1}


def test_it_is_asked_for_over_the_api_and_every_night_once_a_site(cast, shelves):
    run = Hand(cast.client("planner")).post("reservation-reviews", {"site": str(cast.north.pk)}, status=202)["run"]
    stock(cast, shelves, 1, "LATE", dies=300)
    claim(cast, shelves, 1, 20, hard=True)
    stock(cast, shelves, 1, "EARLY", dies=30)
    BackgroundRun.objects.filter(pk=run).update(due_at=timezone.now())
    done_by_worker(run)
    assert BackgroundRun.objects.get(pk=run).result == {"looked_at": 1, "exchanged": 1}
    noon = timezone.now().replace(hour=12)
    with transaction.atomic():
        assert len(ask_nightly_exchange(now=noon)) == 2
        assert ask_nightly_exchange(now=noon) == []
    plan_nightly_lot_exchange()


def done_by_worker(run):
    run_lot_exchange(run)
