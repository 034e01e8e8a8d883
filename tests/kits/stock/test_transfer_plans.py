"""Which kits to move between sites, over HTTP."""

import datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kits.calculations.demand_history import HISTORY
from kits.calculations.replenishment_working import plan_replenishment
from kits.models import Lot, ReplenishmentLevel, ServiceTarget, Transfer, TransitTime
from kits.operations import transfer_plans
from kits.queries.replenishment_pictures import inputs_of, stock_pictures, targets
from tests.networks import TODAY, another_kit, gather_network, say_days, used
from tests.overhauls import Hand
from tests.shelves import make_kit, put_on_shelf
from tests.transfers import claim
from tests.world import make_principal, make_site

pytestmark = pytest.mark.django_db
WAITING = {"amount": "400", "currency": "EUR"}


@pytest.fixture
def network():
    return gather_network()


@pytest.fixture
def uneven(network):
    """North needs the kit often and has none; the mill seldom and has nine."""
    used(network, network.north, network.shelves.kit, every=40)
    used(network, network.mill, network.shelves.kit, every=300, left=9)
    return network


def ask(network, status=200, **body):
    return network.planner.post("transfer-plans", {"waiting_cost": WAITING, **body}, status=status)


def moves(answer):
    return [
        (one["from_site_code"], one["to_site_code"], line["number"], line["quantity"])
        for one in answer["transfers"]
        for line in one["lines"]
    ]


def agree(network, answer):
    return [network.planner.post("transfers", one["body"], status=201) for one in answer["transfers"]]


def plan_of(site, item):
    """What replenishment of one site says of the item."""
    (picture,) = stock_pictures(site.pk, as_of=TODAY, since=TODAY - HISTORY, only=[item.pk])
    return plan_replenishment(inputs_of(picture, TODAY, targets()[picture.criticality]))


def test_kits_go_where_they_are_worth_more_than_the_way(uneven):
    answer = ask(uneven)
    ((lender, receiver, number, quantity),) = moves(answer)
    assert (lender, receiver, number) == ("mill", "north", "K-100")
    assert quantity >= 2
    assert Decimal(answer["cost"]) == 60 * quantity
    assert Decimal(answer["gain"]) > 0
    assert answer["words"][0].startswith(f"{quantity} in 1 transfer cost EUR {60 * quantity}.00 to move and save EUR")


def test_a_lender_keeps_the_reorder_point_that_replenishment_keeps(uneven):
    ((_, _, _, before),) = moves(ask(uneven))
    ReplenishmentLevel.objects.create(
        site=uneven.mill, item=uneven.shelves.kit, reorder_point=900, order_quantity=2, pattern="lumpy", method="tsb",
        mean_a_month=0.5, fill_rate=Decimal("0.95"), reached=0.96, lead_time_days=42, as_of=TODAY,
    )  # fmt: skip
    assert before > 0
    assert moves(ask(uneven)) == []


def test_a_proposed_transfer_is_agreed_on_as_it_stands(uneven):
    (made,) = agree(uneven, ask(uneven))
    assert (made["from_site_code"], made["to_site_code"], made["warnings"]) == ("mill", "north", [])
    assert Transfer.objects.get().override_reason == ""


def test_a_lender_never_falls_below_its_own_reorder_point(uneven):
    before = plan_of(uneven.mill, uneven.shelves.kit)
    agree(uneven, ask(uneven, waiting_cost={"amount": "1000000", "currency": "EUR"}))
    after = plan_of(uneven.mill, uneven.shelves.kit)
    assert before.position.total > after.position.total >= after.point.level
    assert after.point.level == before.point.level


def test_what_jobs_hold_or_ask_for_stays(uneven):
    claim(uneven.cast, uneven.shelves, uneven.mill, 20, quantity=4, hard=True)
    claim(uneven.cast, uneven.shelves, uneven.mill, 30, quantity=3)
    dear = {"amount": "1000000", "currency": "EUR"}
    assert sum(quantity for *_, quantity in moves(ask(uneven, waiting_cost=dear))) <= 2
    agree(uneven, ask(uneven, waiting_cost=dear))


