"""Stock that was used over years, and a night's run over it, for tests."""

import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from kits.models import Lot, Reservation, SupplierTerms
from kits.operations import reservations
from kits.operations.movements import Entry, post_movements
from kits.operations.replenishment import replenish_site
from tests.shelves import put_on_shelf, some_job

TODAY = timezone.now().date()
NOW = timezone.now()


def days(number):
    return TODAY + datetime.timedelta(days=number)


def receive(cast, item, quantity, lot="OLD", *, site=None, dies=None, ago=1200):
    by = cast.by("stores" if site is None else "stranger")
    put_on_shelf(by, site or cast.north, item, quantity, lot=lot, occurred_at=NOW - datetime.timedelta(ago))
    Lot.objects.filter(item=item, number=lot).update(expires_on=None if dies is None else days(dies))


def issue(cast, item, ago, quantity=1, *, lot="OLD", site=None, job=None):
    """Taken from the shelf so many days ago."""
    job_id, number = job or (None, "")
    entry = Entry(
        "issue",
        (site or cast.north).pk,
        item.pk,
        Lot.objects.get(item=item, number=lot).pk,
        -Decimal(quantity),
        NOW - datetime.timedelta(days=ago),
        job_id=job_id,
        job_number=number,
    )
    with transaction.atomic():
        return post_movements(by=cast.by("stores" if site is None else "stranger"), entries=[entry])[0]


def steady_use(cast, item, *, every=40, until=1100, left=0):
    """One taken every so many days, and so many left on the shelf."""
    dates = range(45, until, every)
    receive(cast, item, len(dates) + left)
    for ago in dates:
        issue(cast, item, ago)


def claim(cast, item, on, quantity=1, *, asked_ago=0):
    job = some_job()
    with transaction.atomic():
        made = reservations.plan(
            by=cast.by("planner"),
            job_id=job[0],
            job_number=job[1],
            site_id=cast.north.pk,
            item_id=item.pk,
            quantity=Decimal(quantity),
            need_date=days(on),
        )
    Reservation.objects.filter(pk=made.pk).update(created_at=NOW - datetime.timedelta(days=asked_ago))
    return job


def run(cast, day=TODAY):
    return replenish_site(by=None, site_id=cast.north.pk, as_of=day)


def decide(hand, made, verb, body=None, *, status=200):
    path = f"replenishment-proposals/{made.pk}"
    return hand.post(f"{path}/{verb}", body, seen=path, status=status)


def terms(shelves, item, *, days=42, minimum=2, price="184.5", spread=9):
    return SupplierTerms.objects.create(
        supplier=shelves.supplier,
        item=item,
        lead_time_days=days,
        lead_time_sd_days=spread,
        minimum=Decimal(minimum),
        multiple=1,
        price=Decimal(price),
        currency="EUR",
        order_cost=Decimal(35),
    )
