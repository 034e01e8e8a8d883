"""The nightly work of many sites over two workers: each site once, both at it, and who dies is stood in for."""

import datetime

import pytest
from django.utils import timezone

from jobs.operations import overhaul_forecasts
from kits.operations import replenishment
from services.work.models import BackgroundRun
from tests.faults.servers import held_back, until
from tests.faults.stores_at_night import proposed_once, site_short_of_something, some_keeper

pytestmark = [pytest.mark.processes, pytest.mark.timeout(300)]
SITES = 6


@pytest.fixture
def night():
    """Sites that are short of something, and the runs that the clock asked for."""
    by = some_keeper()
    sites = [site_short_of_something(by) for _ in range(SITES)]
    noon = timezone.now().replace(hour=12) + datetime.timedelta(days=BackgroundRun.objects.count())
    asked = [*overhaul_forecasts.ask_nightly(now=noon), *replenishment.ask_nightly(now=noon)]
    runs = BackgroundRun.objects.filter(pk__in=asked, site_id__in=[one.pk for one in sites])
    runs.update(due_at=timezone.now() - datetime.timedelta(minutes=1))
    return sites, sorted(map(str, runs.values_list("pk", flat=True)))


def all_done(runs):
    return set(BackgroundRun.objects.filter(pk__in=runs).values_list("state", flat=True)) == {"done"}


def ended_by(servers, name, runs):
    """Which of the runs a worker brought to their end."""
    lines = [line for line in servers.said(name).splitlines() if "recorded work ended" in line]
    return sorted(run for run in runs if any(run in line for line in lines))


def test_each_site_is_done_once_and_both_workers_did_some(servers, night):
    sites, runs = night
    assert len(runs) == 2 * SITES
    with held_back(servers, 2) as until_both_stand:
        until_both_stand()
    until(lambda: all_done(runs), "every site is done", meanwhile=servers.sweep)
    shares = [ended_by(servers, name, runs) for name in ("first", "second")]
    assert all(shares)
    assert sorted(shares[0] + shares[1]) == runs
    assert set(BackgroundRun.objects.filter(pk__in=runs).values_list("attempts", flat=True)) == {1}
    assert all(proposed_once(one) for one in sites)


def test_the_share_of_a_killed_worker_is_taken_by_the_other(servers, night):
    sites, runs = night
    with held_back(servers, 2) as until_both_stand:
        until_both_stand()
        servers.kill_worker("first")
    until(lambda: all_done(runs), "the other has done all", meanwhile=servers.sweep)
    assert sorted(ended_by(servers, "first", runs) + ended_by(servers, "second", runs)) == runs
    taken_over = BackgroundRun.objects.get(pk__in=runs, attempts__gt=1)
    assert str(taken_over.pk) in ended_by(servers, "second", runs)
    assert all(proposed_once(one) for one in sites)
