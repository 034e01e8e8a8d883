"""Transfers from the south to the north, for tests: who does what, and the steps."""

import datetime
from decimal import Decimal

from django.utils import timezone

from kits.models import Balance, Lot, ServiceTarget, TransitTime
from kits.operations import reservations
from tests.overhauls import Hand
from tests.shelves import Shelves, fill_catalogue, put_on_shelf, some_job
from tests.world import Cast, gather_cast, make_principal

TODAY = timezone.now().date()


def gather_lenders() -> Cast:
    """The cast, with stores of the south only, and somebody who has a role at both sites."""
    made = gather_cast()
    made.people["sender"] = make_principal("sender", ("stores", made.south))
    made.people["both"] = make_principal("both", ("planner", made.north), ("stores", made.south))
    return made


def catalogue_without_targets() -> Shelves:
    """A catalogue for which no reorder points are worked out."""
    ServiceTarget.objects.all().delete()
    return fill_catalogue()


class Hands(dict[str, Hand]):
    """A hand for each role, made when it is first used."""

    def __init__(self, cast: Cast) -> None:
        super().__init__()
        self.cast = cast

    def __missing__(self, role: str) -> Hand:
        self[role] = Hand(self.cast.client(role))
        return self[role]


def hands_over(cast: Cast) -> Hands:
    """Hands of both sites; three days at 60 EUR from the south to the north."""
    TransitTime.objects.create(from_site=cast.south, to_site=cast.north, days=3, cost=60, currency="EUR")
    return Hands(cast)


def day(number):
    return TODAY + datetime.timedelta(days=number)


def lend_from(cast, shelves, quantity, lot="S-1", dies=400):
    put_on_shelf(cast.by("stranger"), cast.south, shelves.kit, quantity, lot=lot)
    Lot.objects.filter(number=lot).update(expires_on=dies if dies is None else day(dies))


def agree(hand, cast, shelves, quantity=1, *, who="both", status=201, **more):
    body = {
        "from_site": str(cast.south.pk),
        "to_site": str(cast.north.pk),
        "lines": [{"item": str(shelves.kit.pk), "quantity": str(quantity)}],
        **more,
    }
    return hand[who].post("transfers", body, status=status)


def act(hand, who, transfer, what, body=None, status=200):
    path = f"transfers/{transfer['id']}"
    return hand[who].post(f"{path}/{what}", body, seen=path, status=status)


def on_hand():
    return {
        (one.site.code, one.bin.code, one.lot.number): one.on_hand
        for one in Balance.objects.filter(on_hand__gt=0).select_related("site", "lot", "bin")
    }


def claim(cast, shelves, site, need, *, quantity=1, hard=False):
    job_id, number = some_job()
    made = reservations.plan(
        by=cast.by("chief"), job_id=job_id, job_number=number, site_id=site.pk, item_id=shelves.kit.pk,
        quantity=Decimal(quantity), need_date=day(need),
    )  # fmt: skip
    return reservations.reserve(by=cast.by("chief"), reservation_id=made.pk) if hard else made
