"""Orders and decisions: a proposal becomes a line, goods come in parts, a retry makes no second order."""

import datetime
from decimal import Decimal

import pytest
from django.utils import timezone

from kits.models import Balance, Order, Proposal
from kits.operations.corrections import reverse_movement
from kits.queries.movements import ledger_differences
from tests.overhauls import Hand

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()


def propose(cast, shelves, **changes):
    fields = {
        "site": cast.north,
        "item": shelves.kit,
        "supplier": shelves.supplier,
        "quantity": Decimal(4),
        "price": Decimal("184.5"),
        "currency": "EUR",
        "expected_on": TODAY + datetime.timedelta(days=42),
        "working": {"why": "a test"},
        "words": "One sentence.\nAnother.",
        "as_of": TODAY,
    }
    return Proposal.objects.create(**(fields | changes))


def approve(stores, proposal, body=None, status=200):
    path = f"replenishment-proposals/{proposal.pk}"
    return stores.post(f"{path}/approve", body, seen=path, status=status)


def receive(stores, order_id, quantity, lot="L-9", status=200, **more):
    line = {"line": 1, "quantity": quantity, "lot": lot, "cure_date": "3Q2026"} | more
    return stores.post(f"orders/{order_id}/receive", {"lines": [line]}, seen=f"orders/{order_id}", status=status)


def test_what_waited_for_a_decision_is_expected_a_lead_time_after_it(cast, shelves, stores):
    lead_time, waited = datetime.timedelta(days=7), datetime.timedelta(days=20)
    made = TODAY - waited
    order = approve(stores, propose(cast, shelves, as_of=made, expected_on=made + lead_time))["order"]
    assert stores.get(f"orders/{order}")["lines"][0]["expected_on"] == (TODAY + lead_time).isoformat()


def test_approving_makes_an_order_and_receiving_in_two_parts_brings_the_stock_back(cast, shelves, stores):
    decided = approve(stores, propose(cast, shelves))
    assert decided["state"] == "approved"
    order = stores.get(f"orders/{decided['order']}")
    assert (order["state"], order["lines"][0]["quantity"]) == ("approved", "4")
    stores.post(f"orders/{order['id']}/send", {"erp_number": "4711"}, seen=f"orders/{order['id']}")
    assert receive(stores, order["id"], "2")["state"] == "part-received"
    assert receive(stores, order["id"], "2")["state"] == "received"
    balance = Balance.objects.get()
    assert (balance.on_hand, balance.lot.expires_on) == (Decimal(4), datetime.date(2036, 9, 30))
    assert ledger_differences() == []


def test_a_second_proposal_for_the_supplier_joins_the_unsent_order(cast, shelves, stores):
    first = approve(stores, propose(cast, shelves))
    second = approve(stores, propose(cast, shelves))
    assert first["order"] == second["order"]
    assert stores.get(f"orders/{first['order']}")["lines"][0]["quantity"] == "8"


def test_a_decision_is_made_once_and_on_what_was_seen(cast, shelves, stores):
    proposal = propose(cast, shelves)
    path = f"replenishment-proposals/{proposal.pk}"
    stale = stores.client.get(f"/api/v1/{path}").headers["ETag"]
    Proposal.objects.update(words="Another working.")
    headers = {"If-Match": stale, "Idempotency-Key": "k"}
    refused = stores.client.post(f"/api/v1/{path}/approve", {}, format="json", headers=headers)
    assert (refused.status_code, refused.json()["code"]) == (412, "version-changed")
    approve(stores, proposal)
    assert approve(stores, proposal, status=409)["code"] == "proposal-decided"
    assert Order.objects.count() == 1


def test_without_if_match_nothing_is_decided(cast, shelves, stores):
    proposal = propose(cast, shelves)
    refused = stores.post(f"replenishment-proposals/{proposal.pk}/approve", status=428)
    assert refused["code"] == "version-missing"


