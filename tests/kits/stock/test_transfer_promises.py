"""What both sites of a transfer are told to expect: projections, promises and the position behind order proposals."""

from decimal import Decimal

import pytest

from kits.models import Transfer, TransitTime
from kits.queries.replenishment_pictures import stock_pictures
from tests.overhauls import Hand
from tests.shelves import put_on_shelf
from tests.transfers import (
    TODAY,
    act,
    agree,
    catalogue_without_targets,
    claim,
    day,
    gather_lenders,
    hands_over,
    lend_from,
)
from tests.world import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast():
    return gather_lenders()


@pytest.fixture
def shelves():
    return catalogue_without_targets()


@pytest.fixture
def hand(cast):
    return hands_over(cast)


def test_both_sites_projections_and_positions_count_what_was_agreed_and_what_is_under_way(cast, shelves, hand):
    lend_from(cast, shelves, 3)
    made = agree(hand, cast, shelves, 2)
    there = hand["stranger"].get(f"sites/{cast.south.pk}/items/{shelves.kit.pk}/projection")
    assert Decimal(there["days"][0]["free"]) == 1
    shown = hand["stores"].get(f"stock-availability?item={shelves.kit.pk}&on={TODAY}")["results"]
    assert [Decimal(one["free"]) for one in shown] == [1]
    here = f"sites/{cast.north.pk}/items/{shelves.kit.pk}/projection"
    assert [(one["state"], one["counted_on"]) for one in hand["stores"].get(here)["transfers"]] == [
        ("approved", day(3).isoformat())
    ]
    act(hand, "sender", made, "send")
    answer = hand["stores"].get(here)
    assert [(one["day"], Decimal(one["on_hand"])) for one in answer["days"]][-1] == (day(3).isoformat(), 2)
    assert [(one["lot"], one["state"]) for one in answer["transfers"]] == [("S-1", "sent")]
    Transfer.objects.update(expected_on=day(-2))
    answer = hand["stores"].get(here)
    assert answer["transfers"][0]["counted_on"] is None
    assert "Not counted, overdue" in answer["words"]