def test_no_kit_goes_both_ways_and_the_gain_is_never_below_nought(uneven):
    for number in range(3):
        kit = another_kit(uneven, f"K-6{number}0")
        used(uneven, uneven.north, kit, every=50 + 30 * number, left=number * 3)
        used(uneven, uneven.mill, kit, every=200 - 50 * number, left=6 - 3 * number)
        used(uneven, uneven.south, kit, every=90, left=2)
    for cost in ("0", "70", "400", "5000"):
        answer = ask(uneven, waiting_cost={"amount": cost, "currency": "EUR"})
        ways = {(lender, receiver, number) for lender, receiver, number, _ in moves(answer)}
        assert not ways & {(receiver, lender, number) for lender, receiver, number in ways}
        assert Decimal(answer["gain"]) >= 0
        assert bool(ways) == (Decimal(answer["gain"]) > 0)
    assert ways


def test_what_would_be_out_of_date_on_arrival_does_not_count(uneven):
    Lot.objects.filter(number="mill-K-100").update(expires_on=TODAY + datetime.timedelta(days=2))
    assert moves(ask(uneven)) == []
    put_on_shelf(uneven.by, uneven.mill, uneven.shelves.kit, 2, lot="FRESH")
    ((lender, receiver, _, quantity),) = moves(ask(uneven))
    assert (lender, receiver) == ("mill", "north")
    assert 1 <= quantity <= 2


def test_what_comes_after_the_next_receipt_is_not_moved(uneven):
    TransitTime.objects.filter(to_site=uneven.north).update(days=43)
    assert moves(ask(uneven)) == []
    TransitTime.objects.filter(to_site=uneven.north).update(days=42)
    Lot.objects.update(expires_on=None)
    assert moves(ask(uneven)) != []


def test_what_was_moved_lately_is_left_alone(uneven):
    (made,) = agree(uneven, ask(uneven))
    used(uneven, uneven.south, uneven.shelves.kit, every=30)
    answer = ask(uneven)
    assert moves(answer) == []
    assert {one["site_code"] for one in answer["left_alone"]} == {"mill", "north"}
    assert "Left alone, since it was moved lately" in " ".join(answer["words"])
    Transfer.objects.filter(pk=made["id"]).update(created_at=timezone.now() - datetime.timedelta(days=8))
    assert ask(uneven)["left_alone"] == []
    assert ask(uneven, moved_within_days=8)["left_alone"] != []


def test_what_is_on_its_way_is_not_asked_for_again(uneven):
    agree(uneven, ask(uneven))
    assert moves(ask(uneven, moved_within_days=0)) == []


def test_a_vital_kit_may_be_worth_more(uneven):
    uneven.shelves.kit.criticality = "vital"
    uneven.shelves.kit.save()
    assert moves(ask(uneven, waiting_cost={"amount": "10", "currency": "EUR"})) == []
    told = [{"criticality": "vital", "amount": "4000"}]
    assert moves(ask(uneven, waiting_cost={"amount": "10", "currency": "EUR"}, waiting_costs=told)) != []


def test_a_job_that_waits_is_a_certain_need(uneven):
    before = Decimal(ask(uneven)["gain"])
    claim(uneven.cast, uneven.shelves, uneven.north, 20, quantity=2)
    answer = ask(uneven)
    assert Decimal(answer["gain"]) > before
    assert ", 2 more are asked for by jobs" in answer["transfers"][0]["lines"][0]["words"]


def test_between_sites_that_nobody_joined_nothing_is_moved(uneven):
    TransitTime.objects.filter(from_site=uneven.mill, to_site=uneven.north).delete()
    answer = ask(uneven)
    assert all((lender, receiver) != ("mill", "north") for lender, receiver, *_ in moves(answer))
    assert {"from_site_code": "mill", "to_site_codes": ["north"]} in answer["no_transit_time"]
    assert "POST /transit-times" in answer["words"][-1]
    TransitTime.objects.all().delete()
    problem = ask(uneven, status=422)
    assert problem["code"] == "no-transit-time"
    assert "POST /transit-times" in problem["remedy"]


