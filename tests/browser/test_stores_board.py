"""The stores board in a real Chromium, at the width of a desk and of a phone."""

import os
import shutil
from pathlib import Path

import pytest
from django.db import connections
from playwright.sync_api import expect, sync_playwright

from assets.models import Site
from kits.models import Balance, Order
from tests.kits.stock.test_orders import propose
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast

CHROMIUM = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)
SHOTS = os.environ.get("SCREENSHOTS")

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        CHROMIUM is None and not os.environ.get("REQUIRE_BROWSER"), reason="no Chromium found: browser tests not run"
    ),
]
WIDTHS = {"desk": (1280, 900), "phone": (390, 844)}


@pytest.fixture(scope="module")
def chromium():
    # The browser's own loop runs in this thread, which Django takes for asynchronous code of ours.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    # While it runs Django keeps other connections; those from before would outlive their database.
    connections.close_all()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield browser
        browser.close()
        connections.close_all()


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
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.get_by_label("Login").fill("stores")
    page.get_by_label("Password").fill("correct horse")
    page.get_by_role("button", name="Sign in").click()

    expect(page.get_by_role("heading", name="Stores at North, the district")).to_be_visible()
    _fits_its_width(page, size[0])
    _keep(page, f"board-{width}")
    page.get_by_role("button", name="Approve").click()
    expect(page.get_by_role("status")).to_contain_text("Approved: 4 on order")

    page.get_by_label("Arrived").fill("1")
    page.get_by_label("Lot on the label").fill("L-9")
    page.get_by_label("Cure date").fill("3Q2026")
    page.get_by_role("button", name="Receive").click()
    expect(page.get_by_role("status")).to_contain_text("it is part received now")
    _fits_its_width(page, size[0])
    _keep(page, f"received-{width}")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()

    assert faults == []
    assert Order.objects.get().state == "part-received"
    assert sorted(Balance.objects.values_list("lot__number", "on_hand")) == [("L-1", 1), ("L-9", 1)]
    page.close()


def _fits_its_width(page, width: int) -> None:
    """Nothing sticks out sideways, and what is tapped is large enough for a finger (WCAG 2.2, 2.5.8: 24 px)."""
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for button in page.get_by_role("button").all():
        box = button.bounding_box()
        if box is not None:
            assert box["height"] >= 24, button.inner_text()
            assert box["width"] >= 24, button.inner_text()


def _keep(page, name: str) -> None:
    if SHOTS:
        Path(SHOTS).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(SHOTS) / f"{name}.png"), full_page=True)
