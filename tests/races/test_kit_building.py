"""Many people build kits from the same loose parts at once, over real connections."""

from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Balance, Lot
from kits.operations.kit_building import build_kits
from kits.queries.movements import ledger_differences
from kits.refusals import InsufficientStock, NotBuildable
from tests.races.test_last_kits import all_at_once
from tests.shelves import fill_catalogue, make_kit, put_on_shelf
from tests.world import gather_cast

BUILDERS = 24
RINGS = 7


@pytest.mark.django_db(transaction=True)
def test_no_part_goes_into_two_kits():
    """Two kits whose lines name the same two parts in opposite order: locks are taken in one order, nobody waits in a
    circle."""
    cast, shelves = gather_cast(), fill_catalogue()
    other = make_kit("K-200", [("bearing-de", shelves.bearing), ("casing-o-ring", shelves.o_ring)])
    put_on_shelf(cast.by("stores"), cast.north, shelves.o_ring, RINGS, lot="O-1")
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, BUILDERS, lot="B-1", cured=None)

    def build(_, number):
        try:
            build_kits(
                by=cast.by("stores"),
                site_id=cast.north.pk,
                kit_id=(shelves.kit, other)[number % 2].pk,
                quantity=1,
                lot=f"K-{number}",
                occurred_at=timezone.now(),
                reason="a race",
            )
        except NotBuildable as refused:
            raise InsufficientStock("none", remedy="none") from refused

    outcomes = all_at_once(cast, list(range(BUILDERS)), build)
    assert outcomes.count("held") == RINGS
    assert Balance.objects.get(item=shelves.o_ring).on_hand == Decimal(0)
    assert Lot.objects.filter(number__startswith="K-").count() == RINGS
    assert ledger_differences() == []
