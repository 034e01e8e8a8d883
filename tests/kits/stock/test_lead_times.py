"""What suppliers really take, learned from receipts over the API, and read beside what was agreed."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import LearnedLeadTime, Movement, Order, OrderLine, Supplier, SupplierTerms
from kits.operations.corrections import reverse_movement
from kits.operations.lead_times import ask_nightly_learning, learn_all
from kits.operations.orders import Arrived, receive_order
from kits.queries.lead_times import learned_lead_times
from kits.tasks import run_lead_time_learning
from services.changes.models import Change
from services.work.models import BackgroundRun
from tests.shelves import make_part

pytestmark = pytest.mark.django_db
NOW = timezone.now()
DAY = datetime.timedelta(days=1)


def came(cast, shelves, days, *, item=None, sent=True):
    """An order that took so many days from sending to receipt."""
    item = item or shelves.kit
    began = NOW - (days + 1) * DAY
    order = Order.objects.create(
        number=f"O-{uuid.uuid4().hex[:8]}", site=cast.north, supplier=shelves.supplier,
        state="sent" if sent else "approved", sent_at=began if sent else None,
    )  # fmt: skip
    OrderLine.objects.create(
        order=order, line=1, item=item, quantity=2, expected_on=(began + 42 * DAY).date(), price=180, currency="EUR"
    )
    cured = datetime.date(2026, 3, 31) if item == shelves.kit else None
    arrived = [Arrived(1, Decimal(2), order.number, cured)]
    receive_order(
        by=cast.by("stores"), order_id=order.pk, expected_version=1, arrived=arrived, occurred_at=began + days * DAY
    )
    return order


def read(reader, shelves, query=""):
    return reader.get(f"suppliers/{shelves.supplier.pk}/lead-times{query}")["results"]


def test_agreed_and_learned_stand_side_by_side(cast, shelves, reader):
    """42 days agreed, two orders took 60: late by 18 weighs two of six, which makes the prior 48; the item's own two
    receipts weigh two of six again, which makes 52."""
    came(cast, shelves, 60)
    came(cast, shelves, 60)
    assert learn_all(by=None) == {"suppliers": 1, "changed": 1, "items": 2}
    whole, kit = read(reader, shelves)
    assert (whole["item"], kit["number"]) == (None, "K-100")
    assert (kit["agreed_days"], kit["observed_mean_days"], kit["mean_days"]) == ("42", "60", "52")
    assert (kit["received"], kit["basis"]) == (2, "blended")
    assert (kit["weight_of_item"], kit["weight_of_supplier"], kit["weight_of_agreed"]) == ("0.3333", "0.2222", "0.4444")
    assert kit["words"].startswith("42 days were agreed; 2 receipts took 60 days on average. Counted on: 52 days")


def test_an_item_of_which_nothing_came_is_learned_from_the_suppliers_others(cast, shelves, reader):
    SupplierTerms.objects.create(
        supplier=shelves.supplier, item=shelves.bearing, lead_time_days=10, price=4, currency="EUR"
    )
    came(cast, shelves, 54)
    learn_all(by=None)
    bearing = next(one for one in read(reader, shelves) if one["number"] == "BRG-40")
    assert Decimal(bearing["mean_days"]) == Decimal("12.4")
    assert (bearing["received"], bearing["received_of_supplier"]) == (0, 1)
    assert bearing["weight_of_item"] == "0"


def test_what_was_taken_back_or_came_before_it_was_sent_teaches_nothing(cast, shelves, reader):
    order = came(cast, shelves, 60)
    came(cast, shelves, 50, sent=False)
    movement = Movement.objects.get(order_line__order=order)
    reverse_movement(by=cast.by("stores"), movement_id=movement.pk, reason="wrong pallet")
    assert learn_all(by=None)["suppliers"] == 0
    assert read(reader, shelves) == []


def test_the_same_receipts_again_change_nothing_and_tell_nothing(cast, shelves):
    came(cast, shelves, 60)
    learn_all(by=None)
    first = list(LearnedLeadTime.objects.order_by("id").values_list("id", flat=True))
    assert learn_all(by=None, as_of=NOW.date() + DAY)["changed"] == 0
    assert list(LearnedLeadTime.objects.order_by("id").values_list("id", flat=True)) == first
    assert Change.objects.filter(kind="lead-times.learned").count() == 1


def test_what_came_years_ago_is_forgotten(cast, shelves):
    came(cast, shelves, 60)
    learn_all(by=None)
    assert learn_all(by=None, as_of=NOW.date() + 4 * 365 * DAY) == {"suppliers": 0, "changed": 1, "items": 0}
    assert not LearnedLeadTime.objects.exists()


def test_a_run_asks_for_its_pairs_in_one_query(cast, shelves, django_assert_num_queries):
    came(cast, shelves, 60)
    learn_all(by=None)
    other = make_part("OR-9")
    pairs = [(shelves.supplier.pk, shelves.kit.pk), (shelves.supplier.pk, other.pk)]
    with django_assert_num_queries(1):
        found = learned_lead_times(pairs)
    assert set(found) == {pairs[0]}
    assert found[pairs[0]].mean_days == 48.48
    assert (found[pairs[0]].received, found[pairs[0]].source) == (1, "blended")
    with django_assert_num_queries(0):
        assert learned_lead_times([]) == {}


def test_learning_takes_as_many_queries_for_many_suppliers_as_for_one(cast, shelves, django_assert_max_num_queries):
    for number in range(6):
        supplier = Supplier.objects.create(code=f"s-{number}", name="S")
        shelves.supplier = supplier
        came(cast, shelves, 20 + number)
    with django_assert_max_num_queries(8):
        assert learn_all(by=None)["changed"] == 6


def test_one_night_asks_once(cast, shelves):
    came(cast, shelves, 60)
    night = datetime.datetime(2027, 3, 1, 2, tzinfo=datetime.UTC)
    run = ask_nightly_learning(now=night)
    assert run is not None
    run_lead_time_learning(str(run))
    done = BackgroundRun.objects.get(pk=run)
    assert (done.state, done.result["changed"]) == ("done", 1)
    assert ask_nightly_learning(now=night + datetime.timedelta(hours=5)) is None
    assert ask_nightly_learning(now=night + DAY) is not None


def test_lists_narrow_to_an_item_and_a_basis(cast, shelves, reader):
    came(cast, shelves, 60)
    learn_all(by=None)
    assert len(read(reader, shelves, f"?item={shelves.kit.pk}")) == 1
    assert read(reader, shelves, "?basis=agreed") == []


def test_a_supplier_that_is_not_there_is_not_found(reader):
    assert reader.get(f"suppliers/{uuid.uuid4()}/lead-times", status=404)["code"] == "not-found"
