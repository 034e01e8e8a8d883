"""Stock moves from site to site: agreed on, sent, received, closed short, cancelled."""

import datetime
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, transaction
from django.utils import timezone

from assets.models import Bin, Grant
from kits.models import (
    Lot,
    Movement,
    Reservation,
    ServiceTarget,
    TransferDiscrepancy,
    TransferLot,
    TransitTime,
)
from kits.operations import reservations
from kits.operations.corrections import reverse_movement
from kits.queries.movements import ledger_differences
from kits.queries.transfers import transfer_differences
from kits.refusals import WrongTransferState
from services.changes.models import Change
from tests.overhauls import Hand
from tests.transfers import (
    act,
    agree,
    catalogue_without_targets,
    claim,
    day,
    gather_lenders,
    hands_over,
    lend_from,
    on_hand,
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


def test_goods_leave_are_under_way_in_no_balance_and_arrive_with_their_lot(cast, shelves, hand):
    lend_from(cast, shelves, 2, "YOUNG", dies=400)
    lend_from(cast, shelves, 1, "OLD", dies=50)
    Bin.objects.create(site=cast.north, code="A-04")
    made = agree(hand, cast, shelves, 2)
    assert (made["state"], made["expected_on"], made["currency"]) == ("approved", day(3).isoformat(), "EUR")
    sent = act(hand, "sender", made, "send")
    assert [(one["lot"], one["sent"]) for one in sent["lines"][0]["lots"]] == [("OLD", "1"), ("YOUNG", "1")]
    assert on_hand() == {("south", "MAIN", "YOUNG"): 1}
    got = act(hand, "stores", made, "receive", {"bin": "A-04"})
    assert got["state"] == "received"
    assert on_hand() == {
        ("south", "MAIN", "YOUNG"): 1,
        ("north", "A-04", "OLD"): 1,
        ("north", "A-04", "YOUNG"): 1,
    }
    assert ledger_differences() + transfer_differences() == []
    assert {one.kind for one in Movement.objects.exclude(transfer_line=None)} == {"transfer-out", "transfer-in"}


def test_without_a_transit_time_nothing_is_agreed_on(cast, shelves, hand):
    lend_from(cast, shelves, 2)
    TransitTime.objects.all().delete()
    assert agree(hand, cast, shelves, status=422)["code"] == "no-transit-time"


def test_lots_that_die_on_the_way_or_before_the_job_stay_with_the_lender(cast, shelves, hand):
    lend_from(cast, shelves, 1, "DIES-ON-THE-WAY", dies=2)
    lend_from(cast, shelves, 1, "DIES-BEFORE-THE-JOB", dies=20)
    lend_from(cast, shelves, 1, "LASTS", dies=90)
    made = claim(cast, shelves, cast.north, 30)
    transfer = agree(hand, cast, shelves, reservation=str(made.pk))
    sent = act(hand, "sender", transfer, "send")
    assert [one["lot"] for one in sent["lines"][0]["lots"]] == ["LASTS"]
    act(hand, "stores", transfer, "receive")
    made.refresh_from_db()
    assert made.state == "hard", "the claim it was meant for holds it at once"
    assert ledger_differences() + transfer_differences() == []


def test_reserved_lots_never_leave_and_the_lenders_claim_stays(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    transfer = agree(hand, cast, shelves)
    held = claim(cast, shelves, cast.south, 9, hard=True)
    refused = act(hand, "sender", transfer, "send", status=409)
    assert refused["code"] == "insufficient-stock"
    held.refresh_from_db()
    assert held.state == "hard"


def test_a_lender_that_would_run_short_itself_needs_a_reason(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    claim(cast, shelves, cast.south, 20)
    refused = agree(hand, cast, shelves, status=409)
    assert refused["code"] == "lender-would-run-short"
    assert [one["code"] for one in refused["warnings"]] == ["own-jobs-short"]
    made = agree(hand, cast, shelves, override_reason="their job moves to May")
    assert made["override_reason"] == "their job moves to May"
    assert [one["code"] for one in made["warnings"]] == ["own-jobs-short"]
    seen = hand["stores"].get(f"transfers/{made['id']}")
    assert (seen["warnings"], seen["override_reason"]) == ([], ""), "they tell of the lender's jobs"
    (row,) = hand["stores"].get("transfers?fields=warnings")["results"]
    assert row == {"warnings": []}
    refused = agree(hand, cast, shelves, 5, status=409)
    assert "too-few-free" in {one["code"] for one in refused["warnings"]}


def test_the_lenders_reorder_point_is_a_warning(cast, shelves, hand):
    ServiceTarget.objects.create(criticality=shelves.kit.criticality, fill_rate=Decimal("0.95"), source="a test")
    lend_from(cast, shelves, 3)
    for months in range(1, 13):
        Movement.objects.create(
            kind="issue", site=cast.south, bin=Bin.objects.get(site=cast.south), item=shelves.kit,
            lot=Lot.objects.get(), condition="usable", quantity=-2, by=cast.people["chief"],
            occurred_at=timezone.now() - datetime.timedelta(days=30 * months),
        )  # fmt: skip
    refused = agree(hand, cast, shelves, status=409)
    assert [one["code"] for one in refused["warnings"]] == ["below-reorder-point"]


def test_less_came_and_the_rest_is_recorded_as_missing(cast, shelves, hand):
    lend_from(cast, shelves, 3)
    made = agree(hand, cast, shelves, 3)
    act(hand, "sender", made, "send")
    part = act(hand, "stores", made, "receive", {"lines": [{"line": 1, "lot": "S-1", "quantity": "2"}]})
    assert part["state"] == "part-received"
    closed = act(hand, "stores", made, "close-short", {"reason": "one pack was crushed"})
    assert closed["state"] == "closed-short"
    assert [(one["quantity"], one["reason"]) for one in closed["lines"][0]["discrepancies"]] == [
        ("-1", "one pack was crushed")
    ]
    late = act(hand, "stores", made, "receive", {"lines": [{"line": 1, "lot": "S-1", "quantity": "1"}]})
    assert late["state"] == "closed-short"
    assert sum(TransferDiscrepancy.objects.values_list("quantity", flat=True)) == 0
    assert ledger_differences() + transfer_differences() == []


def test_more_came_than_left(cast, shelves, hand):
    lend_from(cast, shelves, 3)
    made = agree(hand, cast, shelves, 1)
    act(hand, "sender", made, "send")
    got = act(hand, "stores", made, "receive", {"lines": [{"line": 1, "lot": "S-1", "quantity": "2"}]})
    assert (got["state"], got["lines"][0]["received"]) == ("received", "2")
    assert [one["quantity"] for one in got["lines"][0]["discrepancies"]] == ["1"]


def test_less_leaves_than_was_agreed(cast, shelves, hand):
    lend_from(cast, shelves, 3)
    made = agree(hand, cast, shelves, 3)
    sent = act(hand, "sender", made, "send", {"lines": [{"line": 1, "quantity": "1"}]})
    assert sent["lines"][0]["sent"] == "1"
    assert act(hand, "stores", made, "receive")["state"] == "received"


@pytest.mark.parametrize(
    ("what", "body", "pointer"),
    [
        ("send", {"lines": [{"line": 7, "quantity": "1"}]}, "#/lines/0/line"),
        ("send", {"lines": [{"line": 1, "quantity": "9"}]}, "#/lines/0/quantity"),
        ("send", {"lines": [{"line": 1, "quantity": "0"}]}, "#/lines"),
    ],
)
def test_what_cannot_leave_is_refused_with_its_place(cast, shelves, hand, what, body, pointer):
    lend_from(cast, shelves, 3)
    made = agree(hand, cast, shelves, 1)
    assert act(hand, "sender", made, what, body, status=422)["errors"][0]["pointer"] == pointer


def test_what_cannot_arrive_is_refused_with_its_place(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    made = agree(hand, cast, shelves, 1)
    assert act(hand, "stores", made, "receive", status=409)["code"] == "wrong-transfer-state"
    act(hand, "sender", made, "send")
    for line, pointer in (
        ({"line": 9, "lot": "S-1", "quantity": "1"}, "#/lines/0/line"),
        ({"line": 1, "lot": "NONE", "quantity": "1"}, "#/lines/0/lot"),
        ({"line": 1, "lot": "S-1", "quantity": "0"}, "#/lines/0/quantity"),
    ):
        refused = act(hand, "stores", made, "receive", {"lines": [line]}, status=422)
        assert refused["errors"][0]["pointer"] == pointer


def test_what_was_sent_and_came_back_lies_where_it_lay(cast, shelves, hand):
    lend_from(cast, shelves, 2)
    made = agree(hand, cast, shelves, 2)
    act(hand, "sender", made, "send")
    act(hand, "stores", made, "cancel", {"reason": "job put off"}, status=403)
    assert act(hand, "sender", made, "cancel", {"reason": "job put off"})["state"] == "cancelled"
    assert on_hand() == {("south", "MAIN", "S-1"): 2}
    assert ledger_differences() + transfer_differences() == []
    assert act(hand, "sender", made, "send", status=409)["code"] == "wrong-transfer-state"


def test_a_reversed_receipt_is_under_way_again_and_what_left_is_not_reversed_by_itself(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    made = agree(hand, cast, shelves)
    act(hand, "sender", made, "send")
    act(hand, "stores", made, "receive")
    gone, came = Movement.objects.exclude(transfer_line=None).order_by("id")
    reverse_movement(by=cast.by("stores"), movement_id=came.pk, reason="wrong bin")
    assert ledger_differences() + transfer_differences() == []
    assert hand["stores"].get(f"transfers/{made['id']}")["state"] == "sent"
    with pytest.raises(WrongTransferState):
        reverse_movement(by=cast.by("sender"), movement_id=gone.pk, reason="a slip")


def test_who_may_do_what_on_which_side(cast, shelves, hand):
    lend_from(cast, shelves, 2)
    for who in ("sender", "stores", "planner"):
        assert agree(hand, cast, shelves, who=who, status=403)["code"] == "not-allowed"
    agree(hand, cast, shelves, who="nobody", status=404)
    Grant.objects.create(principal=cast.people["both"], role="reader", site=make_site("mill"))
    made = agree(hand, cast, shelves)
    act(hand, "stores", made, "send", status=403)
    act(hand, "sender", made, "send")
    act(hand, "sender", made, "receive", status=403)
    outsider = Hand(cast.client("nobody"))
    outsider.get(f"transfers/{made['id']}", status=404)
    assert outsider.get("transfers")["results"] == []
    assert [one["id"] for one in hand["stores"].get("transfers")["results"]] == [made["id"]]
    assert [one["id"] for one in hand["stranger"].get(f"transfers?from_site={cast.south.pk}")["results"]] == [
        made["id"]
    ]
    sites = set(Change.objects.filter(kind="transfer.sent").values_list("site_id", flat=True))
    assert sites == {cast.north.pk, cast.south.pk}


def test_a_retry_makes_no_second_transfer_and_a_decision_is_made_on_what_was_seen(cast, shelves, hand):
    lend_from(cast, shelves, 2)
    made = agree(hand, cast, shelves)
    path = f"/api/v1/transfers/{made['id']}"
    client = hand["sender"].client
    headers = {"If-Match": client.get(path).headers["ETag"], "Idempotency-Key": "once"}
    first = client.post(f"{path}/send", {}, format="json", headers=headers)
    again = client.post(f"{path}/send", {}, format="json", headers=headers)
    assert (first.status_code, first.json()) == (again.status_code, again.json()) == (200, first.json())
    assert Movement.objects.filter(kind="transfer-out").count() == 1
    stale = client.post(f"{path}/cancel", {"reason": "x"}, format="json", headers={"If-Match": headers["If-Match"]})
    assert stale.status_code == 412


def test_a_claim_that_is_none_is_refused(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    other = claim(cast, shelves, cast.south, 9)
    refused = agree(hand, cast, shelves, reservation=str(other.pk), status=422)
    assert refused["errors"][0]["pointer"] == "#/reservation"
    assert Reservation.objects.get().state == "soft"


def test_transit_times_are_kept_by_the_data_owner_and_seen_at_both_ends(cast, shelves, hand):
    owner = Hand(cast.client("data-owner"))
    body = {"from_site": str(cast.north.pk), "to_site": str(cast.south.pk), "days": 4, "cost": "9", "currency": "EUR"}
    made = owner.post("transit-times", body, status=201)
    assert owner.post("transit-times", body, status=409)["code"] == "already-there"
    for change, pointer in (
        ({"to_site": str(cast.north.pk)}, "#/to_site"),
        ({"from_site": made["id"]}, "#/from_site"),
        ({"cost": "-1"}, "#/cost"),
        ({"currency": "euro"}, "#/currency"),
    ):
        assert owner.post("transit-times", body | change, status=422)["errors"][0]["pointer"] == pointer
    assert len(hand["stores"].get("transit-times")["results"]) == 2
    assert hand["nobody"].get("transit-times")["results"] == []


def test_a_cancelled_jobs_day_no_longer_keeps_lots_back(cast, shelves, hand):
    lend_from(cast, shelves, 1, "SHORT", dies=20)
    made = claim(cast, shelves, cast.north, 30)
    transfer = agree(hand, cast, shelves, reservation=str(made.pk), override_reason="it comes later")
    assert act(hand, "sender", transfer, "send", status=409)["passed_over"][0]["lot"] == "SHORT"
    reservations.release(by=cast.by("chief"), job_id=made.job_id)
    assert act(hand, "sender", transfer, "send")["state"] == "sent"


def test_the_ledger_check_names_a_transfer_that_was_tampered_with(cast, shelves, hand):
    lend_from(cast, shelves, 2)
    made = agree(hand, cast, shelves, 2)
    act(hand, "sender", made, "send")
    call_command("verify_ledger")
    TransferLot.objects.update(sent=1)
    with pytest.raises(CommandError, match="1 lots of transfers differ"):
        call_command("verify_ledger")


def test_a_recorded_discrepancy_is_never_changed(cast, shelves, hand):
    lend_from(cast, shelves, 1)
    made = agree(hand, cast, shelves)
    act(hand, "sender", made, "send")
    act(hand, "stores", made, "close-short", {"reason": "lost at sea"})
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        TransferDiscrepancy.objects.update(reason="never happened")
