"""What lies dead at a site or is more than enough, and what keeps it from being called so."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone

from kits.models import ExpectedOverhauls, Item, LearnedLeadTime, ReplenishmentLevel, Reservation, ServiceTarget
from kits.operations.movements import Entry, post_movements
from kits.operations.replenishment import replenish_site
from tests.shelves import fill_catalogue, make_part, put_on_shelf

pytestmark = pytest.mark.django_db


def ago(days):
    return timezone.now() - datetime.timedelta(days=days)


@pytest.fixture
def shelves(cast):
    """Twenty kits that came three years ago, of which one was used lately, and ten bearings that nobody ever took."""
    found = fill_catalogue()
    stores = cast.by("stores")
    lot = put_on_shelf(stores, cast.north, found.kit, 21, lot="K-1", occurred_at=ago(1100))
    put_on_shelf(stores, cast.north, found.bearing, 10, lot="B-1", cured=None, occurred_at=ago(1100))
    take(cast, found.kit, lot, 1, 100)
    return found


def take(cast, item, lot, quantity, days, kind="issue"):
    entry = Entry(kind, cast.north.pk, item.pk, lot.pk, -Decimal(quantity), ago(days), reason="used")
    with transaction.atomic():
        post_movements(by=cast.by("stores"), entries=[entry])


def surplus(hand, cast, query="", who="stores", status=200):
    return hand[who].get(f"sites/{cast.north.pk}/stock-surplus{query}", status=status)


def of_item(hand, cast, item):
    return next((one for one in surplus(hand, cast)["items"] if one["item"] == str(item.pk)), None)


def expect_overhauls(cast, kit, mean):
    today = timezone.now().date()
    figures = {
        "mean": mean, "variance": mean, "no_overhaul": 0.5, "q95": 1, "certain": 0, "mean_until": mean,
        "variance_until": mean, "q95_until": 1, "certain_until": 0, "pumps": 4, "weight_of_history": 0.5,
        "history_mean": 0, "walk_in_mean": 0, "walk_in_variance": 0, "blended_mean": mean, "blended_variance": mean,
    }  # fmt: skip
    ExpectedOverhauls.objects.create(site=cast.north, item=kit, month=today.replace(day=1), as_of=today, **figures)


def test_what_nobody_used_for_years_is_dead_and_what_is_too_much_is_excess(cast, shelves, hand):
    found = surplus(hand, cast)
    kit, bearing = found["items"]
    assert (found["looked_at"], found["dead"], found["excess"]) == (2, 1, 1)
    assert (kit["number"], kit["kind"], kit["last_used_on"]) == ("K-100", "excess", ago(100).date().isoformat())
    assert Decimal(kit["surplus"]) == Decimal(kit["on_hand"]) - Decimal(kit["kept"])
    assert (bearing["number"], bearing["kind"], Decimal(bearing["surplus"])) == ("BRG-40", "dead", 10)
    assert bearing["last_used_on"] is None
    assert "has not been worked out here" in bearing["reasons"][1]
    assert found["overhauls_as_of"] is None


def test_values_are_summed_by_currency_and_the_most_valuable_comes_first(cast, shelves, hand):
    found = surplus(hand, cast)
    values = [Decimal(one["value"]) for one in found["items"]]
    assert values == sorted(values, reverse=True)
    assert [(one["currency"], Decimal(one["value"])) for one in found["values"]] == [("EUR", sum(values))]
    Item.objects.filter(pk=shelves.bearing.pk).update(cost=None)
    assert of_item(hand, cast, shelves.bearing)["value"] is None


def test_what_a_job_claims_is_not_dead(cast, shelves, hand):
    Reservation.objects.create(
        job_id=uuid.uuid4(), job_number="J-1", site=cast.north, item=shelves.bearing, quantity=1,
        need_date=timezone.now().date(), by_id=cast.by("stores").id,
    )  # fmt: skip
    found = of_item(hand, cast, shelves.bearing)
    assert found["kind"] == "excess"
    assert (Decimal(found["reserved"]), Decimal(found["surplus"])) == (1, 9 - Decimal(found["kept"]))


def test_what_installed_pumps_will_need_is_not_dead_and_neither_are_the_parts_in_it(cast, shelves, hand):
    assert of_item(hand, cast, shelves.bearing)["kind"] == "dead"
    expect_overhauls(cast, shelves.kit, 0.5)
    found = of_item(hand, cast, shelves.bearing)
    assert found is None or found["kind"] == "excess"
    assert surplus(hand, cast)["overhauls_as_of"] == timezone.now().date().isoformat()


def test_where_pumps_need_nothing_of_it_that_is_said(cast, shelves, hand):
    expect_overhauls(cast, make_part("OTHER"), 0.5)
    assert "no installed pump is expected to need it" in of_item(hand, cast, shelves.bearing)["reasons"][1]


def test_the_level_that_replenishment_keeps_counts_where_it_has_set_one(cast, shelves, hand):
    before = of_item(hand, cast, shelves.kit)
    ReplenishmentLevel.objects.create(
        site=cast.north, item=shelves.kit, reorder_point=9, order_quantity=4, pattern="intermittent", method="tsb",
        mean_a_month=0.1, fill_rate=Decimal("0.95"), reached=0.96, lead_time_days=42, as_of=timezone.now().date(),
    )  # fmt: skip
    after = of_item(hand, cast, shelves.kit)
    assert (after["level"], Decimal(after["kept"]), Decimal(after["surplus"])) == (13, 13, 7)
    assert before["level"] < 13


@pytest.mark.parametrize("measure", ["fill", "cycle"])
def test_before_the_first_night_the_level_is_the_one_that_the_night_will_set(cast, shelves, hand, measure):
    """The night reads and plans with arrays of its own; storage life, learned days and measure count in both."""
    ServiceTarget.objects.update(measure=measure)
    LearnedLeadTime.objects.create(
        supplier=shelves.supplier, item=shelves.kit, mean_days=120, sd_days=30, received=9, received_of_supplier=9,
        weight_of_item=1, weight_of_supplier=0, weight_of_agreed=0, source="observed", observed_mean_days=120,
        agreed_days=42, agreed_sd_days=9, as_of=timezone.now().date(),
    )  # fmt: skip
    lot = put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 90, lot="K-2", occurred_at=ago(1000))
    for days in (200, 330, 410, 500, 640):
        take(cast, shelves.kit, lot, 2, days)
    before = of_item(hand, cast, shelves.kit)
    replenish_site(by=None, site_id=cast.north.pk)
    level = ReplenishmentLevel.objects.get(item=shelves.kit)
    assert before["level"] == level.reorder_point + level.order_quantity
    assert of_item(hand, cast, shelves.kit)["level"] == before["level"]


@pytest.mark.parametrize("kind", ["kit-build", "transfer-out"])
def test_what_was_built_into_a_kit_or_sent_away_was_used(cast, shelves, hand, kind):
    lot = shelves.bearing.lots.get()
    take(cast, shelves.bearing, lot, 1, 60, kind=kind)
    found = of_item(hand, cast, shelves.bearing)
    assert found is None or found["kind"] == "excess"


def test_what_came_lately_or_is_out_of_date_is_not_spoken_of(cast, shelves, hand):
    put_on_shelf(cast.by("stores"), cast.north, make_part("NEW"), 50, lot="N", cured=None)
    put_on_shelf(
        cast.by("stores"),
        cast.north,
        shelves.o_ring,
        50,
        lot="O",
        cured=datetime.date(2010, 3, 31),
        occurred_at=ago(900),
    )
    assert [one["number"] for one in surplus(hand, cast)["items"]] == ["K-100", "BRG-40"]


def test_a_kind_and_a_number_of_items_can_be_asked_for(cast, shelves, hand):
    assert [one["kind"] for one in surplus(hand, cast, "?kind=dead")["items"]] == ["dead"]
    few = surplus(hand, cast, "?limit=1")
    assert (len(few["items"]), few["left_off"]) == (1, 1)
    for wrong in ("?limit=0", "?limit=501", "?limit=1.5", "?kind=old", "?site=1"):
        surplus(hand, cast, wrong, status=400)


def test_other_sites_are_not_there(cast, shelves, hand):
    surplus(hand, cast, who="stranger", status=404)


def test_asking_costs_the_same_for_many_items(cast, shelves, hand, django_assert_num_queries):
    expect_overhauls(cast, shelves.kit, 0.5)
    surplus(hand, cast)
    for number in range(12):
        part = make_part(f"X-{number}")
        put_on_shelf(cast.by("stores"), cast.north, part, 1, lot="X", cured=None, occurred_at=ago(1000))
    with django_assert_num_queries(15):
        assert surplus(hand, cast)["looked_at"] == 14
