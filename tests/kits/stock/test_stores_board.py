"""The stores board as a browser without scripts sees it."""

import datetime
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from kits.models import Balance, Order, OrderChase, OrderLine
from kits.operations import reservations
from tests.kits.stock.test_orders import propose
from tests.shelves import put_on_shelf, some_job

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()


@pytest.fixture
def browser(cast):
    client = Client()
    signed = client.post("/sign-in", {"login": "stores", "password": "correct horse", "next": "/"})
    assert signed.status_code == 302
    return client


def page(browser, address="/"):
    answer = browser.get(address)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_nobody_sees_the_board_without_signing_in(cast):
    answer = Client().get("/?site=north")
    assert (answer.status_code, answer.headers["Location"]) == (302, "/sign-in?next=%2F%3Fsite%3Dnorth")


def test_a_wrong_password_says_nothing_about_the_login(cast):
    for login in ("stores", "nobody-at-all"):
        answer = Client().post("/sign-in", {"login": login, "password": "wrong"})
        assert answer.status_code == 403
        assert "Login and password do not belong together." in answer.content.decode()


def test_signing_in_never_leads_to_another_host(cast):
    form = {"login": "stores", "password": "correct horse", "next": "https://example.org/"}
    assert Client().post("/sign-in", form).headers["Location"] == "/"


def test_short_and_expiring_kits_come_first_with_what_they_lack(cast, shelves, browser):
    near_end = TODAY.replace(day=1, year=TODAY.year - 10) + datetime.timedelta(days=45)
    put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot="OLD", cured=near_end)
    for _ in range(2):
        job_id, number = some_job()
        reservations.plan(
            by=cast.by("planner"),
            job_id=job_id,
            job_number=number,
            site_id=cast.north.pk,
            item_id=shelves.kit.pk,
            quantity=Decimal(1),
            need_date=TODAY,
        )
    shown = page(browser)
    assert "short by 1" in shown
    assert "expiring" in shown
    assert "2 asked for by" in shown


def test_a_proposal_shows_its_working_and_is_approved_on_the_page(cast, shelves, browser):
    proposal = propose(cast, shelves)
    shown = page(browser)
    assert "<li>One sentence.</li><li>Another.</li>" in shown.replace("</li> <li>", "</li><li>")
    form = {"version": proposal.version, "quantity": "4", "back": "/?site=north"}
    answer = browser.post(f"/stores/proposals/{proposal.pk}/approve", form)
    assert answer.headers["Location"] == "/?site=north"
    assert "Approved: 4 on order" in page(browser)
    assert Order.objects.get().lines.get().quantity == 4


def test_a_stale_form_changes_nothing_and_says_so(cast, shelves, browser):
    proposal = propose(cast, shelves)
    form = {"version": proposal.version + 1, "quantity": "4"}
    browser.post(f"/stores/proposals/{proposal.pk}/approve", form)
    assert "by now" in page(browser)
    assert Order.objects.count() == 0


def test_a_rejection_needs_a_reason(cast, shelves, browser):
    proposal = propose(cast, shelves)
    browser.post(f"/stores/proposals/{proposal.pk}/reject", {"version": proposal.version, "reason": " "})
    assert "A rejection needs a reason." in page(browser)
    browser.post(f"/stores/proposals/{proposal.pk}/reject", {"version": proposal.version, "reason": "no need"})
    assert "Rejected. It is not proposed again before" in page(browser)


@pytest.mark.parametrize("quantity", ["two", "", "NaN", "1e12", "0.0001", "-1"])
def test_a_quantity_that_is_none_is_refused_in_words(cast, shelves, browser, quantity):
    proposal = propose(cast, shelves)
    form = {"version": proposal.version, "quantity": quantity}
    assert browser.post(f"/stores/proposals/{proposal.pk}/approve", form).status_code == 302
    assert 'class="note error"' in page(browser)
    assert Order.objects.count() == 0


def test_part_of_an_order_is_received_on_the_page(cast, shelves, browser):
    proposal = propose(cast, shelves)
    browser.post(f"/stores/proposals/{proposal.pk}/approve", {"version": proposal.version, "quantity": "4"})
    order = Order.objects.get()
    form = {"version": order.version, "line": "1", "quantity": "1,5", "lot": "L-9", "cure_date": "3Q2026"}
    browser.post(f"/stores/orders/{order.pk}/receive", form)
    assert "it is part received now" in page(browser)
    assert Balance.objects.get().on_hand == Decimal("1.5")


def test_a_reader_sees_but_is_offered_nothing_to_decide(cast, shelves):
    propose(cast, shelves)
    client = Client()
    client.post("/sign-in", {"login": "reader", "password": "correct horse"})
    shown = page(client)
    assert "Order 4 from Harrow Sealing" in shown
    assert ">Approve<" not in shown


def test_a_site_without_a_grant_is_not_there(cast, browser):
    answer = browser.get("/?site=south")
    assert answer.status_code == 404
    assert "No site south is granted to you." in answer.content.decode()


def test_somebody_without_any_site_is_told(cast):
    client = Client()
    client.post("/sign-in", {"login": "nobody", "password": "correct horse"})
    assert "You have no role at any site." in page(client)


def test_the_number_of_queries_does_not_grow_with_the_kits(cast, shelves, browser, django_assert_max_num_queries):
    for number in range(5):
        put_on_shelf(cast.by("stores"), cast.north, shelves.kit, 1, lot=f"L-{number}")
    with django_assert_max_num_queries(12):
        page(browser)


def late_order(cast, shelves, state="sent"):
    order = Order.objects.create(number="O-7", site=cast.north, supplier=shelves.supplier, state=state)
    OrderLine.objects.create(
        order=order, line=1, item=shelves.kit, quantity=2, expected_on=TODAY - datetime.timedelta(days=9), price=180,
        currency="EUR",
    )  # fmt: skip
    return order


def chase(browser, order, **fields):
    order.refresh_from_db()
    form = {"version": order.version, "line": "1", "back": "/?site=north", **fields}
    return browser.post(f"/stores/orders/{order.pk}/chase", form)


def test_what_the_supplier_said_is_kept_and_its_day_shown(cast, shelves, browser):
    order = late_order(cast, shelves)
    assert "The supplier was asked" in page(browser)
    promised = TODAY + datetime.timedelta(days=12)
    chase(browser, order, said="held up at the foundry", promised_on=promised.isoformat())
    shown = page(browser)
    assert f"It is counted on for {promised.day} {promised:%B %Y}." in shown
    assert f"promised for {promised.day} {promised:%B %Y}" in shown
    assert "The supplier was asked" not in shown
    assert OrderChase.objects.get().said == "held up at the foundry"


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"said": " "}, "What the supplier said is missing."),
        ({"said": "soon", "promised_on": "tomorrow"}, "cannot be read"),
        ({"said": "soon", "promised_on": "2020-01-01"}, "A promised day has not passed."),
        ({"said": "soon", "line": "x"}, "The line is missing."),
        ({"said": "soon", "version": "9"}, "is at version 1 by now"),
    ],
)
def test_a_chase_that_cannot_be_kept_is_told(cast, shelves, browser, fields, said):
    chase(browser, late_order(cast, shelves), **fields)
    assert said in page(browser)
    assert not OrderChase.objects.exists()


def test_an_order_that_was_never_sent_is_not_chased(cast, shelves, browser):
    order = late_order(cast, shelves, state="approved")
    assert "The supplier was asked" not in page(browser)
    chase(browser, order, said="soon")
    assert "to be chased it must be sent or part received" in page(browser)
