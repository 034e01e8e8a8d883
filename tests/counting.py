"""Making, filling in and ending count sheets over HTTP, for tests."""

from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from kits.models import Balance, CountSettings
from kits.operations import reservations
from tests.shelves import some_job


def make(hand, cast, status=201, **more):
    return hand["stores"].post("counts", {"site": str(cast.north.pk), **more}, status=status)


def line_of(sheet, item):
    return next(one for one in sheet["lines"] if one["item"] == str(item.pk))


def enter(hand, sheet, quantities, who="fitter", status=200, **more):
    """Quantities by item number; whatever else lies there is counted as it stands in the book."""
    entries = [
        {"line": one["line"], "quantity": str(quantities[one["item_number"]]), **more}
        for one in sheet["lines"]
        if one["item_number"] in quantities
    ]
    return hand[who].post(f"counts/{sheet['id']}/entries", {"entries": entries}, status=status)


def act(hand, sheet, what, body=None, who="stores", status=200):
    return hand[who].post(f"counts/{sheet['id']}/{what}", body or {}, seen=f"counts/{sheet['id']}", status=status)


def at_hand(item):
    return sum(Balance.objects.filter(item=item).values_list("on_hand", flat=True), Decimal(0))


def no_second_person(cast):
    """The limit of the site, so high that one person settles everything."""
    CountSettings.objects.create(site=cast.north, value_limit=10**6, currency="EUR")


def counted_sheet(hand, cast, kits, bearings=8, **more):
    sheet = make(hand, cast)
    enter(hand, sheet, {"K-100": kits, "BRG-40": bearings}, **more)
    return act(hand, sheet, "submit", who="fitter")


def hold(cast, item, quantity):
    """A job's hard claim."""
    job_id, number = some_job()
    with transaction.atomic():
        made = reservations.plan(
            by=cast.by("planner"), job_id=job_id, job_number=number, site_id=cast.north.pk, item_id=item.pk,
            quantity=Decimal(quantity), need_date=timezone.now().date(),
        )  # fmt: skip
        return reservations.reserve(by=cast.by("planner"), reservation_id=made.pk)


def move(hand, cast, item, kind, quantity, at=None, lot="K-1", who="stores"):
    body = {
        "kind": kind, "site": str(cast.north.pk), "item": str(item.pk), "lot": lot, "quantity": str(quantity),
        "reason": "a test", **({"occurred_at": at.isoformat()} if at else {}),
    }  # fmt: skip
    return hand[who].post("stock-movements", body, status=201)["movements"]
