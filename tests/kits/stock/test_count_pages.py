"""The pages of counts as a browser without scripts sees them."""

import pytest

from kits.models import Balance, Count, CountLine, CountSettings
from kits.operations.counts import make_count
from tests.shelves import fill_catalogue, put_on_shelf

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet(cast):
    shelves = fill_catalogue()
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 7331, lot="K-1")
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, 8, lot="B-1", cured=None)
    CountSettings.objects.create(site=cast.north, value_limit=10**8, currency="EUR")
    return make_count(by=cast.by("stores"), site_id=cast.north.pk)


def page(browser, address, status=200):
    answer = browser.get(address)
    assert answer.status_code == status
    return " ".join(answer.content.decode().split())


def at(sheet, what=""):
    return f"/stores/counts/{sheet.pk}{what}"


def form(sheet, **more):
    sheet.refresh_from_db()
    return {"version": sheet.version, **more}


def number_of(sheet, item):
    return CountLine.objects.get(count=sheet, item__number=item).line


def test_who_counts_never_sees_the_book_on_the_page_even_when_stores_counts(sheet, browsers):
    for role in ("fitter", "stores"):
        shown = page(browsers[role], at(sheet))
        assert "K-100" in shown
        assert "7331" not in shown
    browsers["fitter"].post(at(sheet, "/enter"), form(sheet, **{"line-1": "8", "line-2": "5", "do": "submit"}))
    sheet.refresh_from_db()
    assert sheet.state == "counted"
    assert "7331" not in page(browsers["fitter"], at(sheet))
    assert "7331" in page(browsers["stores"], at(sheet))


def test_only_lines_that_changed_are_saved_so_two_people_can_count_one_sheet(sheet, browsers):
    kit = number_of(sheet, "K-100")
    bearing = number_of(sheet, "BRG-40")
    browsers["fitter"].post(at(sheet, "/enter"), form(sheet, **{f"line-{kit}": "5", f"was-{kit}": ""}))
    stale = {f"line-{kit}": "", f"was-{kit}": "", f"line-{bearing}": "8,5", f"was-{bearing}": ""}
    browsers["stores"].post(at(sheet, "/enter"), form(sheet, **stale))
    rows = CountLine.objects.filter(count=sheet).values_list("item__number", "quantity", "counted_by__name")
    assert sorted(rows) == [("BRG-40", 8.5, "Stores"), ("K-100", 5, "Fitter")]


@pytest.mark.parametrize("text", ["two", "NaN", "-1", "1e12", "0.0001"])
def test_what_cannot_be_read_is_named_and_the_rest_is_kept(sheet, browsers, text):
    kit, bearing = number_of(sheet, "K-100"), number_of(sheet, "BRG-40")
    sent = {f"line-{kit}": "5", f"line-{bearing}": text, "do": "submit"}
    browsers["fitter"].post(at(sheet, "/enter"), form(sheet, **sent))
    shown = page(browsers["fitter"], at(sheet))
    assert f"\N{LEFT DOUBLE QUOTATION MARK}{text}\N{RIGHT DOUBLE QUOTATION MARK} cannot be read" in shown
    assert "Saved 1 line." in shown
    assert CountLine.objects.get(count=sheet, line=kit).quantity == 5
    assert Count.objects.get().state == "open"


def test_a_reader_looks_and_enters_nothing(sheet, browsers):
    shown = page(browsers["reader"], at(sheet))
    assert "Save and hand in" not in shown
    assert "Make a sheet" not in page(browsers["reader"], "/stores/counts")
    browsers["reader"].post(at(sheet, "/enter"), form(sheet, **{"line-1": "8"}))
    assert "needs the role" in page(browsers["reader"], at(sheet))
    assert CountLine.objects.filter(quantity=None).count() == 2


def test_a_count_of_another_site_is_not_there(sheet, browsers):
    page(browsers["stranger"], at(sheet), status=404)
    page(browsers["stranger"], "/stores/counts?site=north", status=404)


def test_a_decision_on_an_old_page_changes_nothing_and_says_so(sheet, browsers):
    old = form(sheet)
    browsers["fitter"].post(at(sheet, "/enter"), form(sheet, **{"line-1": "8", "line-2": "5", "do": "submit"}))
    browsers["stores"].post(at(sheet, "/post"), old)
    assert "by now" in page(browsers["stores"], at(sheet))
    browsers["stores"].post(at(sheet, "/send-back"), form(sheet, reason="look again"))
    assert "No line is ticked." in page(browsers["stores"], at(sheet))
    browsers["stores"].post(at(sheet, "/cancel"), form(sheet, reason=" "))
    assert "A reason is needed." in page(browsers["stores"], at(sheet))
    browsers["stores"].post(at(sheet, "/post"), form(sheet))
    assert "is posted" in page(browsers["stores"], at(sheet))
    assert Balance.objects.get(item__number="K-100").on_hand == 5
