"""The stores board in a real Chromium, at the width of a desk and of a phone."""

import datetime

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from assets.models import Site
from kits.models import Balance, Order, OrderLine
from tests.browser.screens import WIDTHS, fits_its_width, in_a_browser, keep, sign_in
from tests.kits.stock.test_orders import propose
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast

pytestmark = in_a_browser


@pytest.mark.parametrize("width", WIDTHS)
def test_a_stores_manager_approves_and_receives(chromium, live_server, width):
    cast, shelves = gather_cast(), fill_catalogue()
    Site.objects.filter(pk=cast.north.pk).update(name="North, the district-heating plant beyond the old harbour")
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="L-1")
    propose(cast, shelves)
    size = WIDTHS[width]
    page = chromium.new_page(viewport={"width": size[0], "height": size[1]})
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)

    page.goto(live_server.url + "/")
    sign_in(page, "stores")

    expect(page.get_by_role("heading", name="Stores at North, the district")).to_be_visible()
    fits_its_width(page, size[0])
    keep(page, f"board-{width}")
    page.get_by_role("button", name="Approve").click()
    expect(page.get_by_role("status")).to_contain_text("Approved: 4 on order")

    page.get_by_label("Arrived").fill("1")
    page.get_by_label("Lot on the label").fill("L-9")
    page.get_by_label("Cure date").fill("3Q2026")
    page.get_by_role("button", name="Receive").click()
    expect(page.get_by_role("status")).to_contain_text("it is part received now")
    fits_its_width(page, size[0])
    keep(page, f"received-{width}")
    OrderLine.objects.update(expected_on=timezone.now().date() - datetime.timedelta(days=9))
    Order.objects.update(sent_at=timezone.now())
    page.reload()
    page.get_by_text("The supplier was asked").click()
    page.get_by_label("What it said").fill("held up at the foundry")
    fits_its_width(page, size[0])
    keep(page, f"late-{width}")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("status")).to_contain_text("Kept what the supplier said.")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()

    assert faults == []
    assert Order.objects.get().state == "part-received"
    assert sorted(Balance.objects.values_list("lot__number", "on_hand")) == [("L-1", 1), ("L-9", 1)]
    page.close()
