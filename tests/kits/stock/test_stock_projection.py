"""Stock of an item at a site day by day, and when more can be had."""

import datetime
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone

from kits.models import Balance, Lot, Movement, Order, OrderLine, SupplierTerms
from kits.operations import reservations
from tests.overhauls import Hand
from tests.shelves import put_on_shelf, some_job
from tests.world import make_site

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()


def day(number):
    return (TODAY + datetime.timedelta(days=number)).isoformat()


def stock(cast, shelves, quantity, lot, dies=None):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, quantity, lot=lot)
    Lot.objects.filter(number=lot).update(expires_on=None if dies is None else day(dies))


def claim(cast, shelves, quantity, on, *, hard=False):
    job_id, number = some_job()
    with transaction.atomic():
        made = reservations.plan(
            by=cast.by("planner"),
            job_id=job_id,
            job_number=number,
            site_id=cast.north.pk,
            item_id=shelves.kit.pk,
            quantity=Decimal(quantity),
            need_date=TODAY + datetime.timedelta(days=on),
        )
        if hard:
            reservations.reserve(by=cast.by("planner"), reservation_id=made.pk)
    return number


def order(cast, shelves, quantity, on, number="O-1"):
    made = Order.objects.create(number=number, site=cast.north, supplier=shelves.supplier, state="sent")
    return OrderLine.objects.create(
        order=made, line=1, item=shelves.kit, quantity=quantity, expected_on=day(on), price=Decimal(1), currency="EUR"
    )


def place(cast, shelves):
    return f"sites/{cast.north.pk}/items/{shelves.kit.pk}"


def projected(planner, cast, shelves, **query):
    return planner.get(f"{place(cast, shelves)}/projection", **query)


def ways(planner, cast, shelves, query=""):
    answer = planner.get(f"{place(cast, shelves)}/promise{query}")
    return answer, {one["way"]: one for one in answer["ways"]}


def test_each_day_on_which_something_happens_is_told(cast, shelves, planner):
    stock(cast, shelves, 2, "L-1", dies=10)
    stock(cast, shelves, 1, "L-2")
    order(cast, shelves, 3, 30)
    number = claim(cast, shelves, 2, 20)
    answer = projected(planner, cast, shelves)
    assert [(one["day"], Decimal(one["on_hand"])) for one in answer["days"]] == [
        (day(0), 3),
        (day(11), 1),
        (day(20), 0),
        (day(30), 3),
    ]
    assert [(one["job_number"], Decimal(one["short"])) for one in answer["short"]] == [(number, 1)]
    assert [(one["lot"], one["last_day"]) for one in answer["dying"]] == [("L-1", day(10))]
    assert f"Job {number} is 1 short on {day(20)}." in answer["words"]


def test_what_is_reserved_is_on_hand_and_not_free(cast, shelves, planner):
    stock(cast, shelves, 2, "L-1")
    assert projected(planner, cast, shelves)["words"] == "No job claims it."
    claim(cast, shelves, 1, 5, hard=True)
    answer = projected(planner, cast, shelves)
    assert answer["words"] == "Every claim is served."
    days = answer["days"]
    assert [(Decimal(one["on_hand"]), Decimal(one["free"])) for one in days] == [(2, 1), (1, 1)]


def test_quarantined_stock_is_not_counted(cast, shelves, planner):
    stock(cast, shelves, 2, "L-1")
    Balance.objects.update(condition="quarantined")
    assert Decimal(projected(planner, cast, shelves)["days"][0]["on_hand"]) == 0


def test_an_overdue_order_counts_from_when_this_supplier_usually_comes(cast, shelves, planner):
    order(cast, shelves, 3, -4)
    (late,) = projected(planner, cast, shelves)["receipts"]
    assert late["counted_on"] is None
    assert "Overdue and not counted" in projected(planner, cast, shelves)["words"]
    before = order(cast, shelves, 1, -20, number="O-0")
    stock(cast, shelves, 1, "L-0")
    with transaction.atomic():
        received(before, -11)
    OrderLine.objects.filter(pk=before.pk).update(received=1)
    (late,) = projected(planner, cast, shelves)["receipts"]
    assert late["counted_on"] == day(9)


