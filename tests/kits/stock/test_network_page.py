"""The page of the stock of all sites as a browser without scripts sees it."""

import pytest
from django.test import Client

from kits.models import Transfer, TransitTime
from tests.networks import another_kit, gather_network, used
from tests.world import make_principal

pytestmark = pytest.mark.django_db
ADDRESS = "/stores/network"


@pytest.fixture
def network():
    made = gather_network()
    used(made, made.north, made.shelves.kit, every=40)
    used(made, made.mill, made.shelves.kit, every=300, left=9)
    return made


def browser(login="planner-of-all"):
    client = Client()
    client.post("/sign-in", {"login": login, "password": "correct horse", "next": "/"})
    return client


def page(client, status=200, **asked):
    answer = client.get(ADDRESS, asked)
    assert answer.status_code == status
    return " ".join(answer.content.decode().split())


def test_it_is_linked_from_the_stores_board_for_who_plans(network):
    assert f'href="{ADDRESS}"' in browser().get("/").content.decode()
    assert f'href="{ADDRESS}"' not in browser("fitter").get("/").content.decode()


def test_without_a_figure_it_is_what_the_stock_of_today_is_worth(network):
    shown = page(browser())
    assert "EUR 1660.50 buys 9 of 1 item" in shown
    assert 'value="1660.5"' in shown


def test_the_chart_has_a_title_words_and_the_same_figures_in_a_table(network):
    shown = page(browser(), budget="900")
    assert "<title id=" in shown
    assert "leaves" in shown.split("<desc", 1)[1].split("</desc>", 1)[0]
    dots = shown.count('class="dot"')
    table = shown.split("The figures of the curve", 2)[2].split("</table>", 1)[0]
    assert dots > 3
    assert table.split("<tbody>")[1].count("<tr") == dots + 2


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"budget": "much"}, "The budget is not a number."),
        ({"budget": "-5"}, "The budget is above nought."),
        ({"goal": "availability"}, "The availability is not a number."),
        ({"goal": "availability", "availability": "100"}, "An availability is less than 100 %."),
        ({"goal": "availability", "availability": "98"}, "No pump stands at these sites"),
        ({"currency": "NOK", "budget": "900"}, "There is more than one currency."),
        ({"central": "nowhere", "budget": "900"}, "buys"),
        ({"waiting": "dear"}, "What waiting costs is not a number."),
    ],
)
def test_what_cannot_be_worked_out_is_said_beside_the_form(network, asked, words):
    shown = page(browser(), **asked)
    assert words in shown
    assert "Work it out" in shown


def test_where_nobody_said_how_long_it_takes_the_page_names_the_remedy(network):
    TransitTime.objects.all().delete()
    assert "POST /transit-times" in page(browser(), budget="900")


def test_one_part_that_fails_does_not_take_the_other(network):
    shown = page(browser(), budget="much", waiting="400")
    assert "The budget is not a number." in shown
    assert "Agree on this transfer" in shown


def form_of(client, **asked):
    return {
        name: value
        for name, value in client.get(ADDRESS, {"waiting": "400", **asked}).context["plan"]["transfers"][0].items()
        if name in ("id", "body")
    }


def sent(form, **more):
    line = form["body"]["lines"][0]
    return {
        "id": form["id"], "from_site": form["body"]["from_site"], "to_site": form["body"]["to_site"],
        "item": line["item"], "quantity": line["quantity"], **more,
    }  # fmt: skip


def test_a_transfer_is_agreed_on_once_however_often_the_button_is_pressed(network):
    client = browser()
    form = form_of(client)
    for _ in range(2):
        client.post(f"{ADDRESS}/agree", sent(form))
    assert Transfer.objects.count() == 1
    assert Transfer.objects.get().lines.get().quantity == int(form["body"]["lines"][0]["quantity"])


@pytest.mark.parametrize("changed", [{"item": "nothing"}, {"quantity": "many"}, {"to_site": ""}, {"quantity": "900"}])
def test_a_form_that_was_meddled_with_agrees_on_nothing(network, changed):
    client = browser()
    answer = client.post(f"{ADDRESS}/agree", sent(form_of(client), **changed), follow=True)
    assert 'class="note error"' in answer.content.decode()
    assert Transfer.objects.count() == 0


def test_nobody_sees_it_without_a_role_to_plan(network):
    assert Client().get(ADDRESS).status_code == 302
    assert "This needs the role stores or planner or admin." in page(browser("reader"), status=403)
    network.cast.people["north-only"] = make_principal("north-only", ("stores", network.north))
    shown = page(browser("north-only"), budget="900", central="north")
    assert "Mill" not in shown


def test_what_is_left_out_is_named(network):
    kit = another_kit(network, "K-800")
    used(network, network.north, kit, every=90)
    kit.terms.all().delete()
    assert "K-800 A: Nobody sells it on terms." in page(browser(), budget="900")
