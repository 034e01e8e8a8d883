"""Deciding on proposals at a desk and on a phone, in a real Chromium without scripts."""

import datetime
from typing import Any

from django.utils import timezone
from playwright.sync_api import expect

from assets.models import Site
from kits.models import ApprovalLimit, Order, OrderLine, Proposal, Supplier
from kits.operations.automatic_approval import approve_within_limits
from tests.browser.screens import in_a_browser, looks_right, sign_in
from tests.kits.stock.test_orders import propose
from tests.shelves import fill_catalogue, make_part
from tests.worked_proposals import WORDS, WORKING
from tests.world import gather_cast

pytestmark = in_a_browser


def test_a_stores_manager_looks_at_the_working_and_decides(chromium, live_server):
    cast, shelves = gather_cast(), fill_catalogue()
    Site.objects.filter(pk=cast.north.pk).update(name="North, the district-heating plant beyond the old harbour")
    Supplier.objects.update(minimum_order_value=2000, minimum_order_currency="EUR")
    cheap = Supplier.objects.create(code="ollvard", name="Ollvard Fasteners")
    automatic = ApprovalLimit.objects.create(role="automatic", currency="EUR", limit=50)
    propose(cast, shelves, item=make_part("WASHER-M10"), supplier=cheap, quantity=20, price="0.35")
    approve_within_limits(cast.north.pk)
    automatic.delete()
    figures: dict[str, Any] = {"working": WORKING, "words": WORDS}
    kit = propose(cast, shelves, **figures)
    propose(cast, shelves, item=make_part("GASKET-LONG-NUMBER-65-40-200-AFM34"), quantity=30, price="11.40", **figures)
    waiting = make_part("OR-51")
    propose(cast, shelves, item=waiting, words=WORDS, working={**WORKING, "warnings": ["stale-count"]})
    page = chromium.new_context(java_script_enabled=False).new_page()

    page.goto(live_server.url + "/?site=north")
    sign_in(page, "stores")
    page.get_by_role("link", name="Proposals", exact=True).click()
    expect(page.get_by_role("heading", name="Harrow Sealing, in EUR")).to_be_visible()
    expect(page.get_by_text("below the minimum order of 2000.00")).to_be_visible()
    expect(page.get_by_role("link", name="WASHER-M10")).to_be_visible()
    looks_right(page, "proposals")

    page.get_by_role("link", name="K-100 A").click()
    expect(page.get_by_role("heading", name="Order 4 of K-100 A")).to_be_visible()
    expect(page.get_by_role("img", name="The pattern is intermittent")).to_be_visible()
    looks_right(page, "proposal")
    ApprovalLimit.objects.create(role="stores", currency="EUR", limit=500)
    page.get_by_role("button", name="Approve").click()
    expect(page.get_by_text("Ask Admin (admin), Chief (admin) to approve it")).to_be_visible()
    looks_right(page, "proposal-over-the-limit")
    page.get_by_label("Quantity to order").fill("2")
    page.get_by_role("button", name="Approve").click()
    expect(page.get_by_role("status")).to_contain_text("Approved: 2 on order")
    looks_right(page, "proposal-approved")

    page.get_by_role("link", name="Proposals at").click()
    page.get_by_role("link", name="OR-51").click()
    expect(page.get_by_text("Stale count.")).to_be_visible()
    looks_right(page, "proposal-warned")
    later = timezone.now().date() + datetime.timedelta(days=20)
    page.get_by_label("Show again on").fill(later.isoformat())
    page.get_by_role("button", name="Put off").click()
    expect(page.get_by_role("status")).to_contain_text("Put off. It is shown again on")

    page.get_by_role("link", name="Proposals at").click()
    page.get_by_role("link", name="GASKET").click()
    page.get_by_label("Why").fill("the pump goes in spring")
    page.get_by_role("button", name="Reject").click()
    expect(page.get_by_role("status")).to_contain_text("Rejected. It is not proposed again before")
    page.get_by_role("link", name="Proposals at").click()
    looks_right(page, "proposals-decided")

    kit.refresh_from_db()
    assert (kit.state, kit.quantity) == ("approved", 2)
    assert OrderLine.objects.filter(order__supplier=shelves.supplier).count() == 1
    assert Order.objects.filter(approved_by=None).count() == 1
    assert sorted(Proposal.objects.values_list("state", flat=True)) == ["approved", "approved", "rejected", "snoozed"]
    page.context.close()
