"""What a site should count when, how often, and what was found missing in between."""

import datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Balance, CountSettings, Item, StockDiscrepancy
from kits.queries.movements import ledger_differences
from tests.shelves import fill_catalogue, make_part, put_on_shelf

pytestmark = pytest.mark.django_db


@pytest.fixture
def shelves(cast):
    found = fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, found.kit, 5, lot="K-1")
    put_on_shelf(cast.by("stores"), cast.north, found.bearing, 8, lot="B-1", cured=None)
    return found


def plan(hand, cast, who="stores", days=60):
    until = timezone.now().date() + datetime.timedelta(days=days)
    return hand[who].get(f"sites/{cast.north.pk}/count-plan?until={until}")


def planned(hand, cast, item, **more):
    return next((one for one in plan(hand, cast, **more)["planned"] if one["item"] == str(item.pk)), None)


def issue(hand, cast, item, quantity, lot):
    body = {"kind": "issue", "site": str(cast.north.pk), "item": str(item.pk), "lot": lot, "quantity": str(quantity)}
    hand["stores"].post("stock-movements", body | {"reason": "used"}, status=201)


def test_what_is_used_most_by_value_is_counted_most_often(cast, shelves, hand):
    issue(hand, cast, shelves.kit, 1, "K-1")
    found = plan(hand, cast)
    assert (found["items"], found["counts_a_year"], found["counts_a_day"]) == (
        {"A": 1, "B": 0, "C": 1}, {"A": 12, "B": 0, "C": 1}, 1,
    )  # fmt: skip
    first, second = found["planned"]
    assert (first["number"], first["class"], first["reasons"]) == ("K-100", "A", ["never counted here"])
    assert (second["number"], second["class"]) == ("BRG-40", "C")
    assert first["planned_on"] < second["planned_on"]


def test_what_is_vital_is_never_below_b(cast, shelves, hand):
    Item.objects.filter(pk=shelves.bearing.pk).update(criticality="vital")
    found = planned(hand, cast, shelves.bearing)
    assert (found["class"], "vital" in found["class_because"]) == ("B", True)


def test_what_was_counted_is_due_after_its_share_of_the_year(cast, shelves, hand):
    today = timezone.now().date()
    Balance.objects.filter(item=shelves.bearing).update(counted_at=timezone.now() - datetime.timedelta(days=360))
    found = planned(hand, cast, shelves.bearing)
    assert found["last_counted_on"] == (today - datetime.timedelta(days=360)).isoformat()
    assert found["due_on"] == (today + datetime.timedelta(days=5)).isoformat()
    Balance.objects.filter(item=shelves.bearing).update(counted_at=timezone.now())
    assert planned(hand, cast, shelves.bearing) is None


def test_what_came_after_a_count_is_no_reason_to_count_but_a_shelf_left_out_is(cast, shelves, hand):
    Balance.objects.filter(item=shelves.bearing).update(counted_at=timezone.now())
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 2, lot="B-2", cured=None)
    assert planned(hand, cast, shelves.bearing) is None
    earlier = timezone.now() - datetime.timedelta(days=9)
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 2, lot="B-0", cured=None, occurred_at=earlier)
    assert planned(hand, cast, shelves.bearing)["reasons"] == ["never counted here"]


def test_a_balance_that_hit_zero_is_counted_at_once_and_stands_on_the_sheet(cast, shelves, hand):
    Balance.objects.update(counted_at=timezone.now())
    issue(hand, cast, shelves.bearing, 8, "B-1")
    found = planned(hand, cast, shelves.bearing, days=7)
    assert found["reasons"][0] == "the balance hit zero"
    until = (timezone.now().date() + datetime.timedelta(days=7)).isoformat()
    body = {"site": str(cast.north.pk), "planned_until": until}
    sheet = hand["stores"].post("counts", body, status=201)
    assert [one["item_number"] for one in sheet["lines"]] == ["BRG-40"]
    hand["stores"].post(f"counts/{sheet['id']}/entries", {"entries": [{"line": 1, "quantity": "0"}]})
    for what in ("submit", "post"):
        hand["stores"].post(f"counts/{sheet['id']}/{what}", seen=f"counts/{sheet['id']}")
    assert planned(hand, cast, shelves.bearing, days=7) is None


def test_what_was_found_missing_is_counted_at_once_and_the_count_answers_it(cast, shelves, hand):
    Balance.objects.update(counted_at=timezone.now())
    assert planned(hand, cast, shelves.kit, days=7) is None
    report = {"site": str(cast.north.pk), "item": str(shelves.kit.pk), "quantity": "1", "reason": "bin was empty"}
    made = hand["fitter"].post("stock-discrepancies", report | {"lot": "K-1"}, status=201)
    assert (made["lot_number"], made["count"]) == ("K-1", None)
    assert planned(hand, cast, shelves.kit, days=7)["reasons"] == ["1 less was found than the book says"]
    assert hand["stores"].get("stock-discrepancies?open=true")["results"][0]["id"] == made["id"]
    sheet = hand["stores"].post("counts", {"site": str(cast.north.pk), "items": [str(shelves.kit.pk)]}, status=201)
    hand["fitter"].post(f"counts/{sheet['id']}/entries", {"entries": [{"line": 1, "quantity": "5"}]})
    for what in ("submit", "post"):
        hand["stores"].post(f"counts/{sheet['id']}/{what}", seen=f"counts/{sheet['id']}")
    assert hand["stores"].get("stock-discrepancies?open=true")["results"] == []
    assert StockDiscrepancy.objects.get().settled_by_id is not None
    assert planned(hand, cast, shelves.kit, days=7) is None


