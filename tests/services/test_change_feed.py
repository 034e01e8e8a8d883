"""The feed over HTTP: who is told what, where one goes on, and waiting."""

import threading
import time

import pytest
from django.db import connection, transaction

from services.api.identifiers import new_id
from services.changes.models import Change
from services.changes.recording import OutsideTransaction, record_change
from services.feed.reading import Place, changes_after, life_and_end
from tests.feeds import until_told
from tests.world import gather_cast

ADDRESS = "/api/v1/changes"


@pytest.fixture(scope="module")
def cast(clones, django_db_setup, django_db_blocker):
    """The feed tells what is committed, so these tests commit; each reads from where the one before it ended."""
    with django_db_blocker.unblock():
        yield gather_cast()
        clones.renew()


@pytest.fixture
def start(cast):
    """The feed's end when a test begins."""
    return ask(cast.client("reader"), after="now")["next"]


def tell(kind, *, site=None, by=None, **body):
    with transaction.atomic():
        noun = kind.partition(".")[0]
        record_change(kind, noun=noun, noun_id=new_id(), by=by, site_id=site and site.pk, body=body)
    until_told()


def ask(client, status=200, **query):
    answer = client.get(ADDRESS, query)
    assert answer.status_code == status, answer.content
    return answer.json()


def told(answer):
    return [one["body"]["n"] for one in answer["results"]]


def test_changes_come_in_order_and_each_page_goes_on_where_the_last_ended(cast, start):
    for n in range(5):
        tell("pump.changed", site=cast.north, n=n)
    client = cast.client("reader")
    found: list[int] = []
    after = start
    for more in (True, True, False):
        answer = ask(client, limit=2, after=after)
        assert answer["more"] is more
        found += told(answer)
        after = answer["next"]
    assert found == [0, 1, 2, 3, 4]
    assert told(ask(client, after=after)) == []
    tell("pump.changed", site=cast.north, n=5)
    assert told(ask(client, after=after)) == [5]


def test_transactions_are_told_in_their_order_also_where_their_numbers_gain_a_digit(cast):
    with transaction.atomic():
        for n in (9, 10, 11):
            Change.objects.create(
                transaction=n, kind="part.changed", noun="part", noun_id=new_id(), noun_version=1, body={"n": n}
            )
    by, end = cast.by("reader"), life_and_end()[1]
    first, place, more = changes_after(by, Place(8), end=end, kinds=["part.changed"], limit=2)
    assert ([one["body"]["n"] for one in first], place.xid, more) == ([9, 10], 10, True)
    second, _, _ = changes_after(by, place, end=end, kinds=["part.changed"], limit=1)
    assert [one["body"]["n"] for one in second] == [11]


def test_a_change_says_what_it_is_about_and_who_did_it(cast, start):
    tell("pump.changed", site=cast.north, by=cast.by("supervisor"), n=1)
    one = ask(cast.client("reader"), after=start)["results"][0]
    assert (one["kind"], one["type"], one["version"]) == ("pump.changed", "pump", 1)
    assert (one["site"], one["by"]) == (str(cast.north.pk), str(cast.people["supervisor"].pk))


def test_many_changes_of_one_transaction_are_cut_into_pages_without_loss(cast, start):
    with transaction.atomic():
        for n in range(7):
            record_change("part.changed", noun="part", noun_id=new_id(), by=None, body={"n": n})
    until_told()
    client = cast.client("reader")
    first = ask(client, limit=4, after=start)
    second = ask(client, limit=4, after=first["next"])
    assert (told(first), first["more"]) == ([0, 1, 2, 3], True)
    assert (told(second), second["more"]) == ([4, 5, 6], False)


def test_only_ones_own_sites_and_the_catalogue_are_told(cast, start):
    tell("pump.changed", site=cast.north, n="north")
    tell("pump.changed", site=cast.south, n="south")
    tell("part.changed", n="catalogue")
    assert told(ask(cast.client("reader"), after=start)) == ["north", "catalogue"]
    assert told(ask(cast.client("stranger"), after=start)) == ["south", "catalogue"]
    assert told(ask(cast.client("chief"), after=start)) == ["north", "south", "catalogue"]
    assert told(ask(cast.client("nobody"), after=start)) == ["catalogue"]


def test_what_is_about_people_is_told_to_administrators_of_all_only(cast, start):
    tell("grant.given", site=cast.north, n="grant")
    tell("principal.changed", n="principal")
    assert told(ask(cast.client("admin"), after=start)) == []
    assert told(ask(cast.client("chief"), after=start)) == ["grant", "principal"]


