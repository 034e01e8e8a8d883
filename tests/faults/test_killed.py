"""Whatever is killed in the middle of long work: afterwards it has happened once, the ledger holds, the run is done.

Work is stopped where all of it is written and nothing committed; then a worker, the broker or PostgreSQL is killed.
"""

import pytest

from services.work.models import BackgroundRun
from tests.faults.servers import held_back, until
from tests.faults.stores_at_night import (
    ask_for_a_long_receipt,
    ask_for_replenishment,
    is_done,
    proposed_once,
    received_once,
    site_short_of_something,
    some_keeper,
)

pytestmark = [pytest.mark.processes, pytest.mark.timeout(300)]


@pytest.fixture(params=["nightly replenishment", "ten thousand receipts"])
def work(request):
    """The run, and what looks whether it had its effect exactly once."""
    by = some_keeper()
    if request.param == "nightly replenishment":
        site = site_short_of_something(by)
        return ask_for_replenishment(by, site), lambda: proposed_once(site)
    run, site, part = ask_for_a_long_receipt(by)
    return run, lambda: received_once(site, part)


def attempts(run):
    return BackgroundRun.objects.get(pk=run).attempts


def who_has_it(servers, run):
    """The worker that took the run up."""
    lines = ((name, line) for name in servers.workers for line in servers.said(name).splitlines())
    return next(name for name, line in lines if "is taken up" in line and str(run) in line)


def test_a_worker_is_killed_and_the_other_one_does_its_work(servers, work):
    run, happened_once = work
    with held_back(servers) as until_it_stands:
        until_it_stands()
        servers.kill_worker(who_has_it(servers, run))
    until(lambda: is_done(run), "the other worker has done it", meanwhile=servers.sweep)
    assert attempts(run) == 2
    assert happened_once()


def test_the_broker_is_killed_and_the_work_is_done_all_the_same(servers, work):
    """Who is at it goes on; what comes again once the broker is back finds it done."""
    run, happened_once = work
    with held_back(servers) as until_it_stands:
        until_it_stands()
        servers.kill_broker()
    until(lambda: is_done(run), "the worker has done it without a broker")
    assert happened_once()
    servers.valkey.start()
    by = some_keeper()
    site = site_short_of_something(by)
    later = ask_for_replenishment(by, site)
    until(lambda: is_done(later), "workers take kicks again", meanwhile=servers.sweep)
    assert proposed_once(site)
    assert happened_once()
    assert attempts(run) == 1


def test_postgresql_is_killed_and_nothing_is_lost_or_doubled(servers, work):
    run, happened_once = work
    with held_back(servers) as until_it_stands:
        until_it_stands()
        servers.kill_postgres()
    servers.start_postgres_again()
    until(lambda: is_done(run), "it is done on the server that came back", meanwhile=servers.sweep)
    assert attempts(run) == 2
    assert happened_once()
