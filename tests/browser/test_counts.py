"""Counting on a phone and looking over at a desk, in a real Chromium without scripts."""

from playwright.sync_api import expect

from assets.models import Bin, Site
from kits.models import Balance, Count, CountSettings, Movement
from tests.browser.screens import in_a_browser, looks_right, sign_in
from tests.shelves import fill_catalogue, make_part, put_on_shelf
from tests.world import gather_cast

pytestmark = in_a_browser


def test_a_fitter_counts_and_the_stores_manager_looks_it_over(chromium, live_server):
    cast, shelves = gather_cast(), fill_catalogue()
    stores = cast.by("stores")
    Site.objects.filter(pk=cast.north.pk).update(name="North, the district-heating plant beyond the old harbour")
    CountSettings.objects.create(site=cast.north, value_limit=500, currency="EUR")
    Bin.objects.create(site=cast.north, code="A-02")
    put_on_shelf(stores, cast.north, shelves.kit, 5, lot="K-2207")
    put_on_shelf(stores, cast.north, shelves.bearing, 12, lot="B-1", cured=None)
    put_on_shelf(stores, cast.north, make_part("GASKET-LONG-NUMBER-65-40-200-AFM34"), 30, lot="G-44", cured=None)
    fitter = chromium.new_context(java_script_enabled=False).new_page()
    manager = chromium.new_context(java_script_enabled=False).new_page()

    manager.goto(live_server.url + "/stores/counts")
    sign_in(manager, "stores")
    expect(manager.get_by_role("heading", name="Due by")).to_be_visible()
    manager.get_by_role("button", name="Make a sheet").click()
    expect(manager.get_by_role("status")).to_contain_text("is ready to be counted")
    looks_right(manager, "counts")

    fitter.goto(live_server.url + "/stores/counts")
    sign_in(fitter, "fitter")
    fitter.get_by_role("link", name="Count SC-").click()
    fitter.get_by_label("GASKET").fill("30")
    looks_right(fitter, "count-sheet")
    fitter.get_by_role("button", name="Save", exact=True).click()
    expect(fitter.get_by_role("status")).to_contain_text("Saved 1 line.")
    fitter.get_by_label("K-100").fill("3")
    fitter.get_by_label("BRG-40").fill("many")
    fitter.get_by_role("button", name="Save and hand in").click()
    expect(fitter.get_by_text("cannot be read")).to_be_visible()
    expect(fitter.get_by_label("K-100")).to_have_value("3")
    fitter.get_by_role("button", name="Save and hand in").click()
    expect(fitter.get_by_text("1 of 3 lines are not counted yet")).to_be_visible()
    fitter.get_by_label("BRG-40").fill("13")
    fitter.get_by_role("button", name="Save", exact=True).click()
    fitter.get_by_text("Something lies here that is not on the sheet").click()
    fitter.get_by_label("Number on the label").fill("OR-50")
    fitter.get_by_label("Lot", exact=True).fill("O-7")
    fitter.get_by_label("Bin", exact=True).select_option("A-02")
    fitter.get_by_label("How many").fill("2")
    fitter.get_by_label("Cure date").fill("3Q2025")
    fitter.get_by_role("button", name="Save what was found").click()
    expect(fitter.get_by_role("status")).to_contain_text("Saved what was found: 2 of OR-50")
    looks_right(fitter, "count-sheet-full")
    assert "Book" not in fitter.content()
    fitter.get_by_role("button", name="Save and hand in").click()
    expect(fitter.get_by_role("status")).to_contain_text("Stores looks it over now.")
    expect(fitter.get_by_text("Difference")).to_have_count(0)
    looks_right(fitter, "count-handed-in")

    manager.goto(live_server.url + "/stores/counts")
    manager.get_by_role("link", name="Look over SC-").click()
    expect(manager.get_by_text("EUR \N{MINUS SIGN}369.00", exact=True)).to_be_visible()
    looks_right(manager, "count-review")
    manager.get_by_role("checkbox", name="Count BRG-40").check()
    manager.get_by_label("Why").first.fill("one lies behind the shelf")
    manager.get_by_role("button", name="Send back").click()
    expect(manager.get_by_role("status")).to_contain_text("1 line is counted again by another person")

    fitter.reload()
    expect(fitter.get_by_text("you counted it before")).to_be_visible()
    manager.get_by_label("BRG-40").fill("12")
    looks_right(manager, "count-again")
    manager.get_by_role("button", name="Save and hand in").click()
    manager.get_by_role("button", name="Post the count").click()
    expect(manager.get_by_role("status")).to_contain_text("is posted")
    looks_right(manager, "count-posted")

    assert Count.objects.get().state == "posted"
    assert Movement.objects.filter(kind="count-adjustment").count() == 2
    held = dict(Balance.objects.values_list("lot__number", "on_hand"))
    assert held == {"K-2207": 3, "B-1": 12, "G-44": 30, "O-7": 2}
    for page in (fitter, manager):
        page.context.close()
