"""Limits on what may be approved: by whom, up to which worth, and what replenishment approves by itself."""

import datetime

import pytest
from django.utils import timezone

from kits.models import ApprovalLimit, Order, OrderLine, Proposal
from kits.operations.automatic_approval import approve_within_limits
from kits.operations.replenishment import request_run
from kits.tasks import run_replenishment
from services.changes.models import Change
from services.work.models import BackgroundRun
from tests.kits.stock.test_orders import approve, propose
from tests.overhauls import Hand

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
DAY = datetime.timedelta(days=1)


def limit(role, amount, *, currency="EUR", window=0):
    return ApprovalLimit.objects.create(role=role, currency=currency, limit=amount, window_days=window)


class TestKeepingLimits:
    def test_an_administrator_sets_changes_and_removes_one(self, chief, stores):
        made = chief.post(
            "approval-limits", {"role": "stores", "currency": "EUR", "limit": "500", "window_days": 7}, status=201
        )
        assert stores.get(f"approval-limits/{made['id']}")["limit"] == "500"
        path, seen = f"/api/v1/approval-limits/{made['id']}", {"HTTP_IF_MATCH": '"1"'}
        changed = chief.client.patch(path, {"limit": "800"}, format="json", **seen).json()
        assert (changed["limit"], changed["window_days"], changed["version"]) == ("800", 7, 2)
        assert chief.client.delete(path, HTTP_IF_MATCH='"2"').status_code == 204
        kinds = Change.objects.filter(noun="approval-limit").order_by("id").values_list("kind", flat=True)
        assert [one.split(".")[1] for one in kinds] == ["registered", "changed", "removed"]

    def test_a_role_has_one_limit_a_currency(self, chief):
        body = {"role": "stores", "currency": "EUR", "limit": "500"}
        chief.post("approval-limits", body, status=201)
        assert chief.post("approval-limits", body, status=409)["code"] == "already-there"
        chief.post("approval-limits", body | {"currency": "NOK"}, status=201)

    @pytest.mark.parametrize(
        ("change", "pointer"),
        [
            ({"role": "fitter"}, "#/role"),
            ({"limit": "-1"}, "#/limit"),
            ({"currency": "euro"}, "#/currency"),
            ({"window_days": 400}, "#/window_days"),
        ],
    )
    def test_what_makes_no_sense_is_refused(self, chief, change, pointer):
        body = {"role": "stores", "currency": "EUR", "limit": "500"} | change
        assert chief.post("approval-limits", body, status=422)["errors"][0]["pointer"] == pointer

    @pytest.mark.parametrize("role", ["stores", "admin", "data-owner"])
    def test_nobody_sets_their_own(self, cast, role):
        body = {"role": "stores", "currency": "EUR", "limit": "500"}
        assert Hand(cast.client(role)).post("approval-limits", body, status=403)["code"] == "not-allowed"


class TestApprovingWithinALimit:
    def test_up_to_the_limit_it_goes_through(self, cast, shelves, stores):
        limit("stores", 738)
        assert approve(stores, propose(cast, shelves))["state"] == "approved"

    def test_over_the_limit_it_names_who_may(self, cast, shelves, stores):
        limit("stores", 737)
        proposal = propose(cast, shelves)
        answer = approve(stores, proposal, status=403)
        assert answer["code"] == "over-approval-limit"
        assert (answer["order_value"], answer["limit"], answer["currency"]) == ("738.00", "737.00", "EUR")
        assert answer["may_approve"] == ["Admin (admin)", "Chief (admin)"]
        assert answer["remedy"] == "Ask Admin (admin), Chief (admin) to approve it, or order less."
        proposal.refresh_from_db()
        assert proposal.state == "open"
        assert not Order.objects.exists()
        assert approve(Hand(cast.client("admin")), proposal)["state"] == "approved"

    def test_a_smaller_quantity_may_still_be_approved(self, cast, shelves, stores):
        limit("stores", 400)
        assert approve(stores, propose(cast, shelves), {"quantity": "2"})["quantity"] == "2"

    def test_the_limit_is_on_the_order_and_not_on_the_line(self, cast, shelves, stores):
        limit("stores", 1000)
        approve(stores, propose(cast, shelves))
        answer = approve(stores, propose(cast, shelves, item=shelves.bearing, quantity=2), status=403)
        assert answer["order_value"] == "1107.00"
        assert OrderLine.objects.count() == 1

    def test_orders_within_the_window_add_up(self, cast, shelves, stores):
        limit("stores", 1000, window=7)
        first = approve(stores, propose(cast, shelves))
        stores.post(f"orders/{first['order']}/send", seen=f"orders/{first['order']}")
        again = propose(cast, shelves)
        answer = approve(stores, again, status=403)
        assert (answer["order_value"], "what was ordered there lately" in answer["detail"]) == ("1476.00", True)
        Order.objects.update(created_at=timezone.now() - 8 * DAY)
        assert approve(stores, again)["state"] == "approved"

    def test_what_was_cancelled_does_not_count(self, cast, shelves, stores):
        limit("stores", 1000, window=7)
        first = approve(stores, propose(cast, shelves))
        stores.post(f"orders/{first['order']}/cancel", {"reason": "twice"}, seen=f"orders/{first['order']}")
        assert approve(stores, propose(cast, shelves))["state"] == "approved"

    def test_another_currency_needs_its_own_limit(self, cast, shelves, stores):
        limit("stores", 1000)
        answer = approve(stores, propose(cast, shelves, currency="NOK", quantity=1), status=403)
        assert (answer["limit"], answer["currency"]) == ("0.00", "NOK")

    def test_where_nobody_may_that_is_said(self, cast, shelves, stores):
        limit("stores", 100)
        limit("admin", 200)
        answer = approve(stores, propose(cast, shelves), status=403)
        assert answer["may_approve"] == []
        assert "administrator of the whole operator to raise the limit" in answer["remedy"]

    def test_ordering_by_hand_is_no_way_round(self, cast, shelves, stores):
        limit("stores", 100)
        body = {
            "site": str(cast.north.pk), "supplier": str(shelves.supplier.pk),
            "lines": [{"item": str(shelves.kit.pk), "quantity": "1", "expected_on": TODAY.isoformat(), "price": "184.5",
                       "currency": "EUR"}],
        }  # fmt: skip
        assert stores.post("orders", body, status=403)["code"] == "over-approval-limit"
        assert not Order.objects.exists()


