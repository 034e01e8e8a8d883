"""Suppliers and the order value below which they take none: over HTTP and from a file."""

from decimal import Decimal

import pytest

from kits.models import Supplier
from kits.operations.part_loads import load_suppliers
from services.api.loading import LoadRow
from services.changes.models import Change
from tests.overhauls import Hand

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(cast):
    return Hand(cast.client("data-owner"))


def change(owner, supplier, body, status=200):
    seen = {"HTTP_IF_MATCH": f'"{supplier["version"]}"'}
    answer = owner.client.patch(f"/api/v1/suppliers/{supplier['id']}", body, format="json", **seen)
    assert answer.status_code == status, answer.content
    return answer.json()


def add(owner, **more):
    return owner.post("suppliers", {"code": "harrow", "name": "Harrow Sealing", **more}, status=201)


def test_without_one_no_order_is_too_small(owner):
    made = add(owner)
    assert (made["minimum_order_value"], made["minimum_order_currency"]) == ("0", "")


def test_it_is_given_changed_and_told(owner):
    made = add(owner, minimum_order_value="250", minimum_order_currency="EUR")
    assert made["minimum_order_value"] == "250"
    changed = change(owner, made, {"minimum_order_value": "300.5"})
    assert (Decimal(changed["minimum_order_value"]), changed["minimum_order_currency"]) == (Decimal("300.5"), "EUR")
    assert changed["name"] == "Harrow Sealing"
    body = Change.objects.get(kind="supplier.changed").body
    assert body is not None
    assert Decimal(body["minimum_order_value"]) == Decimal("300.5")


def test_it_needs_a_currency(owner):
    refused = owner.post("suppliers", {"code": "h", "name": "H", "minimum_order_value": "250"}, status=422)
    assert refused["errors"][0]["pointer"] == "#/minimum_order_currency"
    assert change(owner, add(owner), {"minimum_order_value": "9"}, status=422)["code"] == "invalid-value"


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"minimum_order_value": "-1"}, "#/minimum_order_value"),
        ({"minimum_order_currency": "euro"}, "#/minimum_order_currency"),
    ],
)
def test_what_makes_no_sense_is_refused(owner, body, pointer):
    assert change(owner, add(owner), body, status=422)["errors"][0]["pointer"] == pointer


def test_who_saw_an_older_supplier_is_told(owner):
    made = add(owner)
    change(owner, made, {"name": "Harrow"})
    assert change(owner, made, {"name": "Harrow again"}, status=412)["code"] == "version-changed"


def test_a_name_can_still_be_changed_alone(owner):
    made = add(owner, minimum_order_value="250", minimum_order_currency="EUR")
    assert change(owner, made, {"name": "Harrow"})["minimum_order_value"] == "250"


class TestFiles:
    def load(self, cast, **values):
        row = {"code": "harrow", "name": "Harrow Sealing", **values}
        (outcome,) = load_suppliers(by=cast.by("data-owner"), rows=[LoadRow(2, row)])
        return outcome

    def test_a_file_brings_it_and_a_file_without_it_leaves_it(self, cast):
        given = {"minimum_order_value": Decimal("250.004"), "minimum_order_currency": "EUR"}
        assert self.load(cast, **given).outcome == "created"
        assert self.load(cast, **given).outcome == "unchanged"
        assert self.load(cast).outcome == "unchanged"
        assert self.load(cast, name="Harrow").outcome == "changed"
        kept = Supplier.objects.get()
        assert (kept.minimum_order_value, kept.minimum_order_currency) == (Decimal(250), "EUR")

    @pytest.mark.parametrize(
        ("values", "column"),
        [
            ({"minimum_order_value": Decimal(250)}, "minimum_order_currency"),
            ({"minimum_order_value": Decimal(250), "minimum_order_currency": "Euro"}, "minimum_order_currency"),
            ({"minimum_order_value": Decimal(-1), "minimum_order_currency": "EUR"}, "minimum_order_value"),
            ({"minimum_order_value": Decimal(10**13), "minimum_order_currency": "EUR"}, "minimum_order_value"),
        ],
    )
    def test_a_row_that_cannot_be_kept_names_its_column(self, cast, values, column):
        outcome = self.load(cast, **values)
        assert outcome.outcome == "refused"
        assert outcome.problems[0].column == column
        assert not Supplier.objects.exists()
