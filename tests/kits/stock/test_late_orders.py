"""What is late at suppliers: listed, chased, told once a mark, and left out of projections past the limit."""

import datetime
import uuid
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from kits.calculations.expected_receipts import left_out_words
from kits.models import Order, OrderChase, OrderLine, Supplier
from kits.operations.late_orders import ask_nightly_review, tell_late_orders
from kits.operations.order_loads import load_orders
from kits.operations.orders import Arrived, receive_order
from kits.queries.late_orders import receipts_to_come
from kits.queries.lead_times import usual_lateness
from kits.tasks import run_late_order_review
from services.api.loading import LoadRow
from services.changes.models import Change
from services.work.models import BackgroundRun

pytestmark = pytest.mark.django_db
TODAY = timezone.now().date()
DAY = datetime.timedelta(days=1)


def ordered(cast, shelves, *, due_in, number="O-1", state="sent", received=0, items=1):
    order = Order.objects.create(number=number, site=cast.north, supplier=shelves.supplier, state=state)
    for line in range(1, items + 1):
        OrderLine.objects.create(
            order=order, line=line, item=[shelves.kit, shelves.bearing][line - 1], quantity=2, received=received,
            expected_on=TODAY + due_in * DAY, price=180, currency="EUR",
        )  # fmt: skip
    return order


def usually_late(cast, shelves, days):
    """One order that came so many days after it was expected."""
    order = ordered(cast, shelves, due_in=-days, number=f"O-{uuid.uuid4().hex[:6]}")
    arrived = [Arrived(1, Decimal(2), order.number, datetime.date(2026, 3, 31))]
    receive_order(by=cast.by("stores"), order_id=order.pk, expected_version=1, arrived=arrived)


def chase(stores, order, body, status=200):
    return stores.post(f"orders/{order.pk}/chases", body, seen=f"orders/{order.pk}", status=status)


def late(stores, query=""):
    return stores.get(f"late-orders{query}")["results"]


class TestTheList:
    def test_the_longest_late_comes_first_with_the_day_to_count_on(self, cast, shelves, stores):
        usually_late(cast, shelves, 6)
        ordered(cast, shelves, due_in=-3)
        ordered(cast, shelves, due_in=-40, number="O-2")
        ordered(cast, shelves, due_in=0, number="O-3")
        first, second = late(stores)
        assert (first["order_number"], first["days_late"], first["counted_on"]) == ("O-2", 40, None)
        assert "not counted on any more, since that is more than 30 days" in first["words"]
        assert (second["order_number"], second["days_late"]) == ("O-1", 3)
        assert second["counted_on"] == (TODAY + 6 * DAY).isoformat()

    def test_where_nothing_tells_how_late_it_usually_is_that_is_said(self, cast, shelves, stores):
        ordered(cast, shelves, due_in=-1)
        assert late(stores)[0]["words"] == (
            "2 of K-100 on order O-1 are 1 day late: not counted on, since nothing tells how late harrow usually is."
        )

    def test_what_came_or_was_cancelled_is_not_late(self, cast, shelves, stores):
        ordered(cast, shelves, due_in=-3, received=2)
        ordered(cast, shelves, due_in=-3, number="O-2", state="cancelled")
        assert late(stores) == []

    def test_each_suppliers_own_receipts_tell_however_many_others_came(self, cast, shelves, stores, monkeypatch):
        monkeypatch.setattr("kits.queries.lead_times.LATEST_RECEIPTS", 2)
        usually_late(cast, shelves, 6)
        shelves.supplier = Supplier.objects.create(code="ollvard", name="Ollvard")
        for _ in range(4):
            usually_late(cast, shelves, 2)
        assert usual_lateness(Supplier.objects.values_list("id", flat=True)) == {
            Supplier.objects.get(code="harrow").pk: 6,
            shelves.supplier.pk: 2,
        }

    def test_it_narrows_and_pages_without_losing_a_line(self, cast, shelves, stores):
        for number in range(5):
            ordered(cast, shelves, due_in=-7, number=f"O-{number}")
        ordered(cast, shelves, due_in=-9, number="O-9")
        assert len(late(stores, f"?site={cast.north.pk}&supplier={shelves.supplier.pk}&item={shelves.kit.pk}")) == 6
        assert len(late(stores, f"?due_on__lte={TODAY - 8 * DAY}")) == 1
        assert late(stores, f"?site={cast.south.pk}") == []
        seen, path = [], "late-orders?limit=2"
        while path:
            page = stores.get(path)
            seen += [one["order_number"] for one in page["results"]]
            path = (page["next"] or "").removeprefix("/api/v1/")
        assert seen[0] == "O-9"
        assert sorted(seen) == ["O-0", "O-1", "O-2", "O-3", "O-4", "O-9"]

    def test_it_costs_the_same_however_many_are_late(self, cast, shelves, stores, django_assert_max_num_queries):
        for number in range(12):
            ordered(cast, shelves, due_in=-7, number=f"O-{number}", items=2)
        with django_assert_max_num_queries(6):
            assert len(late(stores)) == 24


