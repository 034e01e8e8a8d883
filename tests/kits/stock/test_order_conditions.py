"""On which conditions orders go out: the minimum, what is not sent yet, and how often one goes out."""

import datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.calculations.consolidation import Candidate, consolidate
from kits.calculations.reorder_point import LeadTimeDemand
from kits.models import Order, OrderLine, Supplier
from kits.queries.order_conditions import order_conditions
from tests.shelves import fill_catalogue

pytestmark = pytest.mark.django_db
NOW = timezone.now()
DAY = datetime.timedelta(days=1)


@pytest.fixture
def shelves():
    Supplier.objects.create(code="ollvard", name="Ollvard")
    made = fill_catalogue()
    Supplier.objects.filter(code="harrow").update(minimum_order_value=500, minimum_order_currency="EUR")
    return made


def ordered(cast, shelves, number, *, state, days_ago, price=20, currency="EUR", site=None):
    order = Order.objects.create(number=number, site=site or cast.north, supplier=shelves.supplier, state=state)
    Order.objects.filter(pk=order.pk).update(created_at=NOW - days_ago * DAY)
    OrderLine.objects.create(
        order=order, line=1, item=shelves.kit, quantity=3, expected_on=NOW.date(), price=price, currency=currency
    )
    return order


def read(cast, shelves):
    wanted = Supplier.objects.values_list("id", flat=True)
    return order_conditions(cast.north.pk, wanted, as_of=NOW.date())[shelves.supplier.pk]


def test_what_is_not_sent_yet_counts_by_currency(cast, shelves):
    order = ordered(cast, shelves, "O-1", state="approved", days_ago=1)
    OrderLine.objects.create(
        order=order, line=2, item=shelves.bearing, quantity=1, expected_on=NOW.date(), price=7, currency="NOK"
    )
    ordered(cast, shelves, "O-2", state="sent", days_ago=2)
    ordered(cast, shelves, "O-3", state="approved", days_ago=2, site=cast.south)
    found = read(cast, shelves)
    assert found.unsent == {"EUR": Decimal(60), "NOK": Decimal(7)}
    assert (found.minimum_in("EUR"), found.minimum_in("NOK")) == (Decimal(500), Decimal(0))


def test_how_often_an_order_goes_out_is_told_by_the_last_two_years(cast, shelves):
    for number, days in enumerate((900, 100, 60, 20)):
        ordered(cast, shelves, f"O-{number}", state="received", days_ago=days)
    ordered(cast, shelves, "O-9", state="cancelled", days_ago=1)
    assert read(cast, shelves).cycle_days == pytest.approx(40, abs=0.01)


def test_three_queries_whatever_there_is(cast, shelves, django_assert_num_queries):
    suppliers = list(Supplier.objects.values_list("id", flat=True))
    with django_assert_num_queries(3):
        found = order_conditions(cast.north.pk, suppliers, as_of=NOW.date())
    assert {one.code: one.cycle_days for one in found.values()} == {"harrow": 30.0, "ollvard": 30.0}
    with django_assert_num_queries(0):
        assert order_conditions(cast.north.pk, [], as_of=NOW.date()) == {}


def test_an_unsent_order_brings_a_supplier_nearer_to_its_minimum(cast, shelves):
    ordered(cast, shelves, "O-1", state="approved", days_ago=1, price=140)
    found = read(cast, shelves)
    kit = Candidate(
        key=shelves.kit.pk, needed=1, position=Decimal(0), reorder_point=0, order_up_to=2,
        demand=LeadTimeDemand(1.0, 1.0), daily_use=0.02, cycle_use=0.02 * found.cycle_days, price=Decimal(90),
    )  # fmt: skip
    result = consolidate([kit], minimum_order_value=found.minimum_in("EUR"), already=found.unsent["EUR"])
    assert (result.verdict, result.value) == ("enough", Decimal(510))
