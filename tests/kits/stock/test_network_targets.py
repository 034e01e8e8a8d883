"""How much to keep at a central store and its sites, over HTTP."""

from decimal import Decimal

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from scipy import stats

from kits.calculations import network_target
from kits.calculations.demand_history import HISTORY
from kits.models import ServiceTarget, SupplierTerms, TransitTime
from kits.queries.replenishment_pictures import network_pictures, stock_pictures
from services.changes.models import Change
from tests.kits.stock.test_orders import propose
from tests.networks import TODAY, another_kit, gather_network, say_days, used
from tests.overhauls import Hand
from tests.shelves import make_kit, make_part, put_on_shelf
from tests.transfers import claim
from tests.world import make_principal, make_site

pytestmark = pytest.mark.django_db
EUR = {"amount": "2000", "currency": "EUR"}


@pytest.fixture
def network():
    return gather_network()


@pytest.fixture
def busy(network):
    """The kit was needed everywhere; the mill has most of what is left."""
    used(network, network.north, network.shelves.kit, every=60)
    used(network, network.mill, network.shelves.kit, every=120, left=6)
    used(network, network.south, network.shelves.kit, every=240, left=1)
    return network


def ask(network, status=200, **body):
    if not {"budget", "availability"} & set(body):
        body["budget"] = EUR
    return network.planner.post("network-targets", body, status=status)


def levels(answer, item=0):
    return {one["site_code"]: one["level"] for one in answer["items"][item]["stock"]}


def test_a_budget_is_split_over_the_central_store_and_its_sites(busy):
    answer = ask(busy)
    assert answer["central_store_code"] == "south"
    assert Decimal(answer["cost"]) <= 2000
    assert levels(answer)["north"] >= levels(answer)["mill"] > 0
    assert sum(levels(answer).values()) == answer["kits"] == 10
    assert answer["words"][0].startswith("EUR 2000.00 buys 10 of 1 item for EUR 1845.00:")
    assert answer["now"]["kits"] == 7
    assert {one["site_code"]: one["level_now"] for one in answer["items"][0]["stock"]} == {
        "south": 1, "mill": 6, "north": 0,
    }  # fmt: skip
    assert Decimal(answer["backorders"]) < Decimal(answer["now"]["backorders"])


def test_the_demand_is_what_replenishment_forecasts(busy):
    busy.cast.people["north-planner"] = make_principal("north-planner", ("planner", busy.north))
    chief = Hand(busy.cast.client("chief"))
    answer = ask(busy)
    demands = {one["site_code"]: Decimal(one["demand_a_month"]) for one in answer["items"][0]["stock"]}
    assert demands["north"] == pytest.approx(Decimal("0.5"), abs=Decimal("0.2"))
    assert demands["mill"] == pytest.approx(Decimal("0.25"), abs=Decimal("0.1"))
    assert answer["items"][0]["lead_time_days"] == "42"
    assert chief.post("network-targets", {"budget": EUR})["items"] == answer["items"]


def test_nothing_is_stored(busy):
    before = Change.objects.count()
    ask(busy)
    assert Change.objects.count() == before


@pytest.mark.parametrize("kept", ["vari-metric", "exact", "metric"])
def test_more_money_never_leaves_more_waiting_and_no_budget_is_exceeded(busy, kept):
    used(busy, busy.north, another_kit(busy, "K-200", price="33.3333"), every=90)
    waiting = []
    for amount in ("0", "50", "100", "184.5", "217.8333", "500", "900", "1500", "3000"):
        answer = ask(busy, budget={"amount": amount, "currency": "EUR"}, model=kept)
        assert Decimal(answer["cost"]) <= Decimal(amount)
        assert Decimal(answer["backorders"]) >= Decimal(answer["least_backorders"]) - Decimal("0.000001")
        waiting.append(Decimal(answer["backorders"]))
    assert waiting == sorted(waiting, reverse=True)


