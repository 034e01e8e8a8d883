"""Sixty-four connections receive, issue, reserve, release and send the same items and different ones, all at once."""

import itertools
import random
import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from django.db.models import F, Q, Sum

from kits.models import Balance, Movement, ServiceTarget, Transfer, TransitTime
from kits.queries.movements import ledger_differences
from kits.queries.transfers import transfer_differences
from kits.refusals import InsufficientStock
from tests.kits.stock.always import every_change_was_told
from tests.overhauls import Hand
from tests.races.test_order_of_locks import claim
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast

HANDS, TURNS, HOT = 64, 2, 40
# What a request may be answered with when others were quicker; never a fault of the service.
QUICKER = {409, 412, 503}


class Store:
    """What sixty-four hands reach for: one hot lot, a second item, and transfers of both."""

    def __init__(self):
        self.cast, self.shelves = gather_cast(), fill_catalogue()
        ServiceTarget.objects.all().delete()
        by = self.cast.by("chief")
        for item, lot, cured in ((self.shelves.bearing, "B-1", None), (self.shelves.bearing, "B-2", None)):
            put_on_shelf(by, self.cast.north, item, HOT, lot=lot, cured=cured)
        put_on_shelf(by, self.cast.north, self.shelves.o_ring, HOT, lot="O-1")
        TransitTime.objects.create(from_site=self.cast.north, to_site=self.cast.south, days=2, cost=40, currency="EUR")
        self.answers: Counter[int] = Counter()
        self.counting = threading.Lock()
        self.numbers = itertools.count()

    def ask(self, hand, path, body, seen=""):
        headers = {"Idempotency-Key": f"key-{next(self.numbers)}"}
        if seen:
            headers["If-Match"] = hand.client.get(f"/api/v1/{seen}").headers["ETag"]
        answer = hand.client.post(f"/api/v1/{path}", body, format="json", headers=headers)
        with self.counting:
            self.answers[answer.status_code] += 1
        return answer.json() if answer.status_code < 300 else None

    def move(self, hand, kind, item, lot, **more):
        what = {"site": str(self.cast.north.pk), "item": str(item.pk), "lot": lot, "quantity": "1", "kind": kind}
        return self.ask(hand, "stock-movements", what | {"reason": "a race"} | more)

    def send(self, hand, item):
        made = self.ask(
            hand, "transfers",
            {
                "from_site": str(self.cast.north.pk), "to_site": str(self.cast.south.pk),
                "lines": [{"item": str(item.pk), "quantity": "1"}], "override_reason": "a race",
            },
        )  # fmt: skip
        if made and self.ask(hand, f"transfers/{made['id']}/send", {}, seen=f"transfers/{made['id']}"):
            self.ask(hand, f"transfers/{made['id']}/receive", {}, seen=f"transfers/{made['id']}")

    def turn(self, hand, luck):
        bearing, o_ring = self.shelves.bearing, self.shelves.o_ring
        item, lot = luck.choice([(bearing, "B-1"), (bearing, "B-2"), (o_ring, "O-1")])
        doing = luck.randrange(6)
        if doing == 0:
            self.move(hand, "receipt", item, lot)
        elif doing == 1:
            self.move(hand, "issue", item, lot)
        elif doing == 2:
            self.move(hand, "scrap", item, lot)
        elif doing == 3:
            self.move(hand, "condition-change", item, lot, condition="quarantined")
        elif doing == 4:
            self.send(hand, item)
        else:
            self.reserve(item)

    def reserve(self, item):
        try:
            claim(self.cast, item, hard=True)
        except InsufficientStock:
            self.answers[409] += 1


@pytest.mark.django_db(transaction=True)
def test_nothing_is_oversold_lost_or_doubled_and_no_request_fails():
    store = Store()
    hands = [Hand(store.cast.client("chief")) for _ in range(HANDS)]
    together = threading.Barrier(HANDS, timeout=60)

    def work(number):
        luck = random.Random(number)
        try:
            connection.ensure_connection()
            together.wait()
            for _ in range(TURNS):
                store.turn(hands[number], luck)
        finally:
            connection.close()

    with ThreadPoolExecutor(HANDS) as pool:
        list(pool.map(work, range(HANDS)))
    assert set(store.answers) <= {200, 201} | QUICKER
    assert store.answers[503] == 0
    assert store.answers[201] > HANDS
    assert not Balance.objects.filter(Q(on_hand__lt=0) | Q(reserved__lt=0) | Q(reserved__gt=F("on_hand"))).exists()
    assert ledger_differences() + transfer_differences() == []
    every_change_was_told()
    came = Movement.objects.filter(kind="receipt").aggregate(total=Sum("quantity"))["total"]
    went = -Movement.objects.filter(kind__in=["issue", "scrap"]).aggregate(total=Sum("quantity"))["total"]
    under_way = Transfer.objects.filter(state="sent").count()
    assert sum(Balance.objects.values_list("on_hand", flat=True)) == came - went - under_way