def take(hand, cast, item, quantity, **more):
    body = {"kind": "issue", "site": str(cast.north.pk), "item": str(item.pk), "lot": "K-1", "quantity": str(quantity)}
    return hand["stores"].post(
        "stock-movements", body | {"reason": "taken at night", "happened": True} | more, status=201
    )


def test_an_issue_that_happened_beyond_the_book_is_kept_and_the_rest_is_to_be_counted(cast, shelves, hand):
    made = take(hand, cast, shelves.kit, 7)["movements"]
    assert [(one["kind"], Decimal(one["quantity"])) for one in made] == [("issue", -5)]
    assert Balance.objects.get(item=shelves.kit).on_hand == 0
    assert StockDiscrepancy.objects.get().quantity == 2
    assert take(hand, cast, shelves.kit, 1)["movements"] == []
    assert planned(hand, cast, shelves.kit)["reasons"][0] == "3 less was found than the book says"
    assert ledger_differences() == []


def test_an_issue_that_happened_before_a_count_needs_no_stock_and_leaves_no_discrepancy(cast, shelves, hand):
    before = timezone.now()
    sheet = hand["stores"].post("counts", {"site": str(cast.north.pk), "items": [str(shelves.kit.pk)]}, status=201)
    CountSettings.objects.create(site=cast.north, value_limit=10**6, currency="EUR")
    hand["fitter"].post(f"counts/{sheet['id']}/entries", {"entries": [{"line": 1, "quantity": "0"}]})
    for what in ("submit", "post"):
        hand["stores"].post(f"counts/{sheet['id']}/{what}", seen=f"counts/{sheet['id']}")
    assert len(take(hand, cast, shelves.kit, 5, occurred_at=before.isoformat())["movements"]) == 2
    assert Balance.objects.get(item=shelves.kit).on_hand == 0
    assert not StockDiscrepancy.objects.exists()


def test_a_report_that_cannot_be_is_refused(cast, shelves, hand):
    report = {"site": str(cast.north.pk), "item": str(shelves.kit.pk), "quantity": "1", "reason": "gone"}
    for wrong, pointer in (
        ({"quantity": "0"}, "#/quantity"), ({"lot": "K-?"}, "#/lot"), ({"occurred_at": "2999-01-01T00:00:00Z"},
        "#/occurred_at"),
    ):  # fmt: skip
        refused = hand["fitter"].post("stock-discrepancies", report | wrong, status=422)
        assert refused["errors"][0]["pointer"] == pointer


def patch(hand, cast, who, version, **changes):
    address = f"/api/v1/sites/{cast.north.pk}/count-settings"
    answer = hand[who].client.patch(address, changes, format="json", headers={"If-Match": f'"{version}"'})
    return answer.status_code, answer.json()


def test_a_site_changes_how_often_it_counts_and_who_counts_does_not_choose_the_limit(cast, shelves, hand):
    before = hand["stores"].get(f"sites/{cast.north.pk}/count-settings")
    # 12, 4 and 1 a year: common practice, no source.
    assert [before[f"{letter}_times_a_year"] for letter in "abc"] == [12, 4, 1]
    assert patch(hand, cast, "stores", 1, a_times_a_year=6)[0] == 403
    status, after = patch(hand, cast, "supervisor", 1, a_times_a_year=6, value_limit="250", currency="EUR")
    assert (status, after["a_times_a_year"], Decimal(after["value_limit"])) == (200, 6, 250)
    assert patch(hand, cast, "supervisor", 1, a_times_a_year=5)[0] == 412
    issue(hand, cast, shelves.kit, 1, "K-1")
    assert plan(hand, cast)["counts_a_year"] == {"A": 6, "B": 0, "C": 1}


def test_classes_are_not_counted_the_wrong_way_round_and_a_limit_has_a_currency(cast, hand):
    status, refused = patch(hand, cast, "admin", 1, a_times_a_year=2)
    assert (status, refused["errors"][0]["pointer"]) == (422, "#/a_times_a_year")
    status, refused = patch(hand, cast, "admin", 1, value_limit="5")
    assert (status, refused["errors"][0]["pointer"]) == (422, "#/currency")


def test_asking_for_the_plan_costs_the_same_for_many_items(cast, shelves, hand, django_assert_num_queries):
    plan(hand, cast)
    for number in range(12):
        put_on_shelf(cast.by("stores"), cast.north, make_part(f"X-{number}"), 1, lot="X", cured=None)
    with django_assert_num_queries(8):
        assert len(plan(hand, cast)["planned"]) == 14


def test_a_day_that_cannot_be_asked_for_is_refused(cast, hand):
    for until in ("2020-01-01", "2999-01-01", "soon"):
        hand["stores"].get(f"sites/{cast.north.pk}/count-plan?until={until}", status=400)
    hand["stranger"].get(f"sites/{cast.north.pk}/count-plan", status=404)
