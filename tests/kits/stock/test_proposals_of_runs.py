"""What a night's run proposes: to buy, to borrow, together with others; and what makes it change its mind."""

from decimal import Decimal

import pytest
from django.db import transaction

from kits.calculations.site_plan import plan_site
from kits.models import (
    LearnedLeadTime,
    Lot,
    Order,
    OrderLine,
    Proposal,
    ReplenishmentLevel,
    Supplier,
    SupplierTerms,
    Transfer,
    TransitTime,
)
from kits.operations.automatic_approval import approve_within_limits
from kits.operations.replenishment import replenish_site
from kits.queries.site_stock import site_stock
from services.changes.models import Change
from tests.nights import NOW, TODAY, claim, days, decide, receive, run, steady_use, terms
from tests.overhauls import Hand
from tests.shelves import make_kit
from tests.world import make_principal

pytestmark = pytest.mark.django_db


class TestLeadTimes:
    def learned(self, shelves, mean, spread, received=6):
        return LearnedLeadTime.objects.create(
            supplier=shelves.supplier, item=shelves.kit, mean_days=mean, sd_days=spread, received=received,
            received_of_supplier=received, weight_of_item=Decimal("0.6"), weight_of_supplier=0,
            weight_of_agreed=Decimal("0.4"), source="blended", agreed_days=42, agreed_sd_days=9, words="", as_of=TODAY,
        )  # fmt: skip

    def test_what_receipts_showed_counts_more_than_what_was_agreed(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        self.learned(shelves, 70, 20)
        run(cast)
        made = Proposal.objects.get()
        assert made.working["lead_time"]["days"] == "70"
        assert made.working["lead_time"]["agreed_days"] == "42"
        assert made.expected_on == days(70)
        assert "The terms say 42 days; 6 receipts were heard as well." in made.words

    def test_a_lead_time_that_moves_by_hours_writes_no_level_anew(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        kept = self.learned(shelves, 70, 20)
        run(cast)
        LearnedLeadTime.objects.filter(pk=kept.pk).update(mean_days=Decimal("70.4"))
        assert run(cast)["levels_changed"] == 0
        LearnedLeadTime.objects.filter(pk=kept.pk).update(mean_days=Decimal("71.2"))
        assert run(cast)["levels_changed"] == 1

    def test_what_is_long_past_due_is_left_out_and_said(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        order = Order.objects.create(number="O-8", site=cast.north, supplier=shelves.supplier, state="sent")
        OrderLine.objects.create(
            order=order, line=1, item=shelves.kit, quantity=9, expected_on=days(-40), price=1, currency="EUR"
        )
        run(cast)
        made = Proposal.objects.get()
        assert made.working["position"]["on_order"] == "0"
        assert "Not counted on any more: 9 on order O-8 (40 days past due)." in made.words
        assert "late-receipts-left-out" in [one["code"] for one in made.warnings]

    def test_a_transfer_that_never_came_is_left_out_and_said(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        TransitTime.objects.create(from_site=cast.south, to_site=cast.north, days=3, cost=60, currency="EUR")
        receive(cast, shelves.kit, 9, "SOUTH", site=cast.south)
        cast.people["both"] = make_principal("both", ("stores", cast.north), ("stores", cast.south))
        body = {
            "from_site": str(cast.south.pk), "to_site": str(cast.north.pk), "override_reason": "a test",
            "lines": [{"item": str(shelves.kit.pk), "quantity": "9"}],
        }  # fmt: skip
        Hand(cast.client("both")).post("transfers", body, status=201)
        assert run(cast)["opened"] == 0
        Transfer.objects.update(expected_on=days(-31))
        assert run(cast)["opened"] == 1
        words = Proposal.objects.get().words
        assert f"what transfer {Transfer.objects.get().number} should bring (31 days past due)" in words


class TestTogether:
    def second(self, shelves, **more):
        item = make_kit("K-200", [("casing-o-ring", shelves.o_ring)])
        terms(shelves, item, minimum=1, **more)
        return item

    def test_what_is_nearly_due_joins_an_order_that_goes_out_anyway(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        other = self.second(shelves)
        steady_use(cast, other)
        run(cast)
        level = ReplenishmentLevel.objects.get(item=other)
        Proposal.objects.all().delete()
        receive(cast, other, level.reorder_point + 1, "NEAR", ago=1)
        run(cast)
        joined = Proposal.objects.get(item=other)
        assert joined.working["quantity"] == 0
        assert joined.working["consolidation"]["joined"] == joined.quantity
        assert "It joins an order that goes out anyway" in joined.words
        Proposal.objects.all().delete()
        SupplierTerms.objects.filter(item=shelves.kit).delete()
        assert run(cast)["opened"] == 0

    def test_the_minimum_order_value_is_met_or_waiting_is_said_to_be_better(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        other = self.second(shelves, price="3")
        steady_use(cast, other, left=12)
        Supplier.objects.update(minimum_order_value=900, minimum_order_currency="EUR")
        run(cast)
        made = Proposal.objects.get(item=shelves.kit)
        verdict = made.working["consolidation"]["verdict"]
        assert verdict in {"topped-up", "wait", "below-minimum"}
        if verdict == "topped-up":
            worth = sum((one.quantity * one.price for one in Proposal.objects.all()), Decimal(0))
            assert worth >= 900
        else:
            assert made.warnings
        assert "takes orders from 900.00 EUR" in made.words

    def test_what_joins_stays_proposed_while_the_order_is_not_sent(self, cast, shelves, stores):
        steady_use(cast, shelves.kit, left=1)
        other = self.second(shelves)
        steady_use(cast, other, left=1)
        run(cast)
        level = ReplenishmentLevel.objects.get(item=other)
        Proposal.objects.all().delete()
        receive(cast, other, level.reorder_point, "NEAR", ago=1)
        run(cast)
        decide(stores, Proposal.objects.get(item=shelves.kit), "approve")
        again = run(cast)
        assert (again["withdrawn"], again["opened"]) == (0, 0)
        assert Proposal.objects.get(item=other).state == "open"
        Order.objects.update(state="sent", sent_at=NOW)
        assert run(cast)["withdrawn"] == 1

    def test_what_was_rejected_neither_joins_nor_makes_others_join(self, cast, shelves, stores):
        steady_use(cast, shelves.kit, left=1)
        run(cast)
        decide(stores, Proposal.objects.get(), "reject", {"reason": "pump goes"})
        other = self.second(shelves)
        steady_use(cast, other, left=9)
        ReplenishmentLevel.objects.all().delete()
        assert run(cast)["opened"] == 0

    def test_what_warns_of_nothing_is_approved_within_the_automatic_limit(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        run(cast)
        Hand(cast.client("chief")).post(
            "approval-limits", {"role": "automatic", "currency": "EUR", "limit": "5000.00"}, status=201
        )
        Proposal.objects.update(working={"warnings": [{"code": "short-history", "words": ""}]})
        assert approve_within_limits(cast.north.pk)["approved_automatically"] == 0
        Proposal.objects.all().delete()
        run(cast)
        assert approve_within_limits(cast.north.pk)["approved_automatically"] == 1
        assert Order.objects.get(lines__proposals__state="approved").supplier_id == shelves.supplier.pk


class TestStaying:
    def opened(self, cast, shelves, left=1, on=TODAY):
        steady_use(cast, shelves.kit, left=left)
        run(cast, on)
        return Proposal.objects.get()

    def test_inside_the_freeze_another_quantity_changes_nothing(self, cast, shelves):
        made = self.opened(cast, shelves)
        Proposal.objects.update(quantity=40)
        assert run(cast, days(2))["renewed"] == 0
        assert run(cast, days(3))["renewed"] == 1
        assert Proposal.objects.get().quantity == made.quantity

    def test_jobs_that_go_short_change_it_at_once(self, cast, shelves):
        self.opened(cast, shelves)
        claim(cast, shelves.kit, 10, quantity=9)
        assert run(cast)["renewed"] == 1
        made = Proposal.objects.get()
        assert made.firm_shortage
        assert Change.objects.get(kind="proposal.renewed", body__why="jobs go short").noun_id == made.pk

    def test_what_is_no_longer_needed_is_withdrawn_at_once(self, cast, shelves):
        self.opened(cast, shelves)
        receive(cast, shelves.kit, 20, "NEW", ago=0)
        assert run(cast)["withdrawn"] == 1
        assert Proposal.objects.get().state == "withdrawn"

    def test_an_edited_quantity_stands_until_jobs_go_short(self, cast, shelves, stores):
        made = self.opened(cast, shelves)
        path = f"replenishment-proposals/{made.pk}"
        answer = stores.patch(path, {"quantity": "40"}, seen=path)
        assert (answer["quantity"], answer["edited_by_name"]) == ("40", "Stores")
        assert run(cast, days(10))["renewed"] == 0
        claim(cast, shelves.kit, 10, quantity=60)
        assert run(cast, days(0))["renewed"] == 1
        made.refresh_from_db()
        assert made.quantity > 40
        assert made.edited_by is None

    def test_another_supplier_or_price_is_proposed_once_the_freeze_is_over(self, cast, shelves):
        self.opened(cast, shelves)
        SupplierTerms.objects.update(price=Decimal(190))
        assert run(cast, days(2))["renewed"] == 0
        assert run(cast, days(3))["renewed"] == 1
        assert Proposal.objects.get().price == Decimal(190)
        other = Supplier.objects.create(code="fell", name="Fell Seals")
        SupplierTerms.objects.update(supplier=other)
        assert run(cast, days(6))["renewed"] == 1
        assert Proposal.objects.get().supplier_id == other.pk
        told = Change.objects.filter(kind="proposal.renewed").order_by("id").values_list("body__why", flat=True)
        assert list(told) == ["another price", "another source"]

    def test_what_was_put_off_is_shown_at_once_when_jobs_go_short(self, cast, shelves, stores):
        # A month that ends meanwhile would bring figures of its own.
        first = next(one for one in range(5) if days(one).month == days(one + 4).month)
        made = self.opened(cast, shelves, on=days(first))
        decide(stores, made, "snooze", {"until": days(20).isoformat()})
        assert run(cast, days(first + 4))["renewed"] == 0
        claim(cast, shelves.kit, 10, quantity=9)
        assert run(cast, days(first + 4))["renewed"] == 1
        made.refresh_from_db()
        assert (made.state, made.holds_until) == ("open", None)

    def test_a_rejection_holds_unless_jobs_go_short(self, cast, shelves, stores):
        made = self.opened(cast, shelves)
        stores.post(
            f"replenishment-proposals/{made.pk}/reject",
            {"reason": "pump goes"},
            seen=f"replenishment-proposals/{made.pk}",
        )
        assert run(cast, days(1))["opened"] == 0
        claim(cast, shelves.kit, 10, quantity=9)
        assert run(cast, days(1))["opened"] == 1

    def test_a_kept_level_holds_within_a_point_of_service(self, cast, shelves):
        steady_use(cast, shelves.kit, left=1)
        run(cast)
        level = ReplenishmentLevel.objects.get()
        with transaction.atomic():
            levels = plan_site(site_stock(cast.north.pk, TODAY).figures).levels
        assert levels.band_from[0] <= level.reorder_point <= levels.band_to[0]
        far = int(levels.band_to[0]) + 1
        ReplenishmentLevel.objects.update(reorder_point=far)
        assert run(cast)["levels_changed"] == 1
        level.refresh_from_db()
        assert level.reorder_point == levels.lowest[0]
        assert ReplenishmentLevel.objects.get().version > 1


def two_sites(cast, shelves, *, there, days_under_way=3):
    """One left here; so many there, where nothing was ever needed."""
    steady_use(cast, shelves.kit, left=1)
    receive(cast, shelves.kit, there, "SOUTH", site=cast.south)
    replenish_site(by=None, site_id=cast.south.pk, as_of=TODAY)
    if days_under_way is not None:
        TransitTime.objects.create(
            from_site=cast.south, to_site=cast.north, days=days_under_way, cost=60, currency="EUR"
        )


class TestBorrowing:
    def test_what_lies_idle_elsewhere_is_borrowed_and_the_approval_agrees_on_a_transfer(self, cast, shelves):
        two_sites(cast, shelves, there=30)
        run(cast)
        made = Proposal.objects.get()
        assert (made.kind, made.lender_id) == ("transfer", cast.south.pk)
        assert made.expected_on == days(3)
        cast.people["both"] = make_principal("both", ("stores", cast.north), ("stores", cast.south))
        answer = decide(Hand(cast.client("both")), made, "approve")
        assert (answer["state"], answer["order"]) == ("approved", None)
        transfer = Hand(cast.client("both")).get(f"transfers/{answer['transfer']}")
        assert transfer["lines"][0]["quantity"] == answer["quantity"]
        assert transfer["from_site"] == str(cast.south.pk)
        # On its way it counts as coming, so nothing more is proposed.
        assert run(cast)["opened"] == 0

    def test_somebody_of_one_site_alone_cannot_agree_on_it(self, cast, shelves, stores):
        two_sites(cast, shelves, there=30)
        run(cast)
        made = Proposal.objects.get()
        decide(stores, made, "approve", status=403)
        made.refresh_from_db()
        assert made.state == "open"

    def test_a_waiting_job_is_served_by_who_keeps_its_own_reorder_point(self, cast, shelves):
        two_sites(cast, shelves, there=5)
        ReplenishmentLevel.objects.filter(site=cast.south).update(reorder_point=1, order_quantity=90)
        claim(cast, shelves.kit, 5, quantity=2)
        ReplenishmentLevel.objects.filter(site=cast.north).delete()
        run(cast)
        made = Proposal.objects.get()
        needed = made.working["reorder_point"] + 1 - int(made.working["position"]["total"])
        assert (made.kind == "transfer") == (needed <= 4)
        ReplenishmentLevel.objects.filter(site=cast.south).update(reorder_point=4)
        Proposal.objects.all().delete()
        run(cast)
        assert Proposal.objects.get().kind == "buy"

    def test_without_a_known_transit_time_it_is_bought_and_told(self, cast, shelves):
        two_sites(cast, shelves, there=30, days_under_way=None)
        run(cast)
        made = Proposal.objects.get()
        assert made.kind == "buy"
        assert "Free elsewhere: south 30" in made.words

    def test_what_would_be_out_of_date_on_arrival_is_no_offer(self, cast, shelves):
        two_sites(cast, shelves, there=30)
        Lot.objects.filter(number="SOUTH").update(expires_on=days(2))
        run(cast)
        assert Proposal.objects.get().kind == "buy"


class TestWhatOtherSitesHave:
    """Free quantities of a site are for who has a role there or sees availability; nothing else of it is for others."""

    def read(self, cast, role, made, more=""):
        return Hand(cast.client(role)).get(f"replenishment-proposals?site={cast.north.pk}{more}")["results"][0]

    def test_who_may_not_know_is_sent_to_stores(self, cast, shelves):
        two_sites(cast, shelves, there=30)
        claim(cast, shelves.kit, 5, quantity=9)
        TransitTime.objects.update(days=200)
        ReplenishmentLevel.objects.filter(site=cast.south).update(order_quantity=90)
        run(cast)
        made = Proposal.objects.get()
        assert "south 30" in made.words
        assert "could-be-borrowed" in [one["code"] for one in made.warnings]
        for role, shown in (("stores", True), ("chief", True), ("fitter", False)):
            assert ("south" in str(self.read(cast, role, made))) == shown
            assert ("south" in str(self.read(cast, role, made, "&fields=words,warnings"))) == shown
            assert ("south" in str(Hand(cast.client(role)).get(f"replenishment-proposals/{made.pk}"))) == shown
        hidden = self.read(cast, "fitter", made, "&fields=words")
        assert list(hidden) == ["words"]
        assert "There may be some at other sites: ask stores." in hidden["words"]

    def test_a_lender_is_named_to_who_may_know_and_its_reorder_point_to_its_own_people(self, cast, shelves):
        two_sites(cast, shelves, there=30)
        run(cast)
        made = Proposal.objects.get()
        named, hidden, own = (self.read(cast, role, made) for role in ("stores", "fitter", "chief"))
        assert (named["lender_code"], hidden["lender_code"], hidden["lender"]) == ("south", None, None)
        assert "south" not in str(hidden)
        assert "reorder_point_there" in own["working"]["source"]
        assert "reorder_point_there" not in named["working"]["source"]


class TestLevelsOverHttp:
    def test_levels_are_read_by_class(self, cast, shelves, stores):
        steady_use(cast, shelves.kit, left=1)
        run(cast)
        level = ReplenishmentLevel.objects.get()
        rows = stores.get(f"replenishment-levels?site={cast.north.pk}&pattern={level.pattern}")["results"]
        assert [(one["item_number"], one["reorder_point"]) for one in rows] == [("K-100", level.reorder_point)]
        assert stores.get("replenishment-levels?pattern=lumpy")["results"] == []
        assert Hand(cast.client("stranger")).get("replenishment-levels")["results"] == []