class TestAutomaticApproval:
    def test_it_is_off_until_a_limit_is_set(self, cast, shelves):
        propose(cast, shelves)
        limit("stores", 5000)
        assert approve_within_limits(cast.north.pk)["approved_automatically"] == 0
        assert Proposal.objects.get().state == "open"

    def test_what_is_cheap_and_warns_of_nothing_is_approved_by_itself(self, cast, shelves, stores):
        limit("automatic", 738)
        proposal = propose(cast, shelves)
        assert approve_within_limits(cast.north.pk) == {"approved_automatically": 1, "left_for_people": 0}
        shown = stores.get(f"replenishment-proposals/{proposal.pk}")
        assert (shown["state"], shown["automatic"], shown["decided_by_name"]) == ("approved", True, None)
        assert shown["decision_reason"] == "within the automatic limit"
        order = stores.get(f"orders/{shown['order']}")
        assert (order["state"], order["approved_by_name"], order["lines"][0]["quantity"]) == ("approved", None, "4")
        change = Change.objects.get(kind="proposal.approved")
        assert change.body is not None
        assert (change.by_id, change.body["automatic"]) == (None, True)

    def test_every_automatic_approval_is_listed(self, cast, shelves, stores):
        limit("automatic", 738)
        propose(cast, shelves)
        approve_within_limits(cast.north.pk)
        approve(stores, propose(cast, shelves, item=shelves.bearing))
        listed = stores.get(f"replenishment-proposals?site={cast.north.pk}&automatic=true")["results"]
        assert [one["item_number"] for one in listed] == ["K-100"]
        assert len(stores.get("replenishment-proposals?automatic=false")["results"]) == 1

    def test_the_limit_holds_for_the_order_so_the_rest_is_left_for_people(self, cast, shelves):
        limit("automatic", 1000)
        propose(cast, shelves)
        propose(cast, shelves, item=shelves.bearing)
        assert approve_within_limits(cast.north.pk) == {"approved_automatically": 1, "left_for_people": 1}
        assert OrderLine.objects.count() == 1

    def test_a_dearer_price_counts_for_what_stands_on_the_order_already(self, cast, shelves):
        """Four at 100 and one at 130 make one line of five at 130, the price that holds now: 650."""
        limit("automatic", 600)
        propose(cast, shelves, price=100)
        assert approve_within_limits(cast.north.pk)["approved_automatically"] == 1
        propose(cast, shelves, quantity=1, price=130)
        assert approve_within_limits(cast.north.pk)["left_for_people"] == 1
        ApprovalLimit.objects.update(limit=650)
        assert approve_within_limits(cast.north.pk)["approved_automatically"] == 1

    def test_what_is_too_dear_leaves_no_empty_order(self, cast, shelves):
        limit("automatic", 100)
        propose(cast, shelves)
        assert approve_within_limits(cast.north.pk)["left_for_people"] == 1
        assert not Order.objects.exists()

    @pytest.mark.parametrize(
        "change",
        [
            {"working": {"warnings": ["short-history"]}},
            {"working": {"source": {"alternative": "Two are free at south."}}},
            {"kind": "transfer"},
            {"supplier": None},
            {"state": "snoozed", "holds_until": TODAY + 9 * DAY},
            {"as_of": TODAY + DAY},
            {"currency": "NOK"},
            {"price": 0},
            {"edited_by": "stores"},
        ],
    )
    def test_what_warns_or_waits_is_left_for_people(self, cast, shelves, change):
        limit("automatic", 5000)
        if change.get("kind") == "transfer":
            change = {**change, "lender": cast.south}
        if "edited_by" in change:
            change = {"edited_by": cast.people["stores"]}
        proposal = propose(cast, shelves, **change)
        assert approve_within_limits(cast.north.pk, TODAY)["approved_automatically"] == 0
        proposal.refresh_from_db()
        assert proposal.state != "approved"

    def test_another_site_is_not_touched(self, cast, shelves):
        limit("automatic", 5000)
        propose(cast, shelves, site=cast.south)
        assert approve_within_limits(cast.north.pk)["approved_automatically"] == 0

    def test_a_run_approves_after_it_proposed(self, cast, shelves):
        """What the run does not propose again it withdraws first, so nothing out of date is approved."""
        limit("automatic", 5000)
        outdated = propose(cast, shelves)
        run = request_run(by=cast.by("stores"), site_id=cast.north.pk)
        run_replenishment(str(run))
        done = BackgroundRun.objects.get(pk=run)
        assert done.state == "done"
        assert done.result["approved_automatically"] == 0
        outdated.refresh_from_db()
        assert outdated.state == "withdrawn"
