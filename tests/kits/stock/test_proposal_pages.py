"""The pages of proposals as a browser without scripts sees them."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone
from django.utils.html import escape

from kits.models import ApprovalLimit, Order, OrderLine, Proposal, ServiceTarget, Supplier
from kits.operations import reservations
from kits.operations.automatic_approval import approve_within_limits
from kits.operations.replenishment import replenish_site
from tests.kits.stock.test_orders import propose
from tests.shelves import make_part, some_job
from tests.worked_proposals import WORDS, WORKING

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
DAY = datetime.timedelta(days=1)


@pytest.fixture
def proposal(cast, shelves):
    return propose(cast, shelves, working=WORKING, words=WORDS)


def page(browser, address="/stores/proposals", status=200):
    answer = browser.get(address)
    assert answer.status_code == status
    return " ".join(answer.content.decode().split())


def act(browser, proposal, what, **fields):
    proposal.refresh_from_db()
    address = f"/stores/proposals/{proposal.pk}"
    return browser.post(f"{address}/{what}", {"version": proposal.version, "back": address, **fields})


class TestTheList:
    def test_it_is_grouped_by_supplier_with_the_order_against_its_minimum(self, cast, shelves, browsers, proposal):
        Supplier.objects.update(minimum_order_value=2000, minimum_order_currency="EUR")
        order = Order.objects.create(number="O-1", site=cast.north, supplier=shelves.supplier)
        OrderLine.objects.create(
            order=order, line=1, item=shelves.bearing, quantity=10, expected_on=TODAY, price=20, currency="EUR"
        )
        shown = page(browsers["stores"])
        assert "Harrow Sealing, in EUR" in shown
        assert "Proposed 738.00 EUR, on the order not sent yet 200.00, together 938.00." in shown
        assert "1062.00 below the minimum order of 2000.00" in shown
        assert "were used in the last 24 whole months" in shown

    def test_a_minimum_that_is_reached_is_said(self, browsers, proposal):
        Supplier.objects.update(minimum_order_value=700, minimum_order_currency="EUR")
        assert "minimum order of 700.00 reached" in page(browsers["stores"])

    def test_a_minimum_in_another_currency_is_not_compared(self, browsers, proposal):
        Supplier.objects.update(minimum_order_value=9000, minimum_order_currency="NOK")
        assert "minimum order" not in page(browsers["stores"])

    def test_what_is_put_off_stands_apart_until_its_day(self, browsers, proposal):
        act(browsers["stores"], proposal, "snooze", until=(TODAY + 9 * DAY).isoformat())
        assert "Put off" in page(browsers["stores"])
        assert "Nothing waits for a decision." in page(browsers["stores"])
        Proposal.objects.update(holds_until=TODAY)
        assert "Nothing waits for a decision." not in page(browsers["stores"])

    def test_what_was_approved_automatically_is_listed_for_a_week(self, cast, browsers, proposal):
        ApprovalLimit.objects.create(role="automatic", currency="EUR", limit=1000)
        approve_within_limits(cast.north.pk)
        assert "None. An administrator sets the limit" not in page(browsers["stores"])
        Proposal.objects.update(decided_at=timezone.now() - 9 * DAY)
        assert "None. An administrator sets the limit" in page(browsers["stores"])

    def test_another_sites_proposals_are_not_shown(self, browsers, proposal):
        assert "K-100" not in page(browsers["stranger"])
        page(browsers["stranger"], "/stores/proposals?site=north", status=404)

    def test_it_costs_the_same_however_many_there_are(
        self, cast, shelves, browsers, proposal, django_assert_max_num_queries
    ):
        for number in range(5):
            supplier = Supplier.objects.create(code=f"s-{number}", name=f"S {number}")
            propose(cast, shelves, item=make_part(f"P-{number}"), supplier=supplier)
        with django_assert_max_num_queries(12):
            assert "S 4" in page(browsers["stores"])

    def test_without_signing_in_nothing_is_shown(self, proposal):
        for address in ("/stores/proposals", f"/stores/proposals/{proposal.pk}"):
            assert Client().get(address).status_code == 302

    def test_the_board_leads_there(self, browsers, proposal):
        shown = page(browsers["stores"], "/?site=north")
        assert 'href="/stores/proposals?site=north"' in shown
        assert f'href="/stores/proposals/{proposal.pk}"' in shown


class TestOneProposal:
    def test_the_working_is_told_and_shown(self, browsers, proposal):
        shown = page(browsers["stores"], f"/stores/proposals/{proposal.pk}")
        for sentence in proposal.words.splitlines():
            assert sentence in shown
        assert "Order 4 of K-100 A" in shown
        assert "usable on the shelf" in shown
        assert shown.count('class="bar-of-month"') == 24
        assert 'aria-label="The pattern is intermittent"' in shown
        assert "needed every 2.18 months" in shown

    def test_approving_another_quantity_orders_it(self, browsers, proposal):
        act(browsers["stores"], proposal, "approve", quantity="6")
        assert OrderLine.objects.get().quantity == 6
        shown = page(browsers["stores"], f"/stores/proposals/{proposal.pk}")
        assert "Approved: 6 on order" in shown
        assert "By Stores on" in shown
        assert "proposed 4" in shown
        assert '<form class="card"' not in shown

    def test_over_the_limit_the_page_names_who_may(self, browsers, proposal):
        ApprovalLimit.objects.create(role="stores", currency="EUR", limit=100)
        act(browsers["stores"], proposal, "approve", quantity="4")
        shown = page(browsers["stores"], f"/stores/proposals/{proposal.pk}")
        assert "stores may approve up to 100.00. Ask Admin (admin), Chief (admin) to approve it" in shown
        assert not Order.objects.exists()

    def test_a_rejection_needs_a_reason_and_takes_a_day(self, browsers, proposal):
        act(browsers["stores"], proposal, "reject", reason=" ")
        assert "A rejection needs a reason." in page(browsers["stores"])
        until = TODAY + 100 * DAY
        act(browsers["stores"], proposal, "reject", reason="pump is replaced", until=until.isoformat())
        proposal.refresh_from_db()
        assert (proposal.state, proposal.holds_until) == ("rejected", until)

    @pytest.mark.parametrize(
        ("until", "said"), [("", "The day is missing."), ("soon", "cannot be read"), ("2020-01-01", "must lie ahead")]
    )
    def test_putting_off_needs_a_day_ahead(self, browsers, proposal, until, said):
        act(browsers["stores"], proposal, "snooze", until=until)
        assert said in page(browsers["stores"])
        proposal.refresh_from_db()
        assert proposal.state == "open"

    def test_what_changed_meanwhile_is_not_decided_on(self, browsers, proposal):
        Proposal.objects.filter(pk=proposal.pk).update(quantity=9)
        address = f"/stores/proposals/{proposal.pk}"
        browsers["stores"].post(f"{address}/approve", {"version": "1", "quantity": "4", "back": address})
        assert not Order.objects.exists()

    def test_a_reader_looks_and_does_not_decide(self, browsers, proposal):
        shown = page(browsers["reader"], f"/stores/proposals/{proposal.pk}")
        assert "The working" in shown
        assert "Put off</button>" not in shown
        act(browsers["reader"], proposal, "approve", quantity="4")
        proposal.refresh_from_db()
        assert proposal.state == "open"

    def test_forms_need_their_token(self, cast, proposal):
        strict = Client(enforce_csrf_checks=True)
        strict.force_login(cast.people["stores"])
        for what in ("approve", "reject", "snooze"):
            assert act(strict, proposal, what, quantity="4", reason="no", until="2030-01-01").status_code == 403
        proposal.refresh_from_db()
        assert proposal.state == "open"

    @pytest.mark.parametrize("working", [{}, {"demand": {"months": []}}, {"demand": {"months": ["0", "0"]}}])
    def test_without_history_the_page_says_so(self, cast, shelves, browsers, working):
        proposal = propose(cast, shelves, working=working, words="")
        assert "No demand by month is kept" in page(browsers["stores"], f"/stores/proposals/{proposal.pk}")

    def test_what_a_run_proposes_is_shown_whole(self, cast, shelves, browsers):
        ServiceTarget.objects.get_or_create(
            criticality=shelves.kit.criticality, defaults={"fill_rate": "0.95", "source": "a test"}
        )
        job_id, number = some_job()
        reservations.plan(
            by=cast.by("planner"), job_id=job_id, job_number=number, site_id=cast.north.pk, item_id=shelves.kit.pk,
            quantity=Decimal(3), need_date=TODAY + DAY,
        )  # fmt: skip
        replenish_site(by=None, site_id=cast.north.pk)
        proposal = Proposal.objects.get()
        shown = page(browsers["stores"], f"/stores/proposals/{proposal.pk}")
        for sentence in proposal.words.splitlines():
            assert escape(sentence) in shown
        assert "asked for by jobs</dt><dd>3</dd>" in shown
        assert "K-100 A" in page(browsers["stores"])

    def test_what_warns_is_said_at_the_top(self, cast, shelves, browsers):
        proposal = propose(cast, shelves, working={"warnings": ["stale-count"]})
        assert "Stale count." in page(browsers["stores"], f"/stores/proposals/{proposal.pk}")

    def test_another_sites_proposal_is_not_there(self, browsers, proposal):
        page(browsers["stranger"], f"/stores/proposals/{proposal.pk}", status=404)
        page(browsers["stores"], f"/stores/proposals/{uuid.uuid4()}", status=404)