def received(line, on):
    """The ledger's entry of a receipt, some days ago."""
    base = Movement.objects.get()
    Movement.objects.create(
        kind="receipt",
        site_id=base.site_id,
        bin=base.bin,
        item=base.item,
        lot=base.lot,
        condition="usable",
        quantity=1,
        occurred_at=timezone.now() + datetime.timedelta(days=on),
        by=base.by,
        order_line=line,
    )


def test_a_promise_leaves_no_other_job_short_and_trusts_no_dead_lot(cast, shelves, planner):
    stock(cast, shelves, 2, "L-1", dies=10)
    stock(cast, shelves, 1, "L-2", dies=60)
    order(cast, shelves, 3, 30)
    claim(cast, shelves, 2, 20)
    claim(cast, shelves, 1, 40)
    assert ways(planner, cast, shelves, f"?earliest={day(5)}")[1]["stock-and-orders"]["on"] == day(5)
    answer, found = ways(planner, cast, shelves, f"?earliest={day(12)}")
    assert found["stock-and-orders"]["on"] == day(30)
    assert "with order O-1" in found["stock-and-orders"]["words"]
    assert found["stock-and-orders"]["cautious_on"] == day(45)
    assert (answer["on"], answer["way"]) == (day(30), "stock-and-orders")
    assert [one["lot"] for one in answer["out_of_date_by_then"]] == ["L-1"]


def test_without_stock_a_new_order_says_when_and_what_it_costs(cast, shelves, planner):
    answer, found = ways(planner, cast, shelves)
    assert found["stock-and-orders"]["on"] is None
    assert (answer["on"], answer["way"]) == (day(42), "new-order")
    assert found["new-order"]["cautious_on"] == day(57)
    assert "2 ordered today from harrow at 369 EUR" in answer["words"]


def test_kits_can_be_built_at_once_where_the_parts_are_there(cast, shelves, planner):
    put_on_shelf(cast.by("stores"), cast.north, shelves.o_ring, 1, lot="O-1")
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 1, lot="B-1", cured=None)
    assert ways(planner, cast, shelves)[0]["way"] == "build-from-parts"
    claim(cast, shelves, 1, 3)
    found = ways(planner, cast, shelves)[1]["build-from-parts"]
    assert found["on"] is None
    assert "2 would be needed, 1 of them for jobs" in found["words"]


def test_where_nothing_is_known_it_says_so(cast, shelves, planner):
    SupplierTerms.objects.all().delete()
    answer, found = ways(planner, cast, shelves)
    assert (answer["on"], answer["way"]) == (None, None)
    assert "new-order" not in found
    assert "No way is known" in answer["words"]


def test_what_is_free_at_other_sites_is_named(cast, shelves, planner):
    put_on_shelf(cast.by("chief"), make_site("mill"), shelves.kit, 4)
    (shown,) = Hand(cast.client("chief")).get(f"{place(cast, shelves)}/promise")["elsewhere"]
    assert (shown["site"], Decimal(shown["free"])) == ("mill", 4)


@pytest.mark.parametrize(
    ("what", "query", "pointer"),
    [
        ("promise", "quantity=0", "?quantity"),
        ("promise", "quantity=x", "?quantity"),
        ("promise", "earliest=2001-01-01", "?earliest"),
        ("projection", "until=2001-01-01", "?until"),
        ("projection", "untill=2031-01-01", "?untill"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_its_place(cast, shelves, planner, what, query, pointer):
    refused = planner.get(f"{place(cast, shelves)}/{what}?{query}", status=400)
    assert refused["errors"][0]["pointer"] == pointer


def test_both_cost_the_same_however_much_there_is(cast, shelves, planner, django_assert_max_num_queries):
    for number in range(6):
        stock(cast, shelves, 2, f"L-{number}", dies=10 + number)
        order(cast, shelves, 1, 30 + number, number=f"O-{number}")
        claim(cast, shelves, 1, 20 + number)
    with django_assert_max_num_queries(13):
        projected(planner, cast, shelves)
    with django_assert_max_num_queries(21):
        ways(planner, cast, shelves)
