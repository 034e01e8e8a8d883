"""The ledger: balances are the sums of movements, whatever is tried."""

import datetime
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.utils import timezone

from kits.models import Balance, Movement
from kits.operations.corrections import reverse_movement
from kits.operations.stock_entries import StockEntry, record_entry
from kits.queries.movements import ledger_differences
from kits.refusals import AlreadyReversed, CureDateMissing, InsufficientStock, LotsDiffer
from services.api.refusals import InvalidValue, NotAllowed, NotThere
from tests.shelves import make_kit, make_part, put_on_shelf

pytestmark = pytest.mark.django_db
NOW = timezone.now()


def entry(cast, shelves, kind="issue", quantity="1", **more):
    fields = {
        "kind": kind,
        "site_id": cast.north.pk,
        "item_id": shelves.kit.pk,
        "lot": "L-1",
        "quantity": Decimal(quantity),
        "occurred_at": NOW,
        "reason": "a test",
        **more,
    }
    return StockEntry(**fields)


def on_hand(condition="usable"):
    return {one.bin.code: one.on_hand for one in Balance.objects.filter(condition=condition).select_related("bin")}


def test_a_balance_is_the_sum_of_its_movements(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    record_entry(by=cast.by("stores"), entry=entry(cast, shelves))
    assert on_hand() == {"MAIN": 2}
    assert ledger_differences() == []
    call_command("verify_ledger")


def test_verify_ledger_reports_a_balance_that_was_tampered_with(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    Balance.objects.update(on_hand=5)
    with pytest.raises(CommandError, match="1 of 1 balances differ"):
        call_command("verify_ledger")


@pytest.mark.parametrize(
    "sql", ["UPDATE kits_movement SET quantity = 9", "DELETE FROM kits_movement", "TRUNCATE kits_movement CASCADE"]
)
def test_a_movement_is_never_changed_or_removed(cast, shelves, sql):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            cursor.execute(sql)


def test_no_balance_falls_below_zero(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    with pytest.raises(InsufficientStock) as refused, transaction.atomic():
        record_entry(by=cast.by("stores"), entry=entry(cast, shelves, quantity="2"))
    assert refused.value.problems[0].pointer == "#/quantity"
    assert on_hand() == {"MAIN": 1}


def test_the_database_itself_keeps_balances_above_zero(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    with pytest.raises(IntegrityError, match="balance_is_not_negative"), transaction.atomic():
        Balance.objects.update(on_hand=-1)


def test_a_reversal_brings_the_stock_back_and_names_what_it_reverses(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    taken = record_entry(by=cast.by("stores"), entry=entry(cast, shelves))[0]
    undone = reverse_movement(by=cast.by("stores"), movement_id=taken.pk, reason="wrong kit")
    assert [(one.reverses_id, one.quantity) for one in undone] == [(taken.pk, Decimal(1))]
    assert on_hand() == {"MAIN": 3}
    with pytest.raises(AlreadyReversed), transaction.atomic():
        reverse_movement(by=cast.by("stores"), movement_id=taken.pk, reason="again")
    with pytest.raises(AlreadyReversed), transaction.atomic():
        reverse_movement(by=cast.by("stores"), movement_id=undone[0].pk, reason="of the reversal")


def test_a_move_between_bins_is_reversed_on_both_sides(cast, shelves):
    cast.north.bins.create(code="B-2")
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    moved = record_entry(by=cast.by("stores"), entry=entry(cast, shelves, kind="bin-move", quantity="2", to_bin="B-2"))
    assert on_hand() == {"MAIN": 1, "B-2": 2}
    reverse_movement(by=cast.by("stores"), movement_id=moved[0].pk, reason="wrong bin")
    assert on_hand() == {"MAIN": 3, "B-2": 0}


def test_what_is_quarantined_is_no_longer_usable(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    record_entry(by=cast.by("stores"), entry=entry(cast, shelves, kind="condition-change", condition="quarantined"))
    assert (on_hand(), on_hand("quarantined")) == ({"MAIN": 2}, {"MAIN": 1})


def test_an_ageing_item_needs_a_cure_date_and_a_plain_one_does_not(cast, shelves):
    with pytest.raises(CureDateMissing) as refused, transaction.atomic():
        record_entry(by=cast.by("stores"), entry=entry(cast, shelves, kind="receipt", lot="NEW"))
    assert refused.value.problems[0].pointer == "#/cure_date"
    record_entry(
        by=cast.by("stores"), entry=entry(cast, shelves, kind="receipt", item_id=shelves.bearing.pk, lot="NEW")
    )
    assert on_hand() == {"MAIN": 1}


def test_one_lot_number_means_one_lot(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    with pytest.raises(LotsDiffer), transaction.atomic():
        put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, cured=datetime.date(2025, 1, 1))


def test_a_kit_ages_with_its_earliest_part(cast, shelves):
    """ISO 2230:2002, groups B (7 years) and C (10 years): the NBR part decides."""
    nitrile = make_part("OR-NBR", category="o-ring", elastomers=("NBR",), group="B")

    kit = make_kit("K-200", [("casing-o-ring", shelves.o_ring), ("cover-gasket", nitrile)])
    lot = put_on_shelf(cast.by("stores"), cast.north, kit, 1, cured=datetime.date(2021, 9, 30))
    assert lot.expires_on == datetime.date(2028, 9, 30)


def test_zero_and_negative_quantities_are_refused_with_the_field(cast, shelves):
    for quantity in ("0", "-1"):
        with pytest.raises(InvalidValue) as refused, transaction.atomic():
            record_entry(by=cast.by("stores"), entry=entry(cast, shelves, quantity=quantity))
        assert refused.value.problems[0].pointer == "#/quantity"


def test_only_stores_may_touch_the_shelf_and_strangers_know_of_nothing(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1)
    with pytest.raises(NotAllowed), transaction.atomic():
        record_entry(by=cast.by("fitter"), entry=entry(cast, shelves))
    with pytest.raises(NotThere), transaction.atomic():
        record_entry(by=cast.by("stranger"), entry=entry(cast, shelves))
    assert Movement.objects.count() == 1


def test_the_api_records_lists_and_reverses(cast, shelves):
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 3)
    client = cast.client("stores")
    body = {"kind": "scrap", "site": str(cast.north.pk), "item": str(shelves.kit.pk), "lot": "L-1", "quantity": "1"}
    missing = client.post("/api/v1/stock-movements", body, format="json", headers={"Idempotency-Key": "k0"})
    assert missing.status_code == 422
    assert missing.json()["errors"][0]["pointer"] == "#/reason"
    body["reason"] = "bag torn"
    first = client.post("/api/v1/stock-movements", body, format="json", headers={"Idempotency-Key": "k1"})
    again = client.post("/api/v1/stock-movements", body, format="json", headers={"Idempotency-Key": "k1"})
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert again.headers["Idempotency-Replayed"] == "true"
    listed = client.get("/api/v1/stock-movements?kind=scrap").json()["results"]
    assert [one["quantity"] for one in listed] == ["-1"]
    undone = client.post(
        f"/api/v1/stock-movements/{listed[0]['id']}/reverse",
        {"reason": "the bag was whole"},
        format="json",
        headers={"Idempotency-Key": "k2"},
    )
    assert undone.status_code == 201, undone.content
    balances = client.get(f"/api/v1/stock-balances?site={cast.north.pk}").json()["results"]
    assert [(one["item_number"], one["on_hand"]) for one in balances] == [("K-100", "3")]
    assert cast.client("stranger").get("/api/v1/stock-balances").json()["results"] == []