def test_currencies_are_not_mixed(uneven):
    TransitTime.objects.filter(from_site=uneven.south).update(currency="NOK")
    problem = ask(uneven, status=422)
    assert problem["code"] == "mixed-currencies"
    assert problem["currencies"]["NOK"] == ["south to mill", "south to north"]
    named = [str(uneven.north.pk), str(uneven.mill.pk)]
    assert moves(ask(uneven, sites=named)) != []


def test_a_criticality_has_one_cost_of_waiting(uneven):
    costs = [{"criticality": "vital", "amount": "900"}, {"criticality": "vital", "amount": "800"}]
    problem = ask(uneven, status=422, waiting_costs=costs)
    assert [one["pointer"] for one in problem["errors"]] == ["#/waiting_costs/1"]


def test_one_site_alone_lends_to_nobody(uneven):
    answer = ask(uneven, sites=[str(uneven.north.pk)])
    assert answer["transfers"] == []
    assert answer["words"] == ["One site alone has nobody to lend to. Name two sites or more."]


@pytest.mark.parametrize("limit", ["MOST_WAYS", "MOST_PLANNED"])
def test_more_than_is_planned_in_one_run_is_refused(uneven, monkeypatch, limit):
    monkeypatch.setattr(transfer_plans, limit, 1)
    problem = ask(uneven, status=422)
    assert problem["code"] == "too-many-to-plan"
    assert problem["remedy"] == "Name fewer items or sites."


def test_where_nothing_is_needed_nothing_moves(network):
    put_on_shelf(network.by, network.north, network.shelves.kit, 8)
    answer = ask(network)
    assert (answer["kits"], answer["transfers"]) == (0, [])
    assert answer["words"][0] == "No move is worth more than it costs, within what the sites can spare."


def test_only_items_that_were_named_are_moved(uneven):
    other = another_kit(uneven, "K-200")
    used(uneven, uneven.north, other, every=40)
    used(uneven, uneven.mill, other, every=300, left=9)
    assert {number for _, _, number, _ in moves(ask(uneven))} == {"K-100", "K-200"}
    assert {number for _, _, number, _ in moves(ask(uneven, items=[str(other.pk)]))} == {"K-200"}
    strange = make_kit("K-999", [("casing-o-ring", uneven.shelves.o_ring)])
    assert ask(uneven, items=[str(strange.pk)], status=422)["errors"][0]["pointer"] == "#/items/0"


def test_without_a_service_target_there_is_no_reorder_point_and_no_move(uneven):
    ServiceTarget.objects.all().delete()
    assert moves(ask(uneven)) == []


def test_a_site_that_is_not_granted_is_not_there(uneven):
    both = [str(uneven.north.pk), str(uneven.mill.pk)]
    stores, reader = (Hand(uneven.cast.client(role)) for role in ("stores", "reader"))
    body = {"waiting_cost": WAITING, "sites": both}
    assert stores.post("transfer-plans", body, status=404)["code"] == "not-found"
    assert reader.post("transfer-plans", {"waiting_cost": WAITING}, status=403)["code"] == "not-allowed"
    uneven.cast.people["fits-there"] = make_principal("fits-there", ("stores", uneven.north), ("fitter", uneven.mill))
    there = Hand(uneven.cast.client("fits-there"))
    assert there.post("transfer-plans", body, status=403)["code"] == "not-allowed"
    assert [one["site_code"] for one in there.post("transfer-plans", {"waiting_cost": WAITING})["sites"]] == ["north"]


def statements(network):
    with CaptureQueriesContext(connection) as captured:
        assert moves(ask(network))
    return len([one for one in captured.captured_queries if not one["sql"].startswith(("SAVEPOINT", "RELEASE"))])


def test_many_sites_and_items_make_as_many_statements_as_few(uneven):
    uneven.planner.get("me")
    few = statements(uneven)
    assert few <= 29
    for number in range(5):
        site = make_site(f"works-{number}")
        say_days(uneven.south, site, 2)
        say_days(site, uneven.north, 2)
        uneven.cast.people["planner-of-all"].grants.create(role="stores", site=site)
        used(uneven, site, another_kit(uneven, f"K-7{number}"), every=150, left=5)
        used(uneven, site, uneven.shelves.kit, every=150, left=5)
    assert statements(uneven) == few