def test_an_availability_is_reached_and_the_words_say_it_is_only_near_the_best(busy):
    answer = ask(busy, availability="0.98", pumps=12)
    assert Decimal(answer["availability"]) >= Decimal("0.98")
    assert "near the best, not surely the best" in " ".join(answer["words"])
    cheaper = [one for one in answer["curve"] if Decimal(one["cost"]) < Decimal(answer["cost"])]
    assert all(Decimal(one["availability"]) < Decimal("0.98") for one in cheaper)


def test_the_curve_falls_and_begins_with_nothing(busy):
    curve = [(Decimal(one["cost"]), Decimal(one["backorders"])) for one in ask(busy)["curve"]]
    assert curve[0][0] == 0
    assert [cost for cost, _ in curve] == sorted(cost for cost, _ in curve)
    assert [owed for _, owed in curve] == sorted((owed for _, owed in curve), reverse=True)


def test_every_figure_can_be_told_otherwise(busy):
    kit = str(busy.shelves.kit.pk)
    answer = ask(
        busy,
        demands=[{"site": str(busy.north.pk), "item": kit, "a_month": "2"}],
        transits=[{"site": str(busy.mill.pk), "days": "20", "from_supplier": True}],
        supplies=[{"item": kit, "lead_time_days": "10", "price": "100"}],
    )
    assert answer["items"][0]["price"] == "100"
    assert answer["items"][0]["lead_time_days"] == "10"
    north = next(one for one in answer["items"][0]["stock"] if one["site_code"] == "north")
    assert Decimal(north["demand_a_month"]) == 2
    mill = next(one for one in answer["sites"] if one["site_code"] == "mill")
    assert (mill["transit_days"], mill["from_supplier"]) == ("20", True)


def test_where_nobody_said_how_long_it_takes_the_remedy_is_named(busy):
    TransitTime.objects.filter(from_site=busy.south, to_site=busy.mill).delete()
    problem = ask(busy, status=422)
    assert problem["code"] == "no-transit-time"
    assert problem["sites"] == ["mill"]
    assert "POST /transit-times" in problem["remedy"]
    assert ask(busy, transits=[{"site": str(busy.mill.pk), "days": "2"}])["items"]


def test_currencies_are_not_mixed(busy):
    dear = another_kit(busy, "K-300", currency="NOK")
    used(busy, busy.north, dear, every=200)
    problem = ask(busy, status=422)
    assert problem["code"] == "mixed-currencies"
    assert problem["currencies"] == {"EUR": ["K-100 A", "the budget"], "NOK": ["K-300 A"]}
    told = [{"item": str(dear.pk), "price": "80", "currency": "EUR"}]
    assert ask(busy, supplies=told)["currency"] == "EUR"
    assert ask(busy, items=[str(dear.pk)], budget={"amount": "500", "currency": "NOK"})["currency"] == "NOK"


def test_a_kit_that_nobody_needs_is_given_nothing(busy):
    idle = another_kit(busy, "K-400")
    answer = ask(busy, items=[str(idle.pk)])
    assert answer["items"][0]["demand_a_month"] == "0"
    assert (answer["kits"], answer["backorders"]) == (0, "0")


def test_where_nothing_was_needed_it_says_so(network):
    answer = ask(network)
    assert (answer["items"], answer["kits"]) == ([], 0)
    assert answer["words"] == [
        "None of these items was needed at these sites in the last three years, so nothing is planned."
    ]


def test_one_site_alone_is_planned_from_its_supplier(busy):
    north = str(busy.north.pk)
    problem = ask(busy, sites=[north], status=422)
    assert problem["errors"][0]["pointer"] == "#/central_store"
    answer = ask(busy, sites=[north], central_store=north)
    assert [one["site_code"] for one in answer["sites"]] == ["north"]
    level = levels(answer)["north"]
    mean = float(answer["items"][0]["demand_a_month"]) / 30.4375 * 42
    # scipy 1.17: what one store with a lead time owes is the loss of the Poisson distribution.
    counts = np.arange(100)
    owed = (np.maximum(counts - level, 0) * stats.poisson(mean).pmf(counts)).sum()
    assert float(answer["backorders"]) == pytest.approx(owed, abs=1e-6)
    assert 4 < level <= 10