def test_what_is_agreed_and_no_longer_free_is_not_counted(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    agree(hand, cast, shelves)
    claim(cast, shelves, cast.south, 9, hard=True)
    (row,) = hand["stores"].get(f"sites/{cast.north.pk}/items/{shelves.kit.pk}/projection")["transfers"]
    assert row["counted_on"] is None


def promised(hand, cast, shelves, who="both", query=""):
    answer = hand[who].get(f"sites/{cast.north.pk}/items/{shelves.kit.pk}/promise{query}")
    return answer, [one for one in answer["ways"] if one["way"] == "transfer"]


def test_a_promise_names_the_site_the_day_the_lots_and_the_cost(cast, shelves, hand):
    lend_from(cast, shelves, 1, "DEAD", dies=2)
    lend_from(cast, shelves, 2, "S-1", dies=200)
    answer, (way,) = promised(hand, cast, shelves)
    assert (answer["on"], answer["way"]) == (day(3).isoformat(), "transfer")
    assert way["pieces"] == [
        {
            "from_site": "south",
            "arrives_on": day(3).isoformat(),
            "quantity": "1.000",
            "cost": "60.0000",
            "currency": "EUR",
            "lots": [{"lot": "S-1", "last_day": day(200).isoformat(), "quantity": "1.000"}],
        }
    ]
    assert "1 from south on" in answer["words"]
    assert "out of date by" in answer["words"]
    assert "lot DEAD" in answer["words"]


def test_what_the_lenders_own_jobs_need_is_not_promised(cast, shelves, hand):
    lend_from(cast, shelves, 2)
    claim(cast, shelves, cast.south, 20)
    assert promised(hand, cast, shelves)[1][0]["pieces"][0]["quantity"] == "1.000"
    assert promised(hand, cast, shelves, query="?quantity=2")[1] == []


def test_several_sites_together_have_enough(cast, shelves, hand):
    mill = make_site("mill")
    TransitTime.objects.create(from_site=mill, to_site=cast.north, days=9, cost=10, currency="EUR")
    lend_from(cast, shelves, 1)
    put_on_shelf(cast.by("chief"), mill, shelves.kit, 1, lot="M-1")
    _, (way,) = promised(hand, cast, shelves, who="chief", query="?quantity=2")
    assert way["on"] == day(9).isoformat()
    assert [(one["from_site"], one["quantity"]) for one in way["pieces"]] == [("south", "1.000"), ("mill", "1.000")]


def test_without_a_transit_time_none_is_promised_and_that_is_said(cast, shelves, hand):
    TransitTime.objects.all().delete()
    lend_from(cast, shelves, 2)
    answer, ways = promised(hand, cast, shelves)
    assert (ways, answer["no_transit_time"]) == ([], ["south"])
    assert "No transfer from south is promised" in answer["words"]


def test_of_sites_without_a_role_only_what_is_free_is_told_and_without_the_scope_nothing(cast, shelves, hand):
    lend_from(cast, shelves, 2)
    (way,) = promised(hand, cast, shelves, who="planner")[1]
    assert way["pieces"][0]["lots"] == []
    hand["supervisor"] = Hand(cast.client("supervisor"))
    answer, ways = promised(hand, cast, shelves, who="supervisor")
    assert (ways, answer["elsewhere"]) == ([], [{"available_elsewhere": "ask stores"}])
    assert "south" not in answer["words"]


def test_an_open_transfer_is_promised_with_its_day_and_not_twice(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    agree(hand, cast, shelves)
    answer, ways = promised(hand, cast, shelves)
    assert ways == []
    assert (answer["on"], answer["way"]) == (day(3).isoformat(), "stock-and-orders")
    assert "with transfer T-" in answer["words"]


def position(cast, site):
    (found,) = stock_pictures(site.pk, as_of=TODAY, since=TODAY)
    return found.usable, [one for _, one in found.lots], found.on_order


def test_order_proposals_count_what_comes_and_not_what_was_promised_away(cast, shelves, hand):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="N-1")
    lend_from(cast, shelves, 3)
    made = agree(hand, cast, shelves, 2)
    assert position(cast, cast.south) == (1, [1], [])
    assert position(cast, cast.north) == (1, [1], [(day(3), 2)])
    act(hand, "sender", made, "send")
    assert position(cast, cast.south) == (1, [1], [])
    assert position(cast, cast.north) == (1, [1], [(day(3), 2)])
    act(hand, "stores", made, "receive")
    assert position(cast, cast.north) == (3, [2, 1], [])


def test_parts_promised_away_build_no_kits(cast, shelves, hand):
    put_on_shelf(cast.by("stranger"), cast.south, shelves.o_ring, 1, lot="O-1")
    put_on_shelf(cast.by("stranger"), cast.south, shelves.bearing, 1, lot="B-1", cured=None)
    place = f"sites/{cast.south.pk}/items/{shelves.kit.pk}/promise"
    assert hand["stranger"].get(place)["way"] == "build-from-parts"
    lines = [{"item": str(shelves.bearing.pk), "quantity": "1"}]
    agree(hand, cast, shelves, lines=lines)
    built = [one for one in hand["stranger"].get(place)["ways"] if one["way"] == "build-from-parts"]
    assert built[0]["on"] is None


def test_no_more_is_sent_than_serves_the_jobs_that_are_short_and_what_is_asked_for(cast, shelves, hand):
    lend_from(cast, shelves, 5)
    claim(cast, shelves, cast.north, 20)
    (way,) = promised(hand, cast, shelves)[1]
    assert (way["on"], way["pieces"][0]["quantity"]) == (day(3).isoformat(), "2.000")


def test_what_was_promised_and_is_all_gone_is_short_at_the_lender(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    made = agree(hand, cast, shelves)
    claim(cast, shelves, cast.south, 9, hard=True)
    answer = hand["stranger"].get(f"sites/{cast.south.pk}/items/{shelves.kit.pk}/projection")
    (short,) = answer["short"]
    assert (short["job_number"], Decimal(short["short"])) == (f"transfer {made['number']}", 1)