def test_kinds_narrow_and_an_unknown_kind_is_refused(cast, start):
    tell("pump.changed", site=cast.north, n="pump")
    tell("part.changed", n="part")
    client = cast.client("reader")
    assert told(ask(client, kinds="part.changed", after=start)) == ["part"]
    refused = ask(client, 400, kinds="part.chnaged")
    assert "Did you mean 'part.changed'?" in refused["detail"]
    assert refused["errors"][0]["pointer"] == "?kinds"


def test_from_now_on_tells_nothing_of_before(cast):
    tell("part.changed", n="before")
    client = cast.client("reader")
    start = ask(client, after="now")
    assert told(start) == []
    tell("part.changed", n="after")
    assert told(ask(client, after=start["next"])) == ["after"]


@pytest.mark.parametrize("query", [{"wait": "26"}, {"wait": "-1"}, {"limit": "0"}, {"after": "x"}, {"sitez": "1"}])
def test_what_cannot_be_read_is_refused_with_its_place(cast, query):
    refused = ask(cast.client("reader"), 400, **query)
    assert refused["errors"][0]["pointer"] == f"?{next(iter(query))}"


def test_who_waits_is_told_as_soon_as_something_happens(cast, start):
    client = cast.client("reader")

    def later():
        try:
            time.sleep(0.3)
            tell("part.changed", n="news")
        finally:
            connection.close()

    writer = threading.Thread(target=later)
    writer.start()
    begun = time.monotonic()
    answer = ask(client, after=start, wait=20)
    writer.join()
    assert told(answer) == ["news"]
    assert time.monotonic() - begun < 10


def test_waiting_ends_with_nothing_and_a_place_to_go_on_from(cast, start):
    client = cast.client("reader")
    answer = ask(client, after=start, wait=1)
    assert (answer["results"], answer["more"]) == ([], False)
    tell("part.changed", n="late")
    assert told(ask(client, after=answer["next"])) == ["late"]


def test_no_connection_is_held_while_waiting(cast, monkeypatch):
    held, sleep = [], time.sleep

    def watched(seconds):
        held.append(connection.connection)
        sleep(seconds)

    monkeypatch.setattr(time, "sleep", watched)
    ask(cast.client("reader"), after="now", wait=1)
    assert held
    assert set(held) == {None}


def test_more_than_may_wait_are_asked_to_come_back(cast, settings):
    settings.FEED_WAITERS = 0
    client = cast.client("reader")
    answer = client.get(ADDRESS, {"after": "now", "wait": 5})
    assert (answer.status_code, answer.json()["code"], answer.headers["Retry-After"]) == (503, "busy", "5")
    assert ask(client, after="now")["results"] == []


def test_a_page_costs_the_same_however_much_it_tells(cast, start, django_assert_num_queries):
    client = cast.client("reader")
    for count in (1, 20):
        for n in range(count):
            tell("pump.changed", site=cast.north, n=n)
        ask(client, after=start)
        with django_assert_num_queries(4):
            assert ask(client, after=start)["results"]


def test_after_a_restore_a_cursor_of_before_says_start_again(cast):
    client = cast.client("reader")
    cursor = ask(client)["next"]
    with connection.cursor() as other_life:
        other_life.execute("UPDATE changes_epoch SET epoch = gen_random_uuid()")
    refused = ask(client, 410, after=cursor)
    assert refused["code"] == "feed-restarted"
    assert "after=now" in refused["remedy"]


def test_a_database_restored_from_a_dump_is_another_life_though_its_epoch_came_along(cast):
    """A dump brings the epoch back with the rows; that the table was made anew is what it cannot bring."""
    client = cast.client("reader")
    cursor = ask(client)["next"]
    with connection.cursor() as restore:
        restore.execute("ALTER TABLE changes_change RENAME TO changes_before")
        restore.execute("CREATE TABLE changes_change (LIKE changes_before INCLUDING ALL)")
        restore.execute("INSERT INTO changes_change SELECT * FROM changes_before")
    try:
        assert ask(client, 410, after=cursor)["code"] == "feed-restarted"
    finally:
        with connection.cursor() as restore:
            restore.execute("DROP TABLE changes_change")
            restore.execute("ALTER TABLE changes_before RENAME TO changes_change")


def test_a_change_is_recorded_only_with_what_it_tells_and_never_altered(cast):
    with pytest.raises(OutsideTransaction):
        record_change("part.changed", noun="part", noun_id=new_id(), by=None)
    with pytest.raises(KeyError), transaction.atomic():
        record_change("part.mislaid", noun="part", noun_id=new_id(), by=None)
    tell("part.changed", n=1)
    with pytest.raises(Exception, match="append-only"):
        Change.objects.all().delete()