class TestChasing:
    def test_the_promised_day_is_kept_and_counted_on(self, cast, shelves, stores):
        order = ordered(cast, shelves, due_in=-10)
        promised = (TODAY + 12 * DAY).isoformat()
        answer = chase(stores, order, {"line": 1, "said": "held up at the foundry", "promised_on": promised})
        assert (answer["lines"][0]["promised_on"], answer["version"]) == (promised, 2)
        (kept,) = stores.get(f"orders/{order.pk}/chases")["results"]
        assert (kept["said"], kept["line"], kept["by_name"]) == ("held up at the foundry", 1, "Stores")
        assert late(stores) == []
        shown = stores.get(f"sites/{cast.north.pk}/items/{shelves.kit.pk}/projection")
        assert [one["counted_on"] for one in shown["receipts"]] == [promised]

    def test_without_a_line_all_that_is_open_is_promised(self, cast, shelves, stores):
        order = ordered(cast, shelves, due_in=-10, items=2)
        promised = (TODAY + 12 * DAY).isoformat()
        answer = chase(stores, order, {"said": "next lorry", "promised_on": promised})
        assert [one["promised_on"] for one in answer["lines"]] == [promised, promised]
        change = Change.objects.get(kind="order.chased")
        assert change.body is not None
        assert (change.body["lines"], change.body["promised_on"]) == ([1, 2], promised)

    def test_who_gets_no_answer_records_that_too(self, cast, shelves, stores):
        order = ordered(cast, shelves, due_in=-10)
        chase(stores, order, {"said": "nobody answers"})
        (row,) = late(stores, "?chased=true")
        assert row["last_chase"]["said"] == "nobody answers"
        assert row["promised_on"] is None
        assert late(stores, "?chased=false") == []

    @pytest.mark.parametrize(
        ("body", "pointer"),
        [
            ({"said": "soon", "line": 7}, "#/line"),
            ({"said": "soon", "promised_on": (TODAY - DAY).isoformat()}, "#/promised_on"),
            ({"said": "soon", "chased_at": (timezone.now() + DAY).isoformat()}, "#/chased_at"),
            ({}, "#/said"),
            ({"said": "soon", "promise": "x"}, "#/promise"),
        ],
    )
    def test_what_cannot_be_is_refused_with_its_place(self, cast, shelves, stores, body, pointer):
        answer = chase(stores, ordered(cast, shelves, due_in=-10), body, status=422)
        assert answer["errors"][0]["pointer"] == pointer
        assert not OrderChase.objects.exists()

    @pytest.mark.parametrize("state", ["approved", "received", "closed-short", "cancelled"])
    def test_only_what_was_sent_and_is_still_to_come_is_chased(self, cast, shelves, stores, state):
        order = ordered(cast, shelves, due_in=-10, state=state)
        answer = chase(stores, order, {"said": "soon"}, status=409)
        assert (answer["code"], answer["state"]) == ("wrong-order-state", state)

    def test_who_saw_an_older_order_is_told(self, cast, shelves, stores):
        order = ordered(cast, shelves, due_in=-10)
        seen = {"HTTP_IF_MATCH": '"7"', "HTTP_IDEMPOTENCY_KEY": "a"}
        path = f"/api/v1/orders/{order.pk}/chases"
        assert stores.client.post(path, {"said": "x"}, format="json", **seen).status_code == 412
        del seen["HTTP_IF_MATCH"]
        assert stores.client.post(path, {"said": "x"}, format="json", **seen).status_code == 428

    def test_a_new_day_from_the_erp_outdates_the_promise(self, cast, shelves):
        order = ordered(cast, shelves, due_in=-10)
        OrderLine.objects.update(promised_on=TODAY + 3 * DAY, told_late=7)
        values = {
            "number": order.number, "site": "north", "supplier": "harrow", "item": "K-100", "revision": "A",
            "quantity": Decimal(2), "received": Decimal(0), "expected_on": TODAY + 20 * DAY, "price": Decimal(180),
            "currency": "EUR", "state": "sent",
        }  # fmt: skip
        (outcome,) = load_orders(by=cast.by("stores"), rows=[LoadRow(2, values)])
        assert outcome.outcome == "changed"
        line = OrderLine.objects.get()
        assert (line.promised_on, line.told_late) == (None, 0)


