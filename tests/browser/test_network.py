"""Stock of all sites in a real Chromium without scripts, at the width of a desk and of a phone."""

from playwright.sync_api import expect

from assets.models import Site
from kits.models import Item, Transfer
from tests.browser.screens import in_a_browser, looks_right, sign_in
from tests.networks import another_kit, gather_network, used

pytestmark = in_a_browser


def test_a_stores_manager_weighs_stock_against_waiting_and_agrees_on_a_transfer(chromium, live_server):
    network = gather_network()
    Site.objects.filter(pk=network.north.pk).update(name="North, the district-heating plant beyond the old harbour")
    Item.objects.filter(pk=network.shelves.kit.pk).update(name="Full overhaul kit 65-40-200 with lip seals, EPDM")
    for number, (every, left) in enumerate(((40, 0), (90, 1), (200, 2), (300, 0))):
        kit = another_kit(network, f"K-2{number}0", price=str(60 + 170 * number))
        used(network, network.north, kit, every=every, left=left)
        used(network, network.mill, kit, every=2 * every, left=3)
        used(network, network.south, kit, every=3 * every, left=4)
    used(network, network.north, network.shelves.kit, every=50)
    used(network, network.mill, network.shelves.kit, every=300, left=8)
    page = chromium.new_context(java_script_enabled=False).new_page()

    page.goto(live_server.url + "/")
    sign_in(page, "planner-of-all")
    page.get_by_role("link", name="Stock of all sites").click()
    expect(page.get_by_role("heading", name="Stock of all sites")).to_be_visible()
    chart = page.get_by_role("img", name="Cost of all stock against needs that wait")
    expect(chart).to_be_visible()
    expect(page.get_by_text("Say above what a need costs that waits")).to_be_visible()
    looks_right(page, "network-today")

    page.get_by_label("Budget", exact=True).fill("2500")
    page.get_by_label("A need that waits costs").fill("600")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_text("EUR 2500.00 buys")).to_be_visible()
    expect(page.get_by_label("A need that waits costs")).to_have_value("600")
    page.get_by_text("North, the district-heating plant beyond the old harbour:").click()
    looks_right(page, "network-budget")

    page.get_by_label("An availability of the pumps").check()
    page.get_by_label("Availability in percent").fill("101")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("alert")).to_contain_text("An availability is less than 100 %.")
    looks_right(page, "network-refused")
    page.get_by_label("A budget for all stock").check()
    page.get_by_role("button", name="Work it out").click()

    page.get_by_role("button", name="Agree on this transfer").first.click()
    expect(page.get_by_role("status")).to_contain_text("Agreed on: T-")
    expect(page.get_by_text("Left alone, since it was moved lately")).to_be_visible()
    looks_right(page, "network-agreed")
    assert Transfer.objects.get().warnings == []
    page.context.close()
