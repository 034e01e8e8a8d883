"""A slow transaction's change is told, however many quick ones pass it."""

import threading

import pytest
from django.db import connection, transaction

from services.changes.models import Change
from services.changes.recording import record_change
from services.feed.reading import Place, changes_after, life_and_end
from tests.feeds import until_told
from tests.world import gather_cast, make_site

pytestmark = pytest.mark.django_db(transaction=True)


def write(code):
    site = make_site(code)
    record_change("site.registered", noun="site", noun_id=site.pk, by=None, site_id=None, body={"code": code})


def slow_and_quick():
    """A transaction begins and writes, a second one writes and commits, then the first commits: what the feed says in
    between and after."""
    begun, go_on = threading.Event(), threading.Event()

    def slow():
        try:
            with transaction.atomic():
                write("slow")
                begun.set()
                go_on.wait(20)
        finally:
            connection.close()

    thread = threading.Thread(target=slow)
    thread.start()
    assert begun.wait(20)
    with transaction.atomic():
        write("quick")
    return thread, go_on


def told(by, place):
    _, end = life_and_end()
    return changes_after(by, place, end=end, kinds=["site.registered"], limit=50)


def codes(found):
    return [one["body"]["code"] for one in found]


def test_the_feed_waits_for_the_slow_one_and_then_tells_both_in_order():
    cast = gather_cast()
    by = cast.by("chief")
    thread, go_on = slow_and_quick()
    found, place, _ = told(by, Place())
    assert codes(found) == []
    go_on.set()
    thread.join()
    until_told()
    found, place, _ = told(by, place)
    assert codes(found) == ["slow", "quick"]
    assert told(by, place)[0] == []


def test_a_cursor_over_numbers_alone_would_miss_it():
    thread, go_on = slow_and_quick()
    seen = [one.pk for one in Change.objects.filter(kind="site.registered").order_by("id")]
    passed = max(seen)
    go_on.set()
    thread.join()
    late = Change.objects.filter(kind="site.registered", pk__gt=passed)
    assert [one.noun for one in late] == []
    assert Change.objects.filter(kind="site.registered").count() == len(seen) + 1