class TestTelling:
    def tell(self, cast, days=0):
        return tell_late_orders(by=None, site_id=cast.north.pk, today=TODAY + days * DAY)

    def test_others_are_told_once_a_mark(self, cast, shelves):
        ordered(cast, shelves, due_in=0)
        assert self.tell(cast) == {"late": 0, "told": 0}
        told = [self.tell(cast, days)["told"] for days in range(1, 40)]
        assert [day for day, count in enumerate(told, 1) if count] == [1, 7, 14, 31]
        assert self.tell(cast, 39) == {"late": 1, "told": 0}

    def test_the_change_says_what_and_whether_it_is_still_counted_on(self, cast, shelves):
        usually_late(cast, shelves, 4)
        order = ordered(cast, shelves, due_in=-2)
        self.tell(cast)
        change = Change.objects.get(kind="order.late")
        body = change.body
        assert body is not None
        assert (change.noun_id, change.site_id) == (order.pk, cast.north.pk)
        assert (body["line"], body["days_late"], body["counted_on"]) == (1, 2, (TODAY + 4 * DAY).isoformat())

    def test_many_late_lines_are_told_by_as_many_statements_as_one(self, cast, shelves):
        ordered(cast, shelves, due_in=-2)
        with CaptureQueriesContext(connection) as few:
            assert self.tell(cast)["told"] == 1
        for number in range(2, 9):
            ordered(cast, shelves, due_in=-2, number=f"O-{number}", items=2)
        with CaptureQueriesContext(connection) as many:
            assert self.tell(cast) == {"late": 15, "told": 14}
        assert len(many) == len(few)
        assert set(OrderLine.objects.values_list("told_late", flat=True)) == {1}
        assert Change.objects.filter(kind="order.late").count() == 15

    def test_a_broken_promise_is_told_anew(self, cast, shelves, stores):
        order = ordered(cast, shelves, due_in=-20)
        self.tell(cast)
        chase(stores, order, {"said": "soon", "promised_on": (TODAY + 5 * DAY).isoformat()})
        assert self.tell(cast, 5)["told"] == 0
        assert self.tell(cast, 6)["told"] == 1
        assert Change.objects.filter(kind="order.late").count() == 2

    def test_each_site_is_reviewed_once_a_night(self, cast, shelves):
        ordered(cast, shelves, due_in=-2)
        night = datetime.datetime(2027, 3, 1, 3, tzinfo=datetime.UTC)
        asked = ask_nightly_review(now=night)
        assert len(asked) == 2
        assert ask_nightly_review(now=night) == []
        for run in asked:
            run_late_order_review(str(run))
        told = BackgroundRun.objects.order_by("-result__told").values_list("state", "result__told")
        assert list(told) == [("done", 1), ("done", 0)]


def test_a_run_asks_for_all_that_is_on_order_in_two_queries(cast, shelves, django_assert_num_queries):
    usually_late(cast, shelves, 4)
    ordered(cast, shelves, due_in=-31)
    ordered(cast, shelves, due_in=-2, number="O-2", items=2)
    ordered(cast, shelves, due_in=9, number="O-3")
    with django_assert_num_queries(2):
        found = receipts_to_come(cast.north.pk, [shelves.kit.pk, shelves.bearing.pk], as_of=TODAY)
    kit = [(one.line.order, one.counted_on) for one in found[shelves.kit.pk]]
    assert kit == [("O-1", None), ("O-2", TODAY + 4 * DAY), ("O-3", TODAY + 9 * DAY)]
    assert [one.days_late for one in found[shelves.bearing.pk]] == [2]
    assert left_out_words(found[shelves.kit.pk]) == "Not counted on any more: 2 on order O-1 (31 days past due)."


def test_past_the_limit_a_promise_no_longer_counts_on_it(cast, shelves, stores):
    usually_late(cast, shelves, 4)
    ordered(cast, shelves, due_in=-31)
    shown = stores.get(f"sites/{cast.north.pk}/items/{shelves.kit.pk}/projection")
    assert shown["receipts"][0]["counted_on"] is None
    assert "not counted" in shown["words"]


def test_nobody_changes_what_a_supplier_said(cast, shelves, stores):
    chase(stores, ordered(cast, shelves, due_in=-10), {"said": "soon"})
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        OrderChase.objects.update(said="never")
