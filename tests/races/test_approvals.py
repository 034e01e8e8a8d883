"""Several people approve at once, over real connections: once a proposal, and never more than a limit allows."""

import functools
import threading
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from threading import Barrier

import pytest
from django.db import connection, transaction

from kits.models import ApprovalLimit, Order, OrderLine, Proposal
from kits.operations import replenishment
from kits.operations.automatic_approval import approve_within_limits
from kits.operations.proposals import approve_proposal
from kits.refusals import OverApprovalLimit, ProposalDecided
from services.api.refusals import VersionChanged
from tests.kits.stock.test_orders import propose
from tests.races.waiting import side_by_side, until_somebody_waits
from tests.shelves import fill_catalogue, make_part
from tests.world import gather_cast

PEOPLE = 8


def at_once(acts):
    together = Barrier(len(acts), timeout=60)

    def one(act):
        try:
            connection.ensure_connection()
            together.wait()
            with transaction.atomic():
                act()
        except (OverApprovalLimit, ProposalDecided, VersionChanged) as refusal:
            return refusal.code
        else:
            return "done"
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return sorted(pool.map(one, acts))


def approving(cast, proposal):
    return lambda: approve_proposal(by=cast.by("stores"), proposal_id=proposal.pk, expected_version=1)


@pytest.mark.django_db(transaction=True)
def test_a_proposal_approved_by_many_at_once_is_ordered_once():
    cast, shelves = gather_cast(), fill_catalogue()
    proposal = propose(cast, shelves)
    outcomes = at_once([approving(cast, proposal)] * PEOPLE)
    assert outcomes.count("done") == 1
    assert OrderLine.objects.get().quantity == 4


@pytest.mark.django_db(transaction=True)
def test_of_many_approvals_at_once_only_so_many_pass_as_the_limit_allows():
    """Each is worth 738 and the limit is 2300: three of eight, whoever comes first, with no order there before."""
    cast, shelves = gather_cast(), fill_catalogue()
    ApprovalLimit.objects.create(role="stores", currency="EUR", limit=2300)
    proposals = [propose(cast, shelves, item=make_part(f"P-{number}")) for number in range(PEOPLE)]
    outcomes = at_once([approving(cast, one) for one in proposals])
    assert outcomes == ["done"] * 3 + ["over-approval-limit"] * (PEOPLE - 3)
    assert Order.objects.count() == 1
    assert sum(one.quantity * one.price for one in OrderLine.objects.all()) == Decimal(2214)
    assert Proposal.objects.filter(state="approved").count() == 3


@pytest.mark.django_db(transaction=True)
def test_a_run_and_people_that_approve_the_same_at_once_order_it_once():
    cast, shelves = gather_cast(), fill_catalogue()
    ApprovalLimit.objects.create(role="automatic", currency="EUR", limit=10_000)
    proposals = [propose(cast, shelves, item=make_part(f"P-{number}")) for number in range(PEOPLE)]
    runs = [lambda: approve_within_limits(cast.north.pk)] * 2
    at_once([*runs, *(approving(cast, one) for one in proposals)])
    assert Proposal.objects.filter(state="approved").count() == PEOPLE
    assert list(OrderLine.objects.values_list("quantity", flat=True)) == [Decimal(4)] * PEOPLE


@pytest.mark.django_db(transaction=True)
def test_who_decides_on_a_proposal_while_a_run_looks_at_it_waits_for_what_the_run_makes_of_it(monkeypatch):
    """Nothing asks for the item any more, so the run withdraws it: nothing is ordered."""
    cast, shelves = gather_cast(), fill_catalogue()
    proposal = propose(cast, shelves)
    real, seen, passed = replenishment.site_stock, threading.Event(), threading.Event()

    def late(*arguments):
        seen.set()
        until_somebody_waits(passed=passed)
        return real(*arguments)

    def approve():
        assert seen.wait(20)
        try:
            return approving(cast, proposal)()
        finally:
            passed.set()

    monkeypatch.setattr(replenishment, "site_stock", late)
    run = functools.partial(replenishment.replenish_site, by=None, site_id=cast.north.pk)
    told, approved = side_by_side(run, approve, apart=[ProposalDecided, VersionChanged])
    proposal.refresh_from_db()
    assert told["withdrawn"] == 1
    assert approved == "ProposalDecided"
    assert proposal.state == "withdrawn"
    assert not OrderLine.objects.exists()