def test_two_central_stores_ask_for_a_name(busy):
    make_site("harbour", central=True)
    problem = Hand(busy.cast.client("chief")).post("network-targets", {"budget": EUR}, status=422)
    assert problem["errors"][0]["pointer"] == "#/central_store"
    assert "More than one" in problem["detail"]


def test_a_kit_without_terms_is_left_out_and_when_named_refused(busy):
    unsold = make_kit("K-500", [("casing-o-ring", busy.shelves.o_ring)])
    used(busy, busy.north, unsold, every=100)
    (left,) = ask(busy)["left_out"]
    assert left["number"] == "K-500"
    assert "POST /supplier-terms" in left["why"]
    problem = ask(busy, items=[str(unsold.pk)], status=422)
    assert problem["errors"][0]["pointer"] == "#/items/0"
    assert "POST /supplier-terms" in problem["remedy"]
    told = [{"item": str(unsold.pk), "price": "50", "lead_time_days": "20", "currency": "EUR"}]
    assert ask(busy, items=[str(unsold.pk)], supplies=told)["items"][0]["price"] == "50"


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "#/budget"),
        ({"budget": EUR, "availability": "0.9"}, "#/budget"),
        ({"budget": EUR, "sites": []}, "#/sites"),
        ({"budget": {"amount": "-1", "currency": "EUR"}}, "#/budget/amount"),
        ({"availability": "1"}, "#/availability"),
        ({"availability": "0.9"}, "#/pumps"),
        ({"budget": EUR, "items": ["0199a0c4-0000-7000-8000-00000000dead"]}, "#/items/0"),
        ({"budget": EUR, "model": "guess"}, "#/model"),
    ],
)
def test_what_cannot_be_planned_names_its_field(busy, body, pointer):
    problem = busy.planner.post("network-targets", body, status=422)
    assert problem["errors"][0]["pointer"] == pointer
    assert problem["remedy"]


def test_a_figure_that_would_change_nothing_is_refused(busy):
    idle, north = str(another_kit(busy, "K-400").pk), str(busy.north.pk)
    kit, south = str(busy.shelves.kit.pk), str(busy.south.pk)
    for body, pointer in (
        ({"demands": [{"site": north, "item": idle, "a_month": "1"}]}, "#/demands/0/item"),
        ({"supplies": [{"item": idle, "price": "10"}]}, "#/supplies/0/item"),
        ({"transits": [{"site": south, "days": "1"}]}, "#/transits/0/site"),
        ({"sites": [south], "demands": [{"site": north, "item": kit, "a_month": "1"}]}, "#/demands/0/site"),
    ):
        assert ask(busy, status=422, **body)["errors"][0]["pointer"] == pointer
    told = [{"site": north, "item": idle, "a_month": "1"}]
    assert ask(busy, items=[idle], demands=told)["items"][0]["demand_a_month"] == "1"


def test_two_figures_of_the_same_are_refused_at_the_second(busy):
    idle, north, south = str(another_kit(busy, "K-400").pk), str(busy.north.pk), str(busy.south.pk)
    kit, mill = str(busy.shelves.kit.pk), str(busy.mill.pk)
    one = {"site": north, "item": kit, "a_month": "1"}
    for body, pointers in (
        ({"demands": [one, {**one, "site": mill}, {**one, "a_month": "2"}, one]}, ["#/demands/2", "#/demands/3"]),
        ({"supplies": [{"item": kit, "price": "10"}, {"item": kit, "price": "9"}]}, ["#/supplies/1"]),
        ({"transits": [{"site": north, "days": "1"}, {"site": north, "days": "2"}]}, ["#/transits/1"]),
    ):
        problem = ask(busy, status=422, **body)
        assert [told["pointer"] for told in problem["errors"]] == pointers
        assert {told["code"] for told in problem["errors"]} == {"twice"}
    demands = [one, {**one, "site": mill}, {**one, "item": idle}]
    assert ask(busy, status=422, demands=demands)["errors"][0]["pointer"] == "#/demands/2/item"
    assert ask(busy, status=422, transits=[{"site": north, "days": "1"}, {"site": south, "days": "1"}])["errors"]


