"""A central store in the south with the north and a mill, for tests: years of needs, and stores of all three."""

import datetime
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from assets.models import Site
from kits.models import Item, Lot, SupplierTerms, TransitTime
from kits.operations.lots import ensure_lot
from kits.operations.movements import Entry, post_movements
from services.identity.callers import Caller
from tests.overhauls import Hand
from tests.shelves import Shelves, fill_catalogue, make_kit
from tests.world import Cast, gather_cast, make_principal, make_site

NOW = timezone.now()
TODAY = NOW.date()
YEARS_AGO = NOW - datetime.timedelta(days=1090)
NEVER_DIES = datetime.date(2090, 1, 1)


@dataclass
class Network:
    """``planner`` is the hand of somebody who is stores at all three."""

    cast: Cast
    shelves: Shelves
    mill: Site
    planner: Hand

    @property
    def north(self) -> Site:
        return self.cast.north

    @property
    def south(self) -> Site:
        return self.cast.south

    @property
    def by(self) -> Caller:
        """Who may do everything."""
        return self.cast.by("chief")


def say_days(start: Site, end: Site, days: int, cost: int = 60, currency: str = "EUR") -> TransitTime:
    return TransitTime.objects.create(from_site=start, to_site=end, days=days, cost=cost, currency=currency)


def gather_network(*, connected: bool = True) -> Network:
    """With ``connected`` goods go between any two of the three: three days at 60 EUR."""
    cast = gather_cast()
    mill = make_site("mill")
    cast.people["planner-of-all"] = make_principal(
        "planner-of-all", *(("stores", site) for site in (cast.north, cast.south, mill))
    )
    made = Network(cast, fill_catalogue(), mill, Hand(cast.client("planner-of-all")))
    sites = (cast.north, cast.south, mill)
    for start in sites if connected else ():
        for end in sites:
            if start != end:
                say_days(start, end, 3)
    return made


def another_kit(network: Network, number: str, *, price: str = "90", currency: str = "EUR", days: int = 30) -> Item:
    kit = make_kit(number, [("casing-o-ring", network.shelves.o_ring)])
    SupplierTerms.objects.create(
        supplier=network.shelves.supplier, item=kit, lead_time_days=days, price=Decimal(price), currency=currency
    )
    return kit


def used(network: Network, site: Site, item: Item, *, every: int, left: int = 0, dies: Any = NEVER_DIES) -> Lot:
    """Three years in which one was needed every so many days, ``left`` of them on the shelf now."""
    days = range(every, 1080, every)
    number = f"{site.code}-{item.number}"
    with transaction.atomic():
        lot = ensure_lot(
            by=network.by, item_id=item.pk, number=number, received_on=YEARS_AGO.date(),
            cure_date=datetime.date(2026, 3, 31),
        )  # fmt: skip
        came = Entry("receipt", site.pk, item.pk, lot.pk, Decimal(len(days) + left), YEARS_AGO)
        needs = [
            Entry("issue", site.pk, item.pk, lot.pk, Decimal(-1), NOW - datetime.timedelta(days=day)) for day in days
        ]
        post_movements(by=network.by, entries=[came, *needs])
    Lot.objects.filter(pk=lot.pk).update(expires_on=dies)
    return lot