def test_a_retry_of_the_approval_gets_the_same_answer_and_no_second_order(cast, shelves, stores):
    proposal = propose(cast, shelves)
    path = f"/api/v1/replenishment-proposals/{proposal.pk}"
    headers = {"If-Match": stores.client.get(path).headers["ETag"], "Idempotency-Key": "once"}
    first = stores.client.post(f"{path}/approve", {}, format="json", headers=headers)
    again = stores.client.post(f"{path}/approve", {}, format="json", headers=headers)
    assert (first.status_code, first.json()) == (again.status_code, again.json())
    assert Order.objects.get().lines.get().quantity == 4


def test_a_rejection_holds_for_thirty_days_and_says_why(cast, shelves, stores):
    proposal = propose(cast, shelves)
    path = f"replenishment-proposals/{proposal.pk}"
    refused = stores.post(f"{path}/reject", {}, seen=path, status=422)
    assert refused["errors"][0]["pointer"] == "#/reason"
    decided = stores.post(f"{path}/reject", {"reason": "pump is replaced"}, seen=path)
    assert decided["holds_until"] == (TODAY + datetime.timedelta(days=30)).isoformat()


def test_snoozing_needs_a_day_ahead(cast, shelves, stores):
    proposal = propose(cast, shelves)
    path = f"replenishment-proposals/{proposal.pk}"
    refused = stores.post(f"{path}/snooze", {"until": TODAY.isoformat()}, seen=path, status=422)
    assert refused["errors"][0]["pointer"] == "#/until"


def test_more_than_was_ordered_is_recorded_as_it_is(cast, shelves, stores):
    order_id = approve(stores, propose(cast, shelves))["order"]
    order = receive(stores, order_id, "5")
    assert (order["state"], order["lines"][0]["received"]) == ("received", "5")


def test_a_line_that_is_not_on_the_order_is_refused_and_nothing_comes_in(cast, shelves, stores):
    order_id = approve(stores, propose(cast, shelves))["order"]
    refused = receive(stores, order_id, "1", line=7, status=422)
    assert refused["errors"][0]["pointer"] == "#/lines/0/line"
    assert Balance.objects.count() == 0


def test_an_ageing_kit_is_not_received_without_its_cure_date(cast, shelves, stores):
    order_id = approve(stores, propose(cast, shelves))["order"]
    body = {"lines": [{"line": 1, "quantity": "1", "lot": "L-9"}]}
    refused = stores.post(f"orders/{order_id}/receive", body, seen=f"orders/{order_id}", status=422)
    assert refused["code"] == "cure-date-missing"


def test_a_reversed_receipt_opens_the_line_again(cast, shelves, stores):
    order_id = approve(stores, propose(cast, shelves))["order"]
    receive(stores, order_id, "4")
    moved = stores.get("stock-movements?kind=receipt")["results"][0]
    reverse_movement(by=cast.by("stores"), movement_id=moved["id"], reason="counted wrong")
    order = stores.get(f"orders/{order_id}")
    assert (order["state"], order["lines"][0]["received"]) == ("approved", "0")
    assert ledger_differences() == []


def test_an_order_is_closed_short_or_cancelled_only_where_that_makes_sense(cast, shelves, stores):
    order_id = approve(stores, propose(cast, shelves))["order"]
    seen = f"orders/{order_id}"
    body = {"reason": "supplier out of stock"}
    assert stores.post(f"{seen}/close-short", body, seen=seen, status=409)["code"] == "wrong-order-state"
    receive(stores, order_id, "1")
    assert stores.post(f"{seen}/cancel", body, seen=seen, status=409)["code"] == "wrong-order-state"
    assert stores.post(f"{seen}/close-short", body, seen=seen)["state"] == "closed-short"


def test_only_stores_decide_and_strangers_see_nothing(cast, shelves):
    proposal = propose(cast, shelves)
    path = f"replenishment-proposals/{proposal.pk}"
    fitter, stranger = Hand(cast.client("fitter")), Hand(cast.client("stranger"))
    fitter.post(f"{path}/approve", seen=path, status=403)
    stranger.get(path, status=404)
    assert stranger.get("replenishment-proposals")["results"] == []
    assert stranger.get("orders")["results"] == []
