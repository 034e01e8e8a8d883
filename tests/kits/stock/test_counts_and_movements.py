"""Whatever moves while a shelf is counted, and however late it is recorded, the book ends at what really lies there."""

import datetime
from dataclasses import dataclass
from decimal import Decimal

import pytest
from django.db import transaction
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kits.models import Balance, Count, CountLine, CountSettings
from kits.operations.count_entries import Counted, enter_counted
from kits.operations.count_posting import post_count
from kits.operations.counts import make_count, submit_count
from kits.operations.stock_entries import StockEntry, record_entry
from kits.queries.movements import ledger_differences
from tests.shelves import fill_catalogue, put_on_shelf
from tests.world import gather_cast

pytestmark = pytest.mark.django_db
FIRST = 60


@dataclass(frozen=True)
class Happening:
    """Something that really happens at a minute, and after which step of the count it is recorded: 0 before anything is
    counted, 1 before it is posted, 2 before the second count is posted, 3 at last."""

    minute: int
    quantity: int
    step: int


# The first count is made at minute 100 and the second at 200; nothing is recorded before it happened.
happenings = st.lists(
    st.builds(
        lambda minute, quantity, late: Happening(minute, quantity, min(3, (minute >= 100) + (minute >= 200) + late)),
        st.integers(1, 299),
        st.integers(-4, 4).filter(bool),
        st.integers(0, 3),
    ),
    max_size=8,
)


@pytest.fixture
def store():
    cast, shelves = gather_cast(), fill_catalogue()
    start = timezone.now() - datetime.timedelta(days=1)
    put_on_shelf(cast.by("stores"), cast.north, shelves.bearing, FIRST, lot="B-1", cured=None, occurred_at=start)
    CountSettings.objects.create(site=cast.north, value_limit=10**6, currency="EUR")
    return cast, shelves.bearing, start


@given(happenings, st.integers(-9, 9))
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_book_ends_at_what_lies_there(store, happened, unknown):
    """``unknown`` went astray or turned up before the first count and nobody ever records it."""
    cast, item, start = store
    before = transaction.savepoint()

    def at(minute):
        return start + datetime.timedelta(minutes=minute)

    def lies_there(minute):
        return Decimal(FIRST + unknown + sum(one.quantity for one in happened if one.minute <= minute))

    def record(step):
        for one in happened:
            if one.step == step:
                kind = "receipt" if one.quantity > 0 else "issue"
                entry = StockEntry(
                    kind, cast.north.pk, item.pk, "B-1", Decimal(abs(one.quantity)), at(one.minute), reason="made up"
                )
                record_entry(by=cast.by("stores"), entry=entry)
        assert ledger_differences() == []

    def count(minute, step):
        sheet = make_count(by=cast.by("stores"), site_id=cast.north.pk)
        Count.objects.filter(pk=sheet.pk).update(created_at=at(minute))
        counted = Counted(lies_there(minute), counted_at=at(minute), line=1)
        entered = enter_counted(by=cast.by("fitter"), count_id=sheet.pk, entries=[counted])
        done = submit_count(by=cast.by("fitter"), count_id=sheet.pk, expected_version=entered.version)
        record(step)
        post_count(by=cast.by("stores"), count_id=sheet.pk, expected_version=done.version)
        line = CountLine.objects.get(count=sheet)
        assert (line.book or 0) + (line.difference or 0) == line.quantity

    record(0)
    count(100, 1)
    count(200, 2)
    record(3)
    assert Balance.objects.get(item=item).on_hand == lies_there(300)
    assert ledger_differences() == []
    transaction.savepoint_rollback(before)