def test_a_site_that_is_not_granted_is_not_there(busy):
    stores = Hand(busy.cast.client("stores"))
    body = {"budget": EUR, "sites": [str(busy.north.pk), str(busy.mill.pk)]}
    assert stores.post("network-targets", body, status=404)["code"] == "not-found"
    reader = Hand(busy.cast.client("reader"))
    assert reader.post("network-targets", {"budget": EUR}, status=403)["code"] == "not-allowed"
    only_north = stores.post("network-targets", {"budget": EUR, "central_store": str(busy.north.pk)})
    assert [one["site_code"] for one in only_north["sites"]] == ["north"]


def test_what_moves_fast_is_not_planned_unit_by_unit(busy):
    fast = [{"site": str(busy.north.pk), "item": str(busy.shelves.kit.pk), "a_month": "900"}]
    problem = ask(busy, demands=fast, status=422)
    assert problem["code"] == "too-many-to-plan"
    assert "K-100 A" in problem["detail"]


def test_an_availability_out_of_reach_names_the_highest(busy, monkeypatch):
    monkeypatch.setattr(network_target, "DEVIATIONS", -2.0)
    problem = ask(busy, availability="0.99999", pumps=1, status=422)
    assert problem["code"] == "availability-not-reached"
    assert 0.5 < float(problem["highest"]) < 0.99999


def test_many_sites_are_read_as_each_alone(busy):
    put_on_shelf(busy.cast.by("stores"), busy.north, busy.shelves.kit, 4, lot="N-2")
    put_on_shelf(busy.cast.by("chief"), busy.mill, busy.shelves.bearing, 4, lot="B-2", cured=None)
    claim(busy.cast, busy.shelves, busy.north, 9, quantity=2)
    claim(busy.cast, busy.shelves, busy.mill, 9, quantity=2, hard=True)
    propose(busy.cast, busy.shelves)
    busy.planner.post(
        "transfers",
        {
            "from_site": str(busy.mill.pk), "to_site": str(busy.north.pk), "override_reason": "a test",
            "lines": [{"item": str(busy.shelves.kit.pk), "quantity": "2"}],
        },
        status=201,
    )  # fmt: skip
    together, _ = network_pictures([busy.north.pk, busy.south.pk, busy.mill.pk], as_of=TODAY, since=TODAY - HISTORY)
    for site in (busy.north, busy.south, busy.mill):
        alone = stock_pictures(site.pk, as_of=TODAY, since=TODAY - HISTORY)
        here = sorted((one for (at, _), one in together.items() if at == site.pk), key=lambda one: one.number)
        assert here == alone


def statements(network):
    with CaptureQueriesContext(connection) as captured:
        ask(network)
    return len([one for one in captured.captured_queries if not one["sql"].startswith(("SAVEPOINT", "RELEASE"))])


def test_many_sites_and_items_make_as_many_statements_as_few(busy):
    busy.planner.get("me")
    few = statements(busy)
    assert few == 19
    for number in range(6):
        site = make_site(f"works-{number}")
        say_days(busy.south, site, 2)
        busy.cast.people["planner-of-all"].grants.create(role="stores", site=site)
        used(busy, site, another_kit(busy, f"K-7{number}"), every=150, left=1)
    assert statements(busy) == few


def test_prices_are_the_cheapest_terms(busy):
    other = type(busy.shelves.supplier).objects.create(code="lund", name="Lund")
    SupplierTerms.objects.create(
        supplier=other, item=busy.shelves.kit, lead_time_days=70, price=Decimal(150), currency="EUR"
    )
    one = ask(busy)["items"][0]
    assert (one["price"], one["lead_time_days"]) == ("150", "70")


def test_parts_are_planned_where_they_are_named(busy):
    part = make_part("SEAL-9")
    SupplierTerms.objects.create(
        supplier=busy.shelves.supplier, item=part, lead_time_days=20, price=Decimal(40), currency="EUR"
    )
    used(busy, busy.north, part, every=70)
    ServiceTarget.objects.all().delete()
    assert [one["number"] for one in ask(busy)["items"]] == ["K-100"]
    assert [one["number"] for one in ask(busy, items=[str(part.pk)])["items"]] == ["SEAL-9"]
